"""Mutants of session files and of command lines: a sentence each, in bounded time and memory.

    python -m benchmarks.strangers sessions [COUNT] [SEED]
    python -m benchmarks.strangers lines [COUNT] [SEED]

A session file is mutated in three ways: its bytes; its rows, with their checksums made right
again, as an attacker would; and its text form. It is then read, replayed, verified, written as
text and carried over. A line of standard input is mutated and, where it is a command, executed.
"""

import json
import resource
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random
from typing import Any

from daemon.core.engine import Engine
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from daemon.session.store import Store
from daemon.session.tables import crc_of
from daemon.session.text import lines
from daemon.workflow.carry import carried
from shared.errors import BadInputError, OutsideError
from shared.messages import command_from_line, event_line
from shared.plain import plain
from shared.sentences import sentence
from tests.daemon.bench import Person, header

SLOWEST_S = 2.0
ODD: list[Any] = [
    None, True, -1, 0, 7, 2**63, -(2**70), 10**400, 1e308, float("inf"), -0.0, "", "x" * 5000,
    "\x1b[2J", "\ud800", [], {}, [[]], {"a": {"b": []}}, "reference", "1", [1, 2], "2031-05-04",
]  # fmt: skip
COMMANDS: list[dict[str, Any]] = [
    {"kind": "take"},
    {"kind": "done"},
    {"kind": "name", "args": {"blade": 2}},
    {"kind": "again", "args": {"blade": 1, "set": 1}},
    {"kind": "back"},
    {"kind": "withdraw", "args": {"id": 3, "reason": "knocked"}},
    {"kind": "assign", "args": {"id": 3, "blade": 2}},
    {"kind": "acknowledge", "args": {"id": 9, "then": "accept", "by": "A", "reason": "seen"}},
    {"kind": "confirm", "args": {"id": 4, "sense": "reversed"}},
    {"kind": "note", "args": {"text": "words"}, "id": "a", "client": "b", "seen": 3, "until": 9},
]
"""No "abandon": it ends the job, and nothing is executed after."""


@dataclass(slots=True)
class Came:
    """What came of the mutants."""

    count: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    escaped: list[str] = field(default_factory=list)
    slowest_s: float = 0.0

    def took(self, began: float, what: str) -> None:
        """Count one mutant."""
        self.count += 1
        self.outcomes[what] += 1
        self.slowest_s = max(self.slowest_s, time.perf_counter() - began)

    @property
    def good(self) -> bool:
        """Nothing escaped and nothing hung."""
        return not self.escaped and self.slowest_s < SLOWEST_S


def sessions(count: int, seed: int) -> Came:
    """Mutate a session file `count` times."""
    draw, came = Random(seed), Came()
    with tempfile.TemporaryDirectory() as folder:
        sound = _sound(Path(folder) / "sound.session")
        text = "\n".join(lines(read(sound))).encode() + b"\n"
        data = sound.read_bytes()
        for number in range(count):
            path = Path(folder) / f"mutant-{number % 2}.session"
            path.unlink(missing_ok=True)
            ways = (_bytes, _rows, _text)
            ways[number % 3](path, data, text, draw)
            began = time.perf_counter()
            try:
                came.took(began, _use(path))
            except Exception as error:  # noqa: BLE001 - whatever escapes is what is counted
                came.took(began, "escaped")
                came.escaped.append(f"mutant {number}: {type(error).__name__}: {error}")
                path.rename(Path(tempfile.gettempdir()) / f"stillblade-escaped-{number}")
    return came


def _sound(path: Path) -> Path:
    person = Person(header())
    person.press("done")
    for angle_deg in (-3.0, -3.0, 17.0):
        person.carry(4)
        person.lay(angle_deg, 8)
        person.press()
        person.lay(angle_deg, 8)
    person.press("note", text="words")
    person.press("withdraw", id=1, reason="knocked")
    person.end()
    store = Store.create(path, person.header)
    store.commit(person.inputs, person.events, person.t_ns)
    store.close()
    return path


def _use(path: Path) -> str:
    """Do with it all that the program does with a session."""
    try:
        recording = read(path, salvage=True)
    except (BadInputError, OutsideError):
        return "refused"
    for line in lines(recording):
        line.encode()
    for event in recording.events:
        event_line(event).encode()
        plain(sentence(event.body) or "").encode()
    carried(recording.events, recording.header.job.setup.reference)
    try:
        replayed = replay(recording)
    except BadInputError:
        return "read, not to be replayed"
    agrees = verify(recording, replayed).agrees
    return "damaged" if recording.damage else f"read, {'agrees' if agrees else 'differs'}"


def _bytes(path: Path, data: bytes, text: bytes, draw: Random) -> None:
    del text
    path.write_bytes(_spoiled(data, draw))


def _text(path: Path, data: bytes, text: bytes, draw: Random) -> None:
    del data
    rows = text.splitlines()
    if draw.random() < 0.5:
        at = draw.choice([0, draw.randrange(len(rows))])
        rows[at] = json.dumps(_changed(json.loads(rows[at]), draw)).encode()
        path.write_bytes(b"\n".join(rows))
    else:
        path.write_bytes(_spoiled(text, draw))


def _rows(path: Path, data: bytes, text: bytes, draw: Random) -> None:
    """Change a row and make its checksum right again."""
    del text
    path.write_bytes(data)
    database = sqlite3.connect(path, isolation_level=None)
    database.execute("PRAGMA synchronous = OFF")
    database.execute("PRAGMA journal_mode = OFF")
    table = draw.choice(["header", "inputs", "events", "events", "reach", "seal"])
    if table in {"reach", "seal"}:
        column = draw.choice(
            ["t_ns"] if table == "reach" else ["chunks", "events", "crc", "commits"]
        )
        value = draw.choice([0, -1, 2**62, "x", 1.5, b"\0"])
        database.execute(f"UPDATE {table} SET {column} = ?", (value,))
    else:
        found = database.execute(f"SELECT rowid, json FROM {table}").fetchall()
        key, row = draw.choice(found)
        changed = json.dumps(_changed(json.loads(row), draw))
        database.execute(
            f"UPDATE {table} SET json = ?, crc = ? WHERE rowid = ?", (changed, crc_of(changed), key)
        )
    database.close()


def _spoiled(data: bytes, draw: Random) -> bytes:
    changed = bytearray(data)
    for _ in range(draw.randint(1, 8)):
        if not changed:
            break
        near = draw.random() < 0.3
        at = draw.randrange(min(200, len(changed)) if near else len(changed))
        kind = draw.randrange(4)
        if kind == 0:
            changed[at] = draw.randrange(256)
        elif kind == 1:
            changed[at] ^= 1 << draw.randrange(8)
        elif kind == 2:
            changed[at : at + draw.randrange(64)] = bytes(draw.randrange(64))
        else:
            changed[at:at] = changed[at : at + draw.randrange(64)]
    keep = len(changed) if draw.random() < 0.8 else draw.randrange(len(changed) + 1)
    return bytes(changed[:keep])


def _changed(data: Any, draw: Random) -> Any:
    """Return JSON with one thing somewhere inside it changed, lost, doubled or odd."""
    if isinstance(data, dict) and data and draw.random() < 0.85:
        key = draw.choice(sorted(data))
        data = dict(data)
        kind = draw.randrange(6)
        if kind == 0:
            del data[key]
        elif kind == 1:
            data[draw.choice(["weather", "\x1b", "t_ns", "event", "input"])] = draw.choice(ODD)
        else:
            data[key] = _changed(data[key], draw)
        return data
    if isinstance(data, list) and data and draw.random() < 0.7:
        at = draw.randrange(len(data))
        return [*data[:at], _changed(data[at], draw), *data[at + 1 :]]
    return draw.choice(ODD)


def command_lines(count: int, seed: int) -> Came:
    """Mutate lines of standard input `count` times; execute what is a command."""
    draw, came = Random(seed), Came()
    engine, t_ns = Engine(header()), 0
    for number in range(count):
        line = _line(draw)
        began = time.perf_counter()
        try:
            command = command_from_line(line, 99, "stdin")
        except ValueError as error:
            came.took(began, "named" if len(str(error)) < 600 else "named at length")
            continue
        except Exception as error:  # noqa: BLE001 - whatever escapes is what is counted
            came.took(began, "escaped")
            came.escaped.append(f"line {number}: {line[:80]!r}: {type(error).__name__}: {error}")
            continue
        if number % 2000 == 0:
            engine, t_ns = Engine(header()), 0
        t_ns += 1
        try:
            for event in engine.feed(replace(command, t_ns=t_ns)):
                event_line(event).encode()
                plain(sentence(event.body) or "").encode()
            came.took(began, "executed")
        except Exception as error:  # noqa: BLE001
            came.took(began, "escaped")
            came.escaped.append(f"line {number}: {line[:80]!r}: {type(error).__name__}: {error}")
    return came


def _line(draw: Random) -> bytes:
    command = draw.choice(COMMANDS)
    kind = draw.randrange(4)
    if kind == 0:
        return _spoiled(json.dumps(command).encode(), draw)
    if kind == 1:
        return json.dumps(_changed(command, draw)).encode()
    if kind == 2:
        odd = draw.choice(
            ["1e999", "NaN", "-Infinity", "[" * draw.randrange(1, 60_000), "1" * 5000]
        )
        return f'{{"kind": "name", "args": {{"blade": {odd}}}}}'.encode()
    args = _changed(command.get("args", {"blade": 1}), draw)
    return json.dumps({**command, "args": args}, ensure_ascii=False).encode(
        "utf-8", "surrogatepass"
    )


def said(name: str, came: Came) -> str:
    """Return what came of it in a line."""
    outcomes = ", ".join(f"{count} {what}" for what, count in came.outcomes.most_common())
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"{came.count} mutants of {name}: {outcomes}; {len(came.escaped)} escaped, "
        f"slowest {came.slowest_s:.2f} s, {most:.0f} MB"
    )


def main() -> int:
    """Run it and print what came of it; 1 where anything escaped or hung."""
    what = sys.argv[1] if len(sys.argv) > 1 else "sessions"
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 100_000
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    came = (sessions if what == "sessions" else command_lines)(count, seed)
    print(said(what, came))
    for escaped in came.escaped[:20]:
        print(f"  {escaped}")
    return 0 if came.good else 1


if __name__ == "__main__":
    sys.exit(main())
