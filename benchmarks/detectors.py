"""How soon a change is noticed, and how often nothing is. `python -m benchmarks.detectors`.

The delay of the shipped mixture of CUSUMs, which is not told the size, beside that of the
optimal CUSUM made for that very size (values of `OPTIMAL`, computed outside the project), at
equal false-alarm run lengths. Long runs use `Twin`, a vectorised copy of the shipped detector;
a property test holds the two equal.
"""

import math
import sys
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from daemon.measure.watch.cusums import FAVOUR, SIZES, Cusums, log_likelihood_limit
from daemon.measure.watch.detector import Detector, widening
from daemon.measure.watch.rest import START, independent
from shared.profile import Noise

Array = npt.NDArray[np.float64]
OPTIMAL = {
    5_000: {0.5: 49.13, 1.0: 15.09, 2.0: 4.56, 3.0: 2.32, 4.0: 1.46},
    36_000: {0.5: 64.88, 1.0: 19.04, 2.0: 5.55, 3.0: 2.76, 4.0: 1.73},
    288_000: {0.5: 81.50, 1.0: 23.20, 2.0: 6.59, 3.0: 3.22, 4.0: 2.01},
}
"""Zero-state mean delay of the two-sided CUSUM with k = shift / 2, by run length."""
BASELINE = 600


class TwinCusums:
    """`Cusums` for many streams at once: sums of shape (members, streams)."""

    def __init__(self, k: Sequence[float], h: Sequence[float], streams: int) -> None:
        self.k = np.array(k)[:, None]
        self.h = np.array(h)[:, None]
        self.high = np.zeros((len(k), streams))
        self.low = np.zeros((len(k), streams))

    def push(self, z: Array) -> npt.NDArray[np.bool_]:
        """Take one sample of every stream; say which signal."""
        self.high = np.maximum(self.high + z - self.k, 0.0)
        self.low = np.maximum(self.low - z - self.k, 0.0)
        return np.asarray(((self.high > self.h) | (self.low > self.h)).any(axis=0))

    def reset(self, which: npt.NDArray[np.bool_]) -> None:
        """Start these streams again."""
        self.high[:, which] = 0.0
        self.low[:, which] = 0.0


def twin_mixture(run_length: float, streams: int) -> TwinCusums:
    """`mixture` for many streams."""
    limit = log_likelihood_limit(run_length)
    return TwinCusums(
        [size / 2.0 for size in SIZES],
        [(limit - favour) / size for size, favour in zip(SIZES, FAVOUR, strict=True)],
        streams,
    )


class Twin:
    """`Detector` with the noise learned, for many streams of equal age."""

    def __init__(self, run_length: float, streams: int, follow: int = 6000) -> None:
        self.cusums = twin_mixture(run_length, streams)
        self.follow = follow
        self.n = 0
        self.mean, self.variance, self.covariance, self.last = (np.zeros(streams) for _ in range(4))
        self.before, self.scale, self.slope = (np.zeros(streams) for _ in range(3))
        self.until = START

    def learn(self, x: Array) -> None:
        """Take one sample of every stream at rest."""
        self.before = x - self.mean
        self._take(x, np.ones(x.size, dtype=bool))

    def push(self, x: Array) -> npt.NDArray[np.bool_]:
        """Take one sample of every stream; say which signal (ages stay equal: none is dropped)."""
        if self.n < START:
            self.learn(x)
            return np.zeros(x.size, dtype=bool)
        off = x - self.mean
        found = self.cusums.push((off - self.slope * self.before) * self.scale)
        self.before = off
        self._take(x, ~found)
        return found

    def _take(self, x: Array, which: npt.NDArray[np.bool_]) -> None:
        self.n = min(self.n + 1, self.follow)
        gain, off = 1.0 / self.n, x - self.mean
        keep = which.astype(np.float64)
        self.mean = self.mean + keep * (off / self.n)
        self.variance = self.variance + keep * (gain * ((1.0 - gain) * off * off - self.variance))
        self.covariance = self.covariance + keep * (
            gain * ((1.0 - gain) * off * self.last - self.covariance)
        )
        self.last = np.where(which, off, self.last) if self.n > 1 else np.zeros(x.size)
        if self.n >= self.until:
            self._measure()
            self.until = self.n + max(self.n // 8, 1)

    def _measure(self) -> None:
        sd = np.sqrt(self.variance * self.n / (self.n - 1))
        r = self.covariance / self.variance
        corrected = np.minimum(r + (1.0 + 3.0 * r) / self.n, 0.98)
        self.slope = np.where(r < 2.0 / math.sqrt(self.n), 0.0, corrected)
        worth = [widening(independent(self.n, lag1)) for lag1 in self.slope.tolist()]
        self.scale = 1.0 / (sd * np.sqrt(1.0 - self.slope * self.slope) * np.array(worth))


def run_length(nominal: float, streams: int, steps: int, seed: int) -> tuple[float, int]:
    """Return the mixture's measured run length with the noise known, and from how many alarms."""
    rng = np.random.default_rng(seed)
    cusums, alarms = twin_mixture(nominal, streams), 0
    for _ in range(steps):
        found = cusums.push(rng.standard_normal(streams))
        if found.any():
            alarms += int(found.sum())
            cusums.reset(found)
    return steps * streams / max(alarms, 1), alarms


def delays(nominal: float, shift: float, runs: int, seed: int, baseline: int = 0) -> Array:
    """Return detection delays from a fresh start; baseline 0 = the noise is known."""
    rng = np.random.default_rng(seed)
    known = twin_mixture(nominal, runs)
    learned = Twin(nominal, runs)
    for _ in range(baseline):
        learned.learn(rng.standard_normal(runs))
    push = learned.push if baseline else known.push
    done, t = np.zeros(runs), 0
    while (done == 0).any() and t < 4000:
        t += 1
        found = push(rng.standard_normal(runs) + shift)
        done[found & (done == 0)] = t
    return done


def optimal_delays(nominal: float, shift: float, runs: int, seed: int) -> Array:
    """Return delays of the CUSUM made for this shift, its limit solved for the run length."""
    low, high = 1.0, 40.0 / shift
    for _ in range(40):
        h = 0.5 * (low + high)
        low, high = (h, high) if two_sided_arl(shift / 2.0, h) < nominal else (low, h)
    rng = np.random.default_rng(seed)
    cusums = TwinCusums([shift / 2.0], [high], runs)
    done, t = np.zeros(runs), 0
    while (done == 0).any():
        t += 1
        found = cusums.push(rng.standard_normal(runs) + shift)
        done[found & (done == 0)] = t
    return done


def one_sided_arl(k: float, h: float, shift: float = 0.0, nodes: int = 60) -> float:
    """Run length of the one-sided CUSUM by its integral equation, Gauss-Legendre (Page 1954)."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    x, w = 0.5 * h * (x + 1.0), 0.5 * h * w
    density = np.exp(-0.5 * (x[None, :] - x[:, None] + k - shift) ** 2) / math.sqrt(2 * math.pi)

    def below(at: float) -> float:
        return 0.5 * math.erfc((at - k + shift) / math.sqrt(2.0))

    start = np.array([below(at) for at in x])
    matrix = np.zeros((nodes + 1, nodes + 1))
    matrix[:nodes, :nodes] = w * density
    matrix[:nodes, nodes] = start
    zero = np.exp(-0.5 * (x + k - shift) ** 2) / math.sqrt(2 * math.pi)
    matrix[nodes, :nodes] = w * zero
    matrix[nodes, nodes] = below(0.0)
    solved = np.linalg.solve(np.eye(nodes + 1) - matrix, np.ones(nodes + 1))
    return float(solved[nodes])


def two_sided_arl(k: float, h: float, shift: float = 0.0) -> float:
    """Run length of the two-sided CUSUM from its sides (van Dobben de Bruyn 1968, from memory)."""
    return 1.0 / (1.0 / one_sided_arl(k, h, shift) + 1.0 / one_sided_arl(k, h, -shift))


def shipped_delays(shift: float, runs: int, seed: int, baseline: int = 0) -> Array:
    """Return the shipped detector's delays at a run length of 5,000."""
    rng = np.random.default_rng(seed)
    done = np.zeros(runs)
    for run in range(runs):
        noise = None if baseline else Noise(sd_deg=1.0, n=10**9)
        detector = Detector(run_length=5_000.0, noise=noise, mean=None if baseline else 0.0)
        for x in rng.standard_normal(baseline).tolist():
            detector.learn(x)
        t, found = 0, False
        while not found:
            t += 1
            found = detector.push(rng.standard_normal() + shift)
        done[run] = t
    return done


def shipped_run_length(k: float, h: float, shift: float, runs: int, seed: int) -> float:
    """Return the mean run length of the shipped `Cusums` with one member."""
    rng = np.random.default_rng(seed)
    cusums, total = Cusums([k], [h]), 0
    for _ in range(runs):
        cusums.reset()
        total += 1
        while not cusums.push(rng.standard_normal() + shift):
            total += 1
    return total / runs


def conditional_median(nominal: float, baseline: int, seed: int, *, widened: bool = True) -> float:
    """Median over baselines of the run length given the baseline (mean and deviation learned)."""
    streams, steps = 400, int(8 * nominal)
    rng = np.random.default_rng(seed)
    mean = rng.standard_normal(streams) / math.sqrt(baseline)
    sd = np.sqrt(rng.chisquare(baseline - 1, streams) / (baseline - 1))
    sd *= widening(baseline) if widened else 1.0
    cusums, alarms = twin_mixture(nominal, streams), np.zeros(streams)
    for _ in range(steps):
        found = cusums.push((rng.standard_normal(streams) - mean) / sd)
        if found.any():
            alarms += found
            cusums.reset(found)
    return float(np.median(steps / np.maximum(alarms, 0.5)))


def _arl_table(runs: int) -> None:
    print("two-sided CUSUM k = 0.5, h = 4 and 5: run length of the shipped code, and exactly")
    for h in (4.0, 5.0):
        for shift in (0.0, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0):
            found = shipped_run_length(0.5, h, shift, runs, seed=int(10 * h + shift))
            print(
                f"  h {h:.0f} shift {shift:4.2f}: {found:8.3f} {two_sided_arl(0.5, h, shift):8.3f}"
            )


def _delay_table(quick: bool) -> None:
    runs = 20_000 if quick else 100_000
    print("delay in samples: mean (ratio to the optimal CUSUM's mean), median (the optimal's)")
    for nominal, optimal in OPTIMAL.items():
        for shift, best in optimal.items():
            line = f"  run length {nominal:6d} shift {shift:.1f} optimal {best:5.2f}:"
            middle = np.median(optimal_delays(nominal, shift, runs // 4, seed=2))
            for name, baseline in (("known", 0), ("600 samples", BASELINE)):
                found = delays(nominal, shift, runs if not baseline else runs // 4, 3, baseline)
                mean, median = found.mean(), np.median(found)
                line += f"  {name} {mean:5.2f} ({mean / best:.3f}), {median:.0f} ({middle:.0f})"
            print(line)


def _run_length_table(quick: bool) -> None:
    print("measured run length of the mixture, noise known")
    for nominal in (5_000, 36_000, 288_000)[: 2 if quick else 3]:
        streams = 300 if quick else 1000
        found, alarms = run_length(nominal, streams, nominal, seed=5)
        print(f"  nominal {nominal}: {found:.0f} from {alarms} alarms")
    print("median run length given the baseline, nominal 5,000: plain and widened")
    for baseline in (30, 60, 120, 300, 600):
        plain = conditional_median(5_000, baseline, 6, widened=False)
        print(f"  {baseline}: {plain:.0f} {conditional_median(5_000, baseline, 6):.0f}")


def _shipped_table(runs: int) -> None:
    print("the shipped detector itself at a run length of 5,000: mean, median")
    for shift in (1.0, 2.0, 3.0, 4.0):
        known = shipped_delays(shift, runs, 7)
        learned = shipped_delays(shift, runs // 5, 8, BASELINE)
        print(
            f"  shift {shift:.0f}: known {known.mean():.2f}, {np.median(known):.0f}; "
            f"600 samples {learned.mean():.2f}, {np.median(learned):.0f}"
        )


def main() -> None:
    """Print every table; --quick for fewer runs."""
    quick = "--quick" in sys.argv
    _arl_table(400 if quick else 3000)
    _run_length_table(quick)
    _delay_table(quick)
    _shipped_table(1000 if quick else 5000)


if __name__ == "__main__":
    main()
