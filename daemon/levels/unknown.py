"""`stillblade levels learn RECORDING`: what is learned of an unknown level, said and written down."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from daemon.levels.found_drawn import fields_drawn
from daemon.levels.marks import marks_text, read_marks
from drivers import profiles
from drivers.codecs import BATTERY_CHANNEL
from drivers.learn.asked import Heard, Mark, Outcome
from drivers.learn.learning import Learned, learn_each
from drivers.recordings import Chunk, Recording, from_text, to_text
from shared.errors import BadInputError, OutsideError, unread

_NS = 1_000_000_000
UNKNOWN = "unknown"
"""Profile of a recording that was made before there was one."""
SUFFIXES = (".toml", ".log", ".marks", ".svg")


@dataclass(frozen=True, slots=True)
class Files:
    """Where what was learned goes: profile, recording, marks, picture; of one name."""

    stem: Path

    def path(self, suffix: str) -> Path:
        """Return the file of a suffix."""
        return self.stem.with_name(self.stem.name + suffix)

    def fresh(self, suffixes: Sequence[str] = SUFFIXES) -> None:
        """Refuse names that are taken.

        Raises:
            BadInputError: one of the files exists; nothing is ever overwritten.
        """
        for suffix in suffixes:
            if self.path(suffix).exists():
                where = str(self.path(suffix))
                raise BadInputError(where, "", "exists already", "another name with --name")

    def write(self, suffix: str, text: str) -> Path:
        """Write one of them.

        Raises:
            OutsideError: it cannot be written.
        """
        path = self.path(suffix)
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except OSError as error:
            raise OutsideError(f"{path} cannot be written: {error.strerror}") from error
        return path


def learn_recording(recording: Path, files: Files, out: TextIO) -> int:
    """Learn from a recording and the marks beside it; write profile and picture.

    Returns:
        0 where something was found, 1 where nothing was.

    Raises:
        BadInputError: no recording, no marks, or files that exist.
    """
    files.fresh((".toml", ".svg"))
    heard = heard_of(recording)
    marks = read_marks(recording.with_suffix(".marks"))
    return told(learn_each(heard, marks), marks, files, out)


def heard_of(path: Path) -> tuple[Heard, ...]:
    """Return a recording as the learner takes it; its settings say link, speed and UUIDs.

    Each channel of notifications is heard by itself; a line is one.

    Raises:
        BadInputError: no recording, or a line of it is damaged.
    """
    try:
        recording = from_text(path.read_text("utf-8"), str(path))
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(str(path), "", f"no recording can be read: {unread(error)}") from error
    transport = recording.settings.get("transport", {})
    radio = transport.get("link") == "ble-notify"
    chunks: dict[int, list[tuple[int, bytes]]] = {}
    for chunk in recording.chunks:
        if chunk.data is not None and chunk.channel < BATTERY_CHANNEL:
            channel = chunk.channel if radio else 0
            chunks.setdefault(channel, []).append((round(chunk.t_s * _NS), chunk.data))
    named = {one.get("number", 0): one for one in recording.settings.get("channels", [])}
    return tuple(
        Heard(
            each,
            "ble-notify" if radio else "serial",
            int(transport.get("baud", 9600)),
            str(named.get(channel, {}).get("service_uuid", "")),
            str(named.get(channel, {}).get("characteristic_uuid", "")),
        )
        for channel, each in (sorted(chunks.items()) or [(0, [])])
    )


def recording_text(heard: Sequence[Heard], source: str) -> str:
    """Return what was heard of an unknown level as the text of a recording, a channel each."""
    chunks = [
        Chunk(t_ns / _NS, channel, data)
        for channel, each in enumerate(heard)
        for t_ns, data in each.chunks
    ]
    return to_text(
        Recording(UNKNOWN, source, _settings(heard), sorted(chunks, key=lambda one: one.t_s))
    )


def _settings(heard: Sequence[Heard]) -> dict[str, Any]:
    if not heard:
        return {}
    if heard[0].link == "serial":
        return {"transport": {"link": "serial", "baud": heard[0].baud}}
    channels = [
        {
            "number": channel,
            "service_uuid": one.service_uuid,
            "characteristic_uuid": one.characteristic_uuid,
        }
        for channel, one in enumerate(heard)
    ]
    return {"transport": {"link": heard[0].link}, "channels": channels}


def keep(heard: Sequence[Heard], marks: Sequence[Mark], files: Files, source: str) -> None:
    """Write recording and marks, whatever is learned of them."""
    files.write(".log", recording_text(heard, source))
    files.write(".marks", marks_text(marks))


def told(learned: Learned, marks: Sequence[Mark], files: Files, out: TextIO) -> int:
    """Print what was learned, write profile and picture; return the exit code."""
    outcome = learned.outcome
    if not outcome.candidates:
        print(outcome.not_found_why, file=out)
        return 1
    best = outcome.candidates[0]
    profile = profiles.read(best.profile, "learned")
    written = files.write(".toml", best.profile)
    svg = files.write(".svg", fields_drawn(profile, learned.heard, marks))
    for line in _found(outcome):
        print(line, file=out)
    print(f"{written}: the profile; {svg}: its fields over time. Look at both.", file=out)
    print(f"next: stillblade levels listen {written} --port PORT", file=out)
    print("compare it with the level's own display, on a slope, on both signs;", file=out)
    print("then name it in a job and `stillblade run JOB.toml`", file=out)
    return 0


def _found(outcome: Outcome) -> list[str]:
    """Return what was found, how sure it is, and what is not verified."""
    best, rivals = outcome.candidates[0], outcome.candidates[1:]
    rate = f"{best.rate_hz:.1f} samples a second" if best.rate_hz else "it sends only on a change"
    noise = f", noise {best.noise_deg:.3g} deg at rest" if best.rate_hz else ""
    lines = [
        f"found: {best.says}",
        f"  {rate}, last digit {best.resolution_deg:.4g} deg{noise}",
    ]
    lines += [f"  {line}" for line in best.unverified]
    lines += [f"it may also be: {rival.says}" for rival in rivals]
    if outcome.certain:
        return [*lines, "nothing else fits, and nothing of it is unverified"]
    return [*lines, "this is not certain: do not work with it before what is open is settled"]
