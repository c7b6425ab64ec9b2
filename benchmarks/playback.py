"""How soon a session of two hours is on the screen, and how soon any moment of it.

    python -m benchmarks.playback

Events are what jumps go to; their moments are visited in a seeded random order. About a minute.
"""

import argparse
import random
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.speed import header_of, recorded
from daemon.session.playback import FoldedPlayback
from daemon.session.recording import read

SLICE = 100


def percentile(seconds: Sequence[float], share: float) -> float:
    """The value that a share of them do not exceed, in ms."""
    return 1000.0 * sorted(seconds)[min(len(seconds) - 1, int(share * len(seconds)))]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.playback")
    parser.add_argument("--session", type=Path, help="this one, not one that is made")
    parser.add_argument("--hours", type=int, default=2)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "long.session"
        path = asked.session or recorded(made, header_of(Path(folder)), 3600 * asked.hours)
        _figures(path)


def _figures(path: Path) -> None:
    began = time.perf_counter()
    playback = FoldedPlayback(read(path))
    playback.go_on(SLICE)
    playback.view(0)
    print(f"first picture possible after {time.perf_counter() - began:.2f} s")
    began, slices = time.perf_counter(), []
    while not playback.complete:
        before = time.perf_counter()
        playback.go_on(SLICE)
        slices.append(time.perf_counter() - before)
    print(
        f"all of {playback.reach_ns / 3.6e12:.1f} h folded after {time.perf_counter() - began:.1f} s, "
        f"in slices of at most {max(slices) * 1000:.0f} ms"
    )
    moments = [event.t_ns for event in playback.events]
    moments += [playback.reach_ns * part // 200 for part in range(200)]
    random.Random(1).shuffle(moments)
    seconds = []
    for moment in moments[:400]:
        before = time.perf_counter()
        playback.view(moment)
        seconds.append(time.perf_counter() - before)
    print(
        f"a moment: median {percentile(seconds, 0.5):.0f} ms, 95 % {percentile(seconds, 0.95):.0f} ms, "
        f"the slowest of {len(seconds)} {percentile(seconds, 1.0):.0f} ms"
    )


if __name__ == "__main__":
    main()
