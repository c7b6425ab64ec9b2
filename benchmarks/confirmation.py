"""What a watch calls in half an hour of tightening. `python -m benchmarks.confirmation`.

Seeded sessions of a level on a held blade and a witness on the hub, 10 samples a second:
blows with the wrench, footsteps, someone climbing in and out, a tyre that settles, a warm-up of
10 K, a random walk of either level's zero. At one moment, under a blow, the blade is turned for
good. Figures of the disturbances are common practice, no source.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from daemon.measure.watch.watch import Watch
from shared.profile import Noise

RATE = 10.0
SD, LAG1, RESOLUTION = 0.03, 0.3, 0.01
WALK = 0.001
PER_K = 0.005
SIZES = (0.03, 0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.3)
Array = npt.NDArray[np.float64]


@dataclass(slots=True)
class Session:
    """One drawn session: both streams, when anything shook, when the blade was turned."""

    blade: Array
    witness: Array
    shaking: npt.NDArray[np.bool_]
    step_at: int


@dataclass(slots=True)
class _Hangar:
    """What acts on the blade and on the aircraft, while a session is drawn."""

    rng: np.random.Generator
    n: int
    blade: Array = field(init=False)
    hub: Array = field(init=False)
    aircraft: Array = field(init=False)
    shaking: npt.NDArray[np.bool_] = field(init=False)
    blows: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.blade, self.hub, self.aircraft = (np.zeros(self.n) for _ in range(3))
        self.shaking = np.zeros(self.n, dtype=bool)

    def blow(self, at: int) -> None:
        """A blow rings for about a second, on the blade more than on the hub."""
        span = np.arange(min(12, self.n - at)) / RATE
        size = self.rng.uniform(0.3, 4.0) * self.rng.choice([-1.0, 1.0])
        ring = np.exp(-span / self.rng.uniform(0.1, 0.25)) * np.cos(
            2 * np.pi * self.rng.uniform(2.0, 5.0) * span
        )
        self.blade[at : at + span.size] += size * ring
        self.hub[at : at + span.size] += 0.3 * size * ring
        self.shaking[at : at + span.size] |= np.abs(size * ring) > SD / 2
        self.blows.append(at)

    def footsteps(self, at: int) -> None:
        """Someone walks by for some seconds; blade and hub feel it not quite alike."""
        span = np.arange(min(int(self.rng.uniform(3, 10) * RATE), self.n - at)) / RATE
        steps = self.rng.uniform(0.03, 0.1) * np.sin(2 * np.pi * 1.8 * span)
        self.blade[at : at + span.size] += steps
        self.hub[at : at + span.size] += 0.7 * steps
        self.shaking[at : at + span.size] = True

    def aboard(self, at: int) -> None:
        """Someone climbs in and, later, out: the aircraft tilts within a second and a half."""
        tilt = self.rng.uniform(0.1, 0.5) * self.rng.choice([-1.0, 1.0])
        out = min(at + int(self.rng.uniform(30, 300) * RATE), self.n - 1)
        for when, size in ((at, tilt), (out, -tilt)):
            ramp = np.clip(np.arange(self.n - when) / (1.5 * RATE), 0.0, 1.0)
            self.aircraft[when:] += size * ramp
            self.shaking[when : when + 15] = True

    def tyre(self, at: int) -> None:
        """A tyre settles over minutes."""
        sink = self.rng.uniform(-0.3, 0.3) * -np.expm1(-np.arange(self.n - at) / (120.0 * RATE))
        self.aircraft[at:] += sink


def _noise(rng: np.random.Generator, n: int) -> Array:
    innovations = rng.normal(0.0, SD * np.sqrt(1 - LAG1**2), n)
    innovations[0] = rng.normal(0.0, SD)
    made = np.empty(n)
    last = 0.0
    for k, value in enumerate(innovations.tolist()):
        last = LAG1 * last + value
        made[k] = last
    return made


def _level(rng: np.random.Generator, truth: Array) -> Array:
    """What a level makes of the truth: warm-up, walk, noise, resolution."""
    n = truth.size
    warm = 10.0 * rng.uniform(-PER_K, PER_K) * -np.expm1(-np.arange(n) / (600.0 * RATE))
    walk = np.cumsum(rng.normal(0.0, WALK / np.sqrt(RATE), n))
    rounded: Array = np.round((truth + warm + walk + _noise(rng, n)) / RESOLUTION) * RESOLUTION
    return rounded


def draw(rng: np.random.Generator, step: float, minutes: float = 30.0) -> Session:
    """Draw a session; the blade is turned by `step` under one of the blows."""
    n = int(minutes * 60 * RATE)
    hangar = _Hangar(rng, n)
    at = int(20 * RATE)
    while at < n - 60 * RATE:
        end = at + rng.uniform(20, 60) * RATE
        while at < min(end, n - 60 * RATE):
            hangar.blow(at)
            at += int(rng.uniform(1.0, 5.0) * RATE)
        at += int(rng.uniform(10, 60) * RATE)
    for _ in range(int(minutes / 2)):
        hangar.footsteps(int(rng.uniform(20 * RATE, n - 60 * RATE)))
    for _ in range(max(int(minutes / 10), 1)):
        hangar.aboard(int(rng.uniform(30 * RATE, n - 60 * RATE)))
    hangar.tyre(int(rng.uniform(30 * RATE, n - 60 * RATE)))
    late = [blow for blow in hangar.blows if blow > 0.2 * n]
    step_at = int(rng.choice(late))
    hangar.blade[step_at:] += step
    return Session(
        _level(rng, 15.0 + hangar.aircraft + hangar.blade),
        _level(rng, hangar.aircraft + hangar.hub),
        hangar.shaking,
        step_at,
    )


def deadline(session: Session) -> int:
    """Sample by which the step must be called: the first 5 s without shaking are over."""
    needed, run = int(5 * RATE), 0
    for k in range(session.step_at, session.shaking.size):
        run = 0 if session.shaking[k] else run + 1
        if run >= needed:
            return k
    return session.shaking.size - 1


def watched(session: Session, witness: bool = True) -> Iterator[tuple[int, str, float]]:
    """Run the shipped watch over a session; yield (sample, state, change)."""
    watch = Watch(
        rate_hz=RATE,
        noise=Noise(sd_deg=SD, lag1=LAG1, n=600),
        resolution_deg=RESOLUTION,
        witness=witness,
    )
    pairs = zip(session.blade.tolist(), session.witness.tolist(), strict=True)
    for k, (blade, hub) in enumerate(pairs):
        if witness:
            watch.push_witness(hub)
        for outcome in watch.push(blade):
            yield k, outcome.state, outcome.change_deg


@dataclass(slots=True)
class Tally:
    """Counts over sessions."""

    sessions: int = 0
    false_moved: int = 0
    in_time: int = 0
    ever: int = 0
    other: dict[str, int] = field(default_factory=dict)


def tally(seed: int, sessions: int, step: float, minutes: float = 30.0) -> Tally:
    """Count false calls before the step and calls of it, in time and ever."""
    rng = np.random.default_rng(seed)
    total = Tally(sessions)
    for _ in range(sessions):
        session = draw(rng, step, minutes)
        last, false = deadline(session), 0
        hits: list[int] = []
        for k, state, _ in watched(session):
            if state == "moved":
                if k >= session.step_at and step and not hits:
                    hits.append(k)
                else:
                    false += 1
            else:
                total.other[state] = total.other.get(state, 0) + 1
        total.false_moved += false
        total.ever += bool(hits)
        total.in_time += bool(hits) and hits[0] <= last
    return total


def main() -> None:
    """Print both tables; --sessions or --sizes for one of them, --quick for fewer."""
    quick = "--quick" in sys.argv
    if "--sizes" not in sys.argv:
        whole = tally(2024, 40 if quick else 500, 0.2)
        print(
            f"{whole.sessions} half-hours, a lasting step of 0.2 in each: "
            f"{whole.false_moved} false 'moved', called in time {whole.in_time}, "
            f"ever {whole.ever}; other outcomes {whole.other}"
        )
    if "--sessions" in sys.argv:
        return
    print("size; sessions of 6 minutes; called in time; missed; false 'moved'; 'changed'")
    for size in SIZES:
        found = tally(int(size * 1000), 20 if quick else 200, size, minutes=6.0)
        n = found.sessions
        print(
            f"{size:.3f}; {n}; {found.in_time / n:.3f}; {1.0 - found.ever / n:.3f}; "
            f"{found.false_moved}; {found.other.get('changed', 0)}"
        )


if __name__ == "__main__":
    main()
