"""Recorded logs: what a level really sent, as text, with a header that says where it came from.

A log is a contribution and a test at once. Lines of the header begin with `# `:

    # stillblade recording 1
    # profile: nmea-xdr
    # settings: {"transport": {"baud": 4800}}
    # from: whose level, on what, when; or the simulator

Then one line a chunk: seconds since the start, channel, bytes in hexadecimal; `reset` instead
of the bytes where the link went down. Beside it the decoded output: one line a sample, the
time of its chunk and its numbers, then what was refused.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from drivers import codecs, profiles
from shared.angles import stated
from shared.errors import BadInputError
from shared.profile import LevelProfile
from shared.samples import Sample

_FIRST_LINE = "# stillblade recording 1"
_RESET = "reset"


@dataclass(frozen=True, slots=True)
class Chunk:
    """What arrived at once; `data` None = the link went down here."""

    t_s: float
    channel: int
    data: bytes | None


@dataclass(slots=True)
class Recording:
    """One log. `profile` is a shipped kind, or a whole profile as a JSON object."""

    profile: str
    source: str
    settings: dict[str, Any] = field(default_factory=dict)
    chunks: list[Chunk] = field(default_factory=list)

    def level_profile(self) -> LevelProfile:
        """Return the profile it was recorded with.

        Raises:
            BadInputError: there is none of this kind, or the settings do not fit it.
        """
        if self.profile.startswith("{"):
            tables = _object(self.profile, "profile", "recording")
            return profiles.overlay(profiles.from_tables(tables, "recording"), self.settings)
        return profiles.overlay(profiles.load(self.profile), self.settings)


def header(recording: Recording) -> list[str]:
    """Return the header's lines."""
    lines = [_FIRST_LINE, f"# profile: {recording.profile}"]
    if recording.settings:
        lines.append(f"# settings: {json.dumps(recording.settings, sort_keys=True)}")
    return [*lines, f"# from: {recording.source}"]


def chunk_line(chunk: Chunk) -> str:
    """Return one chunk as a line."""
    data = _RESET if chunk.data is None else chunk.data.hex()
    return f"{chunk.t_s:.3f} {chunk.channel} {data}"


def to_text(recording: Recording) -> str:
    """Return the whole log."""
    return "\n".join([*header(recording), *map(chunk_line, recording.chunks)]) + "\n"


def from_text(text: str, where: str) -> Recording:
    """Read a log.

    Raises:
        BadInputError: not a recording, or a line of it is damaged; says which.
    """
    lines = text.splitlines()
    if not lines or lines[0] != _FIRST_LINE:
        raise BadInputError(where, "line 1", "not a recording", f"it begins with {_FIRST_LINE!r}")
    facts: dict[str, str] = {}
    chunks: list[Chunk] = []
    for number, line in enumerate(lines[1:], 2):
        if line.startswith("#"):
            key, _, value = line[1:].partition(":")
            facts[key.strip()] = value.strip()
        elif line.strip():
            chunks.append(_chunk(line, where, number))
    settings = _object(facts.get("settings", "{}"), "settings", where)
    return Recording(facts.get("profile", ""), facts.get("from", ""), settings, chunks)


def _object(text: str, key: str, where: str) -> dict[str, Any]:
    try:
        value = json.loads(text)
    except ValueError as error:
        raise BadInputError(where, key, f"not JSON: {error}") from error
    except RecursionError as error:
        raise BadInputError(where, key, "objects or lists nested too deep") from error
    if not isinstance(value, dict):
        raise BadInputError(where, key, "must be an object")
    return value


def _chunk(line: str, where: str, number: int) -> Chunk:
    try:
        seconds, channel, data = line.split()
        return Chunk(float(seconds), int(channel), None if data == _RESET else bytes.fromhex(data))
    except ValueError as error:
        raise BadInputError(
            where, f"line {number}", "not a chunk", "seconds, channel, bytes in hexadecimal"
        ) from error


def sample_line(t_s: float, sample: Sample) -> str:
    """Return one sample as a line: time, then role=number."""
    numbers = (f"{role}={stated(value)!r}" for role, value in sorted(sample.values.items()))
    return f"{t_s:.3f} " + " ".join(numbers)


def decoded(profile: LevelProfile, chunks: Iterable[Chunk]) -> str:
    """Return the decoded output of a log: its samples, then what was refused and how often."""
    codec = codecs.make(profile)
    lines = ["# decoded output"]
    for chunk in chunks:
        if chunk.data is None:
            codec.reset()
            continue
        lines += [sample_line(chunk.t_s, one) for one in codec.feed(chunk.channel, chunk.data)]
    lines += [f"refused {count} {reason}" for reason, count in sorted(codec.refused.items())]
    return "\n".join(lines) + "\n"
