"""Listening to one level: a sink that decodes as it hears, and tells it in lines."""

import time
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass

from daemon.measure.stream.gate import Gate
from daemon.measure.stream.tilts import Tilter
from drivers import codecs
from drivers.recordings import Chunk
from shared.angles import stated
from shared.job import LevelEntry
from shared.profile import LevelProfile
from shared.samples import Sample

_SHOWN_BYTES = 32
_WINDOW = 50
_ANGLES = 2000
_DEGREES = frozenset({"angle", "roll", "pitch"})
REFUSED_EVERY_S = 1.0
"""Between two lines of what was refused."""


def raw(data: bytes) -> str:
    """Return bytes as hexadecimal, and as text where most of them are."""
    shown, more = data[:_SHOWN_BYTES], "..." if len(data) > _SHOWN_BYTES else ""
    printed = [chr(byte) if 32 <= byte < 127 else "·" for byte in shown]
    words = sum(32 <= byte < 127 or byte in b"\r\n\t" for byte in shown)
    text = f"  |{''.join(printed)}|" if 4 * words > 3 * len(shown) else ""
    return f"{shown.hex(' ')}{more}{text}"


def _counted(refused: Counter[str]) -> str:
    return ", ".join(f"{count} {why}" for why, count in refused.most_common(5))


def _numbers(sample: Sample, why_not: str | None) -> str:
    shown = " ".join(f"{role} {stated(value):g}" for role, value in sample.values.items())
    return f"{shown} (refused: {why_not})" if why_not else shown


def _line(now: float, raw: str, numbers: list[str], rate_hz: float | None) -> str:
    rate = f"{rate_hz:.1f} Hz" if numbers and rate_hz is not None else ""
    return "  ".join(part for part in (f"{now:9.3f} s", raw, *numbers, rate) if part)


@dataclass(frozen=True, slots=True)
class Target:
    """The level that is listened to."""

    entry: LevelEntry
    profile: LevelProfile


class Ear:
    """A sink for one level.

    tell: given each line for a person. raw: bytes are told too. keep: remember all chunks.

    Attributes:
        chunks: all that arrived, with seconds since the start (empty unless kept).
        samples, gaps: how many there were.
        latest: the numbers of the newest sample that a job would take, in words.
        trouble: why the link does not work, in words.
        angles: the newest angles of those samples, whatever they are called, degrees.
        on_chunk: called with the index of every new chunk.
    """

    def __init__(
        self,
        level: Target,
        tell: Callable[[str], None],
        *,
        raw: bool = True,
        keep: bool = True,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._level = level
        self._tell = tell
        self._raw = raw
        self._keeps = keep
        self._clock = clock
        self._began = clock()
        self._codec = codecs.make(level.profile)
        self._tilter = Tilter(level.profile)
        self._gate = Gate(level.profile)
        self._not_taken: Counter[str] = Counter()
        self._times: list[float] = []
        self._silent_told = False
        self._refused_told: Counter[str] = Counter()
        self._refused_s = 0.0
        self.chunks: list[Chunk] = []
        self.samples = 0
        self.gaps = 0
        self.latest = self.trouble = ""
        self.angles: deque[float] = deque(maxlen=_ANGLES)
        self.longest_gap_s = 0.0
        self.on_chunk: Callable[[int], None] = lambda _number: None

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        """Take one chunk from the link."""
        del level
        now = self._now()
        self._keep(Chunk(now, channel, data))
        samples = self._codec.feed(channel, data)
        why_not = [self._why_not(one) for one in samples]
        taken = [
            one for one, why in zip(samples, why_not, strict=True) if self._is_tilt(one) and not why
        ]
        if taken:
            self._count(now, len(taken))
            self.latest = _numbers(taken[-1], None)
            self.angles += [
                value for one in taken for role, value in one.values.items() if role in _DEGREES
            ]
        if self._raw or samples:
            shown = f"[{channel}] {raw(data)}" if self._raw else ""
            numbers = list(map(_numbers, samples, why_not))
            self._tell(_line(now, shown, numbers, self.rate_hz()))

    def up(self, level: str, identity: str) -> None:
        """The link works."""
        self.trouble = ""
        self._tell(f"{self._now():9.3f} s  {level} is connected: {identity}")

    def down(self, level: str, reason: str) -> None:
        """The link does not work."""
        self.trouble = reason
        self._codec.reset()
        self._gate.restart()
        self._times.clear()
        if self.chunks:
            self._keep(Chunk(self._now(), 0, None))
        self._tell(f"{self._now():9.3f} s  {level}: {reason}")

    def look(self) -> None:
        """Notice silence, and what was refused. Call it a few times a second."""
        now = self._now()
        if now - self._refused_s >= REFUSED_EVERY_S:
            self._tell_refused(now)
        silent_s = self._level.profile.transport.silent_after_s
        if self._times and now - self._times[-1] > silent_s and not self._silent_told:
            self._silent_told = True
            self._gate.restart()
            self._tell(f"{now:9.3f} s  no sample for {silent_s:g} s")

    def _tell_refused(self, now: float) -> None:
        """Say what was refused since it was last said, and why."""
        newly = self._refused - self._refused_told
        if newly:
            self._refused_s = now
            self._refused_told.update(newly)
            self._tell(f"{now:9.3f} s  refused: {_counted(newly)}")

    def rate_hz(self) -> float | None:
        """Return the sample rate over the last samples, None before there are enough."""
        if len(self._times) < 3 or self._times[-1] <= self._times[0]:
            return None
        return (len(self._times) - 1) / (self._times[-1] - self._times[0])

    def refused_words(self) -> str:
        """Return what was refused and why, most often first; "" where nothing was."""
        return _counted(self._refused)

    def summary(self) -> str:
        """Return what it came to, in words."""
        refused, reasons = self._refused.total(), self.refused_words()
        return (
            f"{self.samples} samples, {self.gaps} gaps (longest {self.longest_gap_s:.2f} s), "
            f"{refused} refused" + (f": {reasons}" if reasons else "")
        )

    def _now(self) -> float:
        return self._clock() - self._began

    def _keep(self, chunk: Chunk) -> None:
        if self._keeps:
            self.chunks.append(chunk)
            self.on_chunk(len(self.chunks) - 1)

    @property
    def _refused(self) -> Counter[str]:
        """What the codec could not read, and what a job would not take."""
        return Counter(self._codec.refused) + self._not_taken

    def _why_not(self, sample: Sample) -> str | None:
        """Why a job would not take a sample, as its pipe decides it; None: it would."""
        if not self._is_tilt(sample):
            return None
        tilt = self._tilter.tilt(sample.values)
        why = tilt if isinstance(tilt, str) else self._gate.refuse(sample.values, tilt)
        self._not_taken.update([why] if why else [])
        return why

    def _is_tilt(self, sample: Sample) -> bool:
        return bool(sample.values.keys() & {"angle", "roll", "pitch", "ax", "ay", "az"})

    def _count(self, now: float, count: int) -> None:
        gap_s = now - self._times[-1] if self._times else 0.0
        self.longest_gap_s = max(self.longest_gap_s, gap_s)
        if gap_s > self._level.profile.transport.silent_after_s:
            self.gaps += 1
            self._tell(f"{now:9.3f} s  gap of {gap_s:.2f} s")
            self._times.clear()
        self._times += [now] * count
        del self._times[:-_WINDOW]
        self.samples += count
        self._silent_told = False
