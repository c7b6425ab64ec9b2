"""One stranger: a level of an invented format, and what is heard of it while a person moves it."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from simulator.draws import Draws
from simulator.strangers import binary_form, meaning, text_form
from simulator.strangers.beside import Beside, Others
from simulator.strangers.meaning import Convention, Meaning, Unit
from simulator.strangers.person import NS, Asked, Motion, Performer
from simulator.strangers.poses import Pose
from simulator.strangers.speeds import USUAL
from simulator.strangers.text_form import TextForm
from simulator.wire.noise import Noise

Family = Literal["text", "binary", "notification", "text notification"]
Chunk = tuple[int, bytes]
"""Nanoseconds since the start, and what arrived at once."""

_CONVENTIONS: tuple[Convention, ...] = (
    *("planar",) * 8,
    *("projection",) * 5,
    *("roll-pitch",) * 5,
    *("vector",) * 2,
)
_UNITS: dict[Convention, tuple[Unit, ...]] = {
    "planar": (*("deg",) * 7, "rad", "percent", "mm/m"),
    "projection": (*("deg",) * 5, "rad", "percent", "mm/m", "mg", "g"),
    "roll-pitch": (*("deg",) * 8, "rad"),
    "vector": ("g", "mg", "m/s2"),
}
_FAMILIES: tuple[Family, ...] = (
    *("text",) * 9,
    *("binary",) * 7,
    *("notification",) * 3,
    "text notification",
)
_BESIDE: tuple[Beside, ...] = (
    "temperature", "battery", "counter", "clock", "heading", "state", "spare",
)  # fmt: skip
_RADIO_PACKET = 20
_READ_EVERY_S = 0.03


class OtherForm(Protocol):
    """How the numbers of a sample become bytes."""

    def frame(self, values: dict[str, float], /) -> bytes:
        """Return the bytes of one sample."""
        ...


@dataclass(slots=True)
class Stranger:
    """A level of an invented format.

    Attributes:
        seed: draws everything about it.
        baud: of a serial line; radio levels have none and it is 0.
        line_noise: share of the bytes that a bad line spoils.
        change: it sends only when a number of the tilt has changed by so much; 0: all the time.
    """

    seed: int
    family: Family
    meaning: Meaning
    form: TextForm | OtherForm
    others: tuple[Beside, ...]
    rate_hz: float
    baud: int
    line_noise: float
    change: float = 0.0

    def frames(self, poses: Sequence[tuple[float, Pose]], stream: int = 1) -> Iterator[bytes]:
        """Return what it sends at these times (seconds) in these poses, a frame each.

        Nothing, where it sends only on a change and there was none; the first is one.
        """
        last: dict[str, float] = {}
        draws = Draws(self.seed, stream)
        beside = Others(self.others, Draws(self.seed, 2))
        for t_s, pose in poses:
            tilt = self.meaning.numbers(pose, draws)
            numbers = tilt | beside.numbers(t_s, pose)
            stays = bool(last) and all(abs(tilt[r] - last[r]) < self.change for r in tilt)
            last = last if stays else tilt
            if stays:
                yield b""
            elif isinstance(self.form, TextForm):
                yield self.form.line(numbers, self.meaning.roles, draws)
            else:
                yield self.form.frame(numbers)

    def heard(self, motions: Sequence[tuple[Motion, float | None]]) -> "Heard":
        """Let a person make the motions; return what arrives meanwhile."""
        draws = Draws(self.seed, 3)
        performance = Performer(draws).show(motions)
        count = int(performance.length_s * self.rate_hz)
        times = [(index + draws.unit() * 0.1) / self.rate_hz for index in range(count)]
        poses = [(t_s, performance.at(t_s, draws)) for t_s in times]
        sent = list(zip(times, self.frames(poses), strict=True))
        sent = sent[1:] if self.change else sent  # it was switched on before anybody listened
        return Heard(self.arriving(sent, draws), performance.asked)

    def arriving(self, sent: Sequence[tuple[float, bytes]], draws: Draws) -> list[Chunk]:
        """Cut what is sent as the link does, and spoil it as the line does."""
        if self.family == "notification":
            return [(_ns(t_s), data) for t_s, data in sent if data]
        if self.family == "text notification":
            return [
                (_ns(t_s), data[at : at + _RADIO_PACKET])
                for t_s, data in sent
                for at in range(0, len(data), _RADIO_PACKET)
            ]
        return self._by_the_line(sent, Noise(self.line_noise, draws), draws)

    def _by_the_line(
        self, sent: Sequence[tuple[float, bytes]], noise: Noise, draws: Draws
    ) -> list[Chunk]:
        """A reader looks every few hundredths of a second; it began in the middle of a frame."""
        chunks: list[Chunk] = []
        for number, (t_s, whole) in enumerate(sent):
            data = noise.spoil(whole if number else whole[len(whole) // 3 :])
            cut = int(draws.unit() * len(data)) if draws.chance(0.3) else 0
            late_s = t_s + len(data) * 10.0 / self.baud
            seen = [(late_s, data[:cut]), (late_s + _READ_EVERY_S * draws.unit(), data[cut:])]
            chunks += [(_ns(at_s), part) for at_s, part in seen if part]
        return chunks


@dataclass(frozen=True, slots=True)
class Heard:
    """What arrived, and what was asked of the person meanwhile."""

    chunks: list[Chunk]
    asked: list[Asked]


def stranger(seed: int) -> Stranger:
    """Draw a level."""
    draws = Draws(seed, 0)
    convention = draws.one_of(_CONVENTIONS)
    unit = draws.one_of(_UNITS[convention])
    means = meaning.drawn(draws, unit, convention)
    others = tuple(name for name in _BESIDE if draws.chance(0.25))
    family = draws.one_of(_FAMILIES)
    form: TextForm | OtherForm
    if family in {"text", "text notification"}:
        form = text_form.drawn(draws, means, others)
    else:
        form = binary_form.drawn(draws, means, others, framed=family == "binary")
    wired = family in {"text", "binary"}
    baud = draws.one_of(USUAL) if wired else 0
    rates = (4.0, 10.0, 10.0, 20.0) if baud in {0, 9600} else (5.0, 10.0, 20.0, 50.0)
    noise = draws.one_of((0.0, 0.0, 0.001, 0.01)) if wired else 0.0
    return Stranger(seed, family, means, form, others, draws.one_of(rates), baud, noise)


FULL: tuple[tuple[Motion, float | None], ...] = (
    ("still", None),
    ("tilt", 40.0),
    ("tilt", -40.0),
    ("turned", None),
    ("side", None),
)
"""What anyone can do on a table."""
WALL_AND_FLOOR: tuple[tuple[Motion, float | None], ...] = (("known", 0.0), ("known", 90.0))


def wedge(deg: float) -> tuple[tuple[Motion, float | None], ...]:
    """Return the motions of a person who has a wedge of this angle."""
    return (("known", 0.0), ("known", deg))


def _ns(t_s: float) -> int:
    return math.floor(t_s * NS)
