"""General-purpose detectors on the same streams. `python -m benchmarks.other_detectors`.

Each online detector's one limit is first set so that its false-alarm run length on noise is the
nominal one; then all get the same steps on the same noise. Page-Hinkley and ADWIN are river's
(Montiel and others, JMLR 22, 2021), offline PELT and binary segmentation are ruptures' (Truong
and others, Signal Processing 167, 2020); an offline method sees the whole record at once and its
"delay" is the distance of the change it finds. Needs the extra `bench`.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import ruptures
from river import drift

from daemon.measure.watch.detector import Detector

Array = npt.NDArray[np.float64]
NOMINAL = 5_000
BASELINE = 600
HORIZON = 400
"""Samples after the step within which it must be noticed, or it is missed."""
Push = Callable[[float], bool]
Made = Callable[[float], Push]
"""Makes a fresh detector from its one limit."""


def shipped(_limit: float) -> Push:
    """The detector of this project, noise learned; its limit follows from the run length."""
    detector = Detector(run_length=NOMINAL)
    return detector.push


def page_hinkley(limit: float) -> Push:
    """River's Page-Hinkley test, two-sided, for a shift of about one standard deviation."""
    test = drift.PageHinkley(
        min_instances=30, delta=0.5, threshold=limit, alpha=0.9999, mode="both"
    )
    return _river(test)


def adwin(limit: float) -> Push:
    """River's ADWIN; its limit is a confidence."""
    made: Any = drift.ADWIN
    return _river(made(delta=limit, clock=1, min_window_length=5, grace_period=10))


def _river(test: Any) -> Push:
    def push(x: float) -> bool:
        test.update(x)
        return bool(test.drift_detected)

    return push


def measured_run_length(made: Made, limit: float, samples: int, seed: int) -> tuple[float, int]:
    """Samples per alarm on noise; a detector that signalled starts again, baseline included."""
    rng = np.random.default_rng(seed)
    alarms, push, age, judged = 0, made(limit), 0, 0
    for x in rng.standard_normal(samples).tolist():
        age += 1
        found = push(x)
        judged += age > BASELINE
        if found and age > BASELINE:
            alarms += 1
        if found:
            push, age = made(limit), 0
    return judged / max(alarms, 1), alarms


@dataclass(slots=True)
class Row:
    """What a detector did with one size of step."""

    delay: float
    median: float
    missed: float
    early: float


def against_steps(made: Made, limit: float, shift: float, runs: int, seed: int) -> Row:
    """Step after a baseline of 600 samples; early = signalled before the step."""
    rng = np.random.default_rng(seed)
    waits, early = [], 0
    for _ in range(runs):
        stream = rng.standard_normal(BASELINE + HORIZON)
        stream[BASELINE:] += shift
        push = made(limit)
        at = next((k for k, x in enumerate(stream.tolist()) if push(x)), -1)
        if at >= BASELINE:
            waits.append(at - BASELINE + 1)
        early += 0 <= at < BASELINE
    called = len(waits)
    return Row(
        float(np.mean(waits)) if waits else float("nan"),
        float(np.median(waits)) if waits else float("nan"),
        1.0 - called / max(runs - early, 1),
        early / runs,
    )


def offline(name: str, penalty: float) -> Callable[[Array], list[int]]:
    """ruptures: all change points of a finished record."""

    def find(stream: Array) -> list[int]:
        if name == "PELT":
            model: Any = ruptures.KernelCPD(kernel="linear", min_size=2)
        else:
            model = ruptures.Binseg(model="l2", min_size=2, jump=1)
        points: list[int] = model.fit(stream[:, None]).predict(pen=penalty)
        return points[:-1]

    return find


def offline_row(
    find: Callable[[Array], list[int]], shift: float, runs: int, seed: int
) -> tuple[Row, float]:
    """Score an offline method on the same streams; also the false changes per sample of noise."""
    rng = np.random.default_rng(seed)
    off, missed, false = [], 0, 0
    for _ in range(runs):
        stream = rng.standard_normal(BASELINE + HORIZON)
        false += len(find(stream))
        stream[BASELINE:] += shift
        near = [abs(point - BASELINE) for point in find(stream)]
        if near and min(near) <= 30:
            off.append(min(near))
        else:
            missed += 1
    mean = float(np.mean(off)) if off else float("nan")
    median = float(np.median(off)) if off else float("nan")
    return Row(mean, median, missed / runs, 0.0), false / (runs * (BASELINE + HORIZON))


def solve_penalty(name: str, records: int) -> float:
    """Bisect the penalty at which a record of noise gives one change in NOMINAL samples."""
    rng = np.random.default_rng(14)
    noise = [rng.standard_normal(BASELINE + HORIZON) for _ in range(records)]
    low, high = 4.0, 40.0
    for _ in range(8):
        middle = 0.5 * (low + high)
        false = sum(len(offline(name, middle)(stream)) for stream in noise)
        wanted = records * (BASELINE + HORIZON) / NOMINAL
        low, high = (middle, high) if false > wanted else (low, middle)
    return high


def cost_us(made: Made, limit: float, samples: int = 20_000) -> float:
    """Microseconds a sample."""
    stream = np.random.default_rng(1).standard_normal(samples).tolist()
    push = made(limit)
    began = time.perf_counter()
    for x in stream:
        push(x)
    return (time.perf_counter() - began) / samples * 1e6


def solve(made: Made, low: float, high: float, samples: int) -> float:
    """Bisect (in the logarithm) the limit whose run length is nominal; high is the quieter end."""
    for _ in range(7):
        middle = float(np.sqrt(low * high))
        found, _ = measured_run_length(made, middle, samples, seed=11)
        low, high = (middle, high) if found < NOMINAL else (low, middle)
    return float(np.sqrt(low * high))


def main() -> None:
    """Print one table."""
    quick = "--quick" in sys.argv
    samples, runs = (60_000, 40) if quick else (400_000, 400)
    online: list[tuple[str, Made, float]] = [
        ("this project", shipped, 0.0),
        ("Page-Hinkley (river)", page_hinkley, solve(page_hinkley, 2.0, 30.0, samples)),
        ("ADWIN (river)", adwin, solve(adwin, 0.5, 1e-7, samples)),
    ]
    print("detector; limit; run length; us a sample; shift: mean delay, median, missed, early")
    for name, made, limit in online:
        found, alarms = measured_run_length(made, limit, samples, seed=12)
        line = f"{name}; {limit:.3g}; {found:.0f} ({alarms}); {cost_us(made, limit):.1f}"
        for shift in (1.0, 2.0, 3.0, 4.0):
            row = against_steps(made, limit, shift, runs, seed=13)
            line += f"; {shift:.0f}: {row.delay:.1f}, {row.median:.0f}, {row.missed:.3f}, {row.early:.3f}"
        print(line, flush=True)
    for name in ("PELT", "binary segmentation"):
        print(_offline_line(name, solve_penalty(name, 40 if quick else 200), runs // 4), flush=True)


def _offline_line(name: str, penalty: float, runs: int) -> str:
    find = offline(name, penalty)
    stream = np.random.default_rng(1).standard_normal(BASELINE + HORIZON)
    began = time.perf_counter()
    for _ in range(5):
        find(stream)
    cost = (time.perf_counter() - began) / 5 / stream.size * 1e6
    cells, false = [], 0.0
    for shift in (1.0, 2.0, 3.0, 4.0):
        row, false = offline_row(find, shift, runs, seed=13)
        cells.append(f"{shift:.0f}: {row.delay:.1f}, {row.median:.0f}, {row.missed:.3f}")
    every = f"{1.0 / false:.0f}" if false else "none seen"
    return f"{name} (ruptures, offline); {penalty:.1f}; {every}; {cost:.1f}; " + "; ".join(cells)


if __name__ == "__main__":
    main()
