"""Seconds as counts of samples."""

import pytest

from daemon.measure.stream.pace import Pace, pace_of


@pytest.mark.parametrize(
    ("rate_hz", "second", "limit", "every", "calmly"),
    [
        (0.5, 8, 8, 1, 1),  # a second of a slow level is eight samples, and so is its longest
        (1.0, 8, 10, 1, 1),
        (8.0, 8, 80, 1, 2),
        (8.5, 9, 85, 1, 2),
        (10.0, 10, 100, 1, 2),
        (12.5, 13, 125, 1, 3),  # 12.5 looks a second at most
        (12.6, 13, 126, 2, 3),
        (50.0, 50, 500, 4, 12),
        (100.0, 100, 1000, 8, 25),
    ],
)
def test_counts(rate_hz: float, second: int, limit: int, every: int, calmly: int) -> None:
    assert pace_of(rate_hz) == Pace(rate_hz, second, limit, every, calmly)
