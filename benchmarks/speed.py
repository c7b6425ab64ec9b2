"""How fast is it where it is felt? Everything as a ratio to something run beside it.

    python -m benchmarks.speed [fold] [replay] [resume] [text] [spread] [diagnosis]
                               [scenarios] [start] [--svg FILE]

CPU time of this process or of its children, never the clock: other work on the machine changes a
ratio little. What is compared is run by turns, and the smallest of ROUNDS is taken. The stream is
mixed: a level whose noise is known lies for 20 s, is carried for 3 s, and so on, 10 samples a second.
"""

import argparse
import math
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial, reduce
from operator import xor
from pathlib import Path
from typing import Any

from benchmarks.levels import noise
from daemon.core.engine import Engine
from daemon.demo.fast import fast
from daemon.measure.moved.diagnose import diagnose
from daemon.measure.moved.model import Change
from daemon.session.begin import begin
from daemon.session.chunks import Packet, unpack
from daemon.session.headers import make_header
from daemon.session.jobs import load_job
from daemon.session.recording import read
from daemon.session.replay import replay
from daemon.session.store import Store
from daemon.session.text import lines
from shared.events import REFERENCE
from shared.inputs import NS, Bytes, Input
from shared.job import Header, Thresholds
from shared.profile import Noise

ROUNDS = 3
HZ = 10
LIES_S, CARRIED_S = 20.0, 3.0
SAMPLES = 1500
HOURS = (1, 8)
"""Of the sessions whose memory is compared."""
SCENARIOS = ("default", "knock-after-torque", "watch-blade", "radio-level")
JOB = """stillblade_job = 1
name = "speed"
propeller = { blades = 3, rotation = "clockwise", layout = "tractor", station = "75 %" }
target = { angle_deg = 18.0, tolerance_deg = 0.3, spread_deg = 0.3 }
"""
LEVEL = """[[level]]
name = "NAME"
profile = "KIND"
port = "/dev/null"
"""


@dataclass(frozen=True, slots=True)
class Figure:
    """One ratio, and what it is to stay under; inf: only to be known."""

    what: str
    against: str
    ratio: float
    wanted: float


def cpu(work: Callable[[], object]) -> float:
    """Return the CPU seconds a call takes in this process."""
    before = time.process_time()
    work()
    return time.process_time() - before


def ratio(work: Callable[[], object], beside: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return how many times the CPU time of the one the other takes, by turns, each at its best."""
    pairs = [(cpu(work), cpu(beside)) for _ in range(rounds)]
    return min(one for one, _ in pairs) / min(other for _, other in pairs)


# --- streams ------------------------------------------------------------------------------


def angles(count: int, seed: int = 1) -> Iterator[float]:
    """Yield what a level shows that lies, is carried, and lies again."""
    still = noise(random.Random(seed), 0.02, 0.1)
    for i in range(count):
        at = (i / HZ) % (LIES_S + CARRIED_S)
        swing = 0.0 if at < LIES_S else 40.0 * math.sin(3.0 * (at - LIES_S))
        yield 18.0 + swing + next(still)


def xdr(angle: float) -> bytes:
    """Return an NMEA 0183 sentence with one angle."""
    body = f"IIXDR,A,{angle:.2f},D,TILT"
    return f"${body}*{reduce(xor, body.encode()):02X}\r\n".encode()


def notifications(count: int) -> list[bytes]:
    """Return notifications: counter and angle in hundredths."""
    return [
        (i & 0xFFFF).to_bytes(2, "little") + round(angle * 100).to_bytes(2, "little", signed=True)
        for i, angle in enumerate(angles(count))
    ]


def job_text(levels: int = 1, kind: str = "nmea-xdr", more: str = "") -> str:
    """Return a job file with so many levels of a kind."""
    made = [LEVEL.replace("NAME", f"l{i}").replace("KIND", kind) + more for i in range(levels)]
    return JOB + "".join(made)


def header_of(folder: Path, **how: Any) -> Header:
    """Return the header of a session of such a job."""
    path = folder / "speed.toml"
    path.write_text(job_text(**how), "utf-8")
    header = make_header(load_job(path), folder)
    known = Noise(sd_deg=0.02, lag1=0.1, n=600)
    profiles = {
        name: profile.model_copy(update={"noise": known})
        for name, profile in header.profiles.items()
    }
    return header.model_copy(update={"profiles": profiles})


def inputs_of(data: Sequence[bytes], levels: int = 1) -> list[Input]:
    """Return the chunks of so many levels, by turns."""
    step = NS // HZ // levels
    return [
        Bytes(f"l{level}", 0, chunk, (i * levels + level) * step + 1)
        for i, chunk in enumerate(data)
        for level in range(levels)
    ]


def folded(header: Header, inputs: Sequence[Input]) -> Engine:
    """Feed a fresh engine."""
    engine = Engine(header)
    for item in inputs:
        engine.feed(item)
    return engine


def bare_xdr(data: Sequence[bytes]) -> float:
    """Check, parse and average sentences, and nothing else."""
    total, count = 0.0, 0
    for sentence in data:
        body, _, check = sentence[1:].strip().partition(b"*")
        if reduce(xor, body) == int(check, 16):
            total, count = total + float(body.split(b",")[2]), count + 1
    return total / count


def bare_notifications(data: Sequence[bytes]) -> float:
    """Parse and average notifications, and nothing else."""
    total = 0.0
    for one in data:
        total += int.from_bytes(one[2:4], "little", signed=True) * 0.01
    return total / len(data)


# --- what is measured ---------------------------------------------------------------------


def fold(folder: Path) -> Iterator[Figure]:
    """The engine, per sample, of three kinds of level."""
    sentences, notified = [xdr(angle) for angle in angles(SAMPLES)], notifications(SAMPLES)
    bare = "a bare loop that parses and averages the same bytes"
    plain, air = header_of(folder), header_of(folder, kind="ble-notify")
    watching = header_of(folder, more='role = "watch"\nwatches = 1\n')
    watching = watching.model_copy(update={"procedure": "watch"})
    for what, header, data, loop, wanted in (
        ("fold, NMEA 0183 XDR", plain, sentences, bare_xdr, 20.0),
        ("fold, Bluetooth notifications", air, notified, bare_notifications, 80.0),
        ("fold, level left on a blade", watching, sentences, bare_xdr, 45.0),
    ):
        inputs = inputs_of(data)
        many = ratio(partial(folded, header, inputs), partial(loop, data))
        yield Figure(what, bare, many, wanted)


def recorded(path: Path, header: Header, seconds: int) -> Path:
    """Write a session of so many seconds, a commit a minute."""
    store = Store.create(path, header)
    count, minute = seconds * HZ, 60 * HZ
    waiting: list[Input] = []
    for i, angle in enumerate(angles(count), 1):
        waiting.append(Bytes("l0", 0, xdr(angle), (i - 1) * NS // HZ + 1))
        if i % minute == 0 or i == count:
            store.commit(waiting, [], waiting[-1].t_ns)
            waiting = []
    store.close()
    return path


def cut(path: Path) -> int:
    """Fetch, inflate and cut the chunks of a session."""
    import sqlite3  # noqa: PLC0415 - here alone

    database = sqlite3.connect(path)
    rows = database.execute("SELECT level, first_ns, count, crc, data FROM chunks ORDER BY id")
    count = sum(len(unpack(Packet(*row))) for row in rows)
    database.close()
    return count


def replays(folder: Path) -> Iterator[Figure]:
    """Replay of a file, its text form, and the memory of long ones."""
    header = header_of(folder)
    short = recorded(folder / "short.session", header, 300)
    many = ratio(lambda: replay(read(short)), lambda: cut(short))
    yield Figure("replay", "fetching, inflating and cutting its chunks", many, 30.0)
    yield from memory(folder, header)


def texts(folder: Path) -> Iterator[Figure]:
    """The text form beside the file."""
    file = recorded(folder / "t.session", header_of(folder), 300)
    text = folder / "t.jsonl"
    text.write_text("\n".join(lines(read(file))) + "\n", "utf-8")
    many = ratio(lambda: replay(read(text)), lambda: replay(read(file)), 3)
    yield Figure("replay of the text form", "replay of the file", many, 1.5)


REPLAYED = """
import resource, sys
from pathlib import Path
from daemon.session.recording import read
from daemon.session.replay import replay
replay(read(Path(sys.argv[1])))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def memory(folder: Path, header: Header) -> Iterator[Figure]:
    """The most memory that replays of an hour and of eight take, each in a process of its own."""
    peaks = []
    for hours in HOURS:
        path = recorded(folder / f"{hours}h.session", header, 3600 * hours)
        done = subprocess.run(  # noqa: S603 - this Python
            [sys.executable, "-c", REPLAYED, str(path)], capture_output=True, text=True, check=True
        )
        peaks.append(int(done.stdout) / 1024)
    yield Figure(
        "memory of replaying 8 h", f"of 1 h ({peaks[0]:.0f} MiB)", peaks[1] / peaks[0], 1.1
    )


def resume(folder: Path) -> Iterator[Figure]:
    """Taking up a session that was cut off, beside one replay of it."""
    header = header_of(folder)
    job = folder / "speed.toml"
    session = folder / "speed-20310504-090000-1.session"
    recorded(session, header, 900)
    whole = read(session)
    store = Store.append(session)
    store.commit([], replay(whole), whole.reach_ns)
    store.close()

    def taken_up() -> None:
        begin(job, load_job(job), "2031-05-04T10:00:00+00:00").store.close()

    many = ratio(taken_up, lambda: replay(read(session)), 3)
    yield Figure("taking up a session", "one replay of it (two before)", many, 1.2)


def spread(folder: Path) -> Iterator[Figure]:
    """Cost a sample with more levels, and in a longer session."""
    data = [xdr(angle) for angle in angles(600)]
    one, eight = header_of(folder), header_of(folder, levels=8)
    inputs, more = inputs_of(data), inputs_of(data, 8)
    many = ratio(lambda: folded(eight, more), lambda: folded(one, inputs), 3) / 8
    yield Figure("a sample, 8 levels", "of 1 level", many, 1.2)
    long = inputs_of([xdr(angle) for angle in angles(24_000)])
    many = ratio(lambda: folded(one, long), lambda: folded(one, inputs), 2) * 600 / 24_000
    yield Figure("a sample, over 40 min", "over 1 min", many, 1.2)


def diagnosis(folder: Path) -> Iterator[Figure]:
    """Six blades and the reference, labels that may be exchanged, baselines of different age."""
    changes = [
        Change(blade, 0.1 * (blade % 3), 0.04, 0.05, 1, 0.0, 18.0 + 0.2 * blade, blade)
        for blade in range(1, 7)
    ]
    changes.append(Change(REFERENCE, 0.02, 0.04, 0.05, 1))

    def diagnosed() -> None:
        for _ in range(10):
            diagnose(changes, thresholds=Thresholds(), tolerance_deg=1.0, stage="snug")

    header, inputs = header_of(folder), inputs_of([xdr(angle) for angle in angles(100)])
    many = ratio(diagnosed, lambda: folded(header, inputs), ROUNDS)
    seconds = min(cpu(diagnosed) for _ in range(ROUNDS)) / 10
    beside = "folding one second of a level at 10 Hz"
    yield Figure(f"diagnosis of six blades ({seconds * 1e3:.1f} ms)", beside, many, math.inf)


def scenarios(_: Path) -> Iterator[Figure]:
    """Whole jobs of the suite, hangar and all, beside a loop that stays the same."""
    for name in SCENARIOS:
        many = ratio(partial(fast, name, 1), lambda: sum(range(1_000_000)), 2)
        yield Figure(f"scenario {name}", "adding up a million numbers", many, math.inf)


def as_installed() -> dict[str, str]:
    """Return this environment for a program that starts as an installed one does, from bytecode.

    The first start writes it; where that is forbidden every start would compile the program anew.
    """
    return {key: kept for key, kept in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}


def children(*words: str) -> float:
    """Return the CPU seconds of a Python of its own."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(  # noqa: S603
        [sys.executable, *words], capture_output=True, check=True, env=as_installed()
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def start(_: Path) -> Iterator[Figure]:
    """Commands that do nothing, beside a Python that does nothing."""
    empty = min(children("-c", "pass") for _ in range(2 * ROUNDS))
    for words, wanted in ((("--help",), 15.0), (("levels", "list"), math.inf)):
        took = min(children("-m", "daemon", *words) for _ in range(ROUNDS))
        yield Figure(f"start of {' '.join(words)}", "an empty Python", took / empty, wanted)


PARTS: dict[str, Callable[[Path], Iterator[Figure]]] = {
    "fold": fold,
    "replay": replays,
    "text": texts,
    "resume": resume,
    "spread": spread,
    "diagnosis": diagnosis,
    "scenarios": scenarios,
    "start": start,
}


# --- what is shown ------------------------------------------------------------------------


def row(figure: Figure) -> str:
    """Return one line of the table."""
    wanted = "" if math.isinf(figure.wanted) else f"{figure.wanted:g}"
    kept = "" if not wanted else "yes" if figure.ratio <= figure.wanted else "no"
    return f"| {figure.what} | {figure.against} | {figure.ratio:.3g} | {wanted} | {kept} |"


def svg(figures: Sequence[Figure]) -> str:
    """Return a drawing: a bar a figure, as a part of what it is to stay under (the line)."""
    shown = [one for one in figures if not math.isinf(one.wanted)]
    height, full = 26 * len(shown) + 30, 260.0
    bars = []
    for place, one in enumerate(shown):
        part, y = one.ratio / one.wanted, 10 + 26 * place
        colour = "#4a7c59" if part <= 1.0 else "#b5533c"
        bars.append(
            f'<text x="230" y="{y + 14}" text-anchor="end">{one.what}</text>'
            f'<rect x="240" y="{y}" width="{min(part, 2.0) * full:.0f}" height="18" fill="{colour}"/>'
            f'<text x="{246 + min(part, 2.0) * full:.0f}" y="{y + 14}">{one.ratio:.3g}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 830 {height}" '
        f'font-family="sans-serif" font-size="13">\n<title>Ratios, and what they are to stay under'
        f'</title>\n<rect width="830" height="{height}" fill="white"/>\n'
        + "\n".join(bars)
        + f'\n<line x1="{240 + full}" y1="0" x2="{240 + full}" y2="{height - 20}" stroke="black"/>'
        f'<text x="{240 + full}" y="{height - 6}" text-anchor="middle">to stay under</text>\n</svg>\n'
    )


def main() -> int:
    """Print the table; draw it where asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.speed")
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []])
    parser.add_argument("--svg", type=Path)
    asked = parser.parse_args()
    figures = []
    print("| what | beside | ratio | to stay under | does |\n| --- | --- | --- | --- | --- |")
    for name in asked.parts or PARTS:
        with tempfile.TemporaryDirectory() as folder:
            for figure in PARTS[name](Path(folder)):
                figures.append(figure)
                print(row(figure), flush=True)
    if asked.svg is not None:
        asked.svg.write_text(svg(figures), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
