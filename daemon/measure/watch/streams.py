"""The two streams of one watch: the level's own, and its difference to the witness.

Their noise is learned and followed, the own one by the detector.
"""

from daemon.measure.watch.detector import Detector
from daemon.measure.watch.record import Means, Record, spread
from daemon.measure.watch.rest import START, Rest
from daemon.measure.watch.track import Place, Stand
from shared.angles import difference_deg
from shared.profile import Noise

FRESH_S = 2.0
"""A witness silent for longer is not a witness."""
FOLLOW_S = 30.0
"""The noise is followed with a memory of so long,"""
FOLLOW_LEAST = 300
"""and of no fewer samples than these."""
_CONTRADICTED = 1.5
"""A stream this many times as wide as the stated noise is believed instead."""
_CALM = 6.0
"""A block whose samples range over more standard deviations than this was shaken."""


class FromFirst:
    """Angles of one stream from its first sample, so that the edge of the circle is no edge."""

    def __init__(self) -> None:
        self._first: float | None = None

    def of(self, angle_deg: float) -> float:
        """Return the angle from the first one ever given."""
        if self._first is None:
            self._first = angle_deg
        return difference_deg(angle_deg, self._first)


class Witness:
    """What the other level showed last, in samples of the watched one."""

    def __init__(self, rate_hz: float) -> None:
        self._fresh = FRESH_S * rate_hz
        self._angles = FromFirst()
        self._heard: tuple[float, int] | None = None

    def told(self, angle_deg: float, n: int) -> None:
        """Take one sample of the witness while the watched level is at its sample n."""
        self._heard = (self._angles.of(angle_deg), n)

    def at(self, n: int) -> float | None:
        """Return what it shows at sample n; None where it has fallen silent."""
        if self._heard is None or n - self._heard[1] > self._fresh:
            return None
        return self._heard[0]


class Streams:
    """Noise of the own stream (with its detector) and of the difference to the witness.

    Args:
        rate_hz: nominal samples a second.
        noise: the level's noise; with n = 0 it is learned.
        resolution_deg: of the level.
        run_length: mean samples between false starts of the detector.
    """

    def __init__(
        self, rate_hz: float, noise: Noise, resolution_deg: float, run_length: float
    ) -> None:
        self._rate, self._resolution, self._run_length = rate_hz, resolution_deg, run_length
        self._floor = 0.5 * resolution_deg
        self._follow = max(FOLLOW_LEAST, round(FOLLOW_S * rate_hz))
        self.detector = self._detector(noise)
        self.pair = Rest(floor=self._floor, follow=self._follow)

    def _detector(self, noise: Noise | None) -> Detector:
        return Detector(
            run_length=self._run_length, noise=noise, floor=self._floor, follow=self._follow
        )

    @property
    def own(self) -> Rest:
        """The noise of the own stream."""
        return self.detector.rest

    @property
    def best(self) -> Rest:
        """The noise of the difference where enough of it is known, else of the own stream."""
        return self.pair if self.pair.n >= START else self.own

    def learn(self, record: Record) -> None:
        """Take a record at rest; a stated noise that it contradicts is believed no more."""
        own = self.own
        if own.known and spread(list(record.own)) > _CONTRADICTED * own.sd:
            self.detector = self._detector(None)
        for x in record.own:
            self.detector.learn(x)
        self.learn_pairs([x for x in record.against if x is not None])

    def learn_pairs(self, pairs: list[float]) -> None:
        """Take differences to the witness at rest."""
        for pair in pairs:
            self.pair.learn(pair)

    def recentre(self, block: Place, samples: int) -> None:
        """Both streams now rest where this mean of so many samples stands."""
        self.detector.recentre(block.own.mean, samples)
        if block.against is not None:
            self.pair.recentre(block.against.mean, samples)

    def block(self, means: Means, samples: int, n: int) -> Place:
        """Return the means of so many samples up to sample n with their variances."""
        t, against = n / self._rate, None
        if means.against is not None and self.pair.n >= START:
            against = Stand(t, means.against, self.best_variance(samples))
        own_variance = self.own.mean_variance(samples, self._resolution)
        return Place(Stand(t, means.own, own_variance), against)

    def best_variance(self, samples: int) -> float:
        """Return the variance of the mean of so many samples of the best stream."""
        return self.best.mean_variance(samples, self._resolution)

    def calm(self, span: float, block: Place) -> bool:
        """Whether a block of this range is one at rest."""
        rest = self.own if block.against is None else self.pair
        return span <= _CALM * rest.sd

    def kept(self, samples: int) -> float:
        """Return the correlation of neighbouring blocks: what is left of lag-1 over a block."""
        lag1 = max(self.own.lag1, self.best.lag1)
        kept = 1.0
        for _ in range(samples):
            kept *= lag1
        return kept
