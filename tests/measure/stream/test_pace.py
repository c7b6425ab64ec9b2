"""Seconds as counts of samples."""

import pytest

from daemon.measure.stream.pace import Pace, pace_of


@pytest.mark.parametrize(
    ("rate_hz", "second", "limit", "every", "calmly", "seldom", "idly"),
    [
        (0.5, 8, 8, 1, 1, 1, 1),  # a second of a slow level is eight samples, and so is its longest
        (1.0, 8, 10, 1, 1, 1, 1),
        (8.0, 8, 80, 1, 2, 4, 8),
        (8.5, 9, 85, 1, 2, 4, 8),
        (10.0, 10, 100, 1, 2, 5, 10),
        (12.5, 13, 125, 1, 3, 6, 12),  # 12.5 looks a second at most
        (12.6, 13, 126, 2, 3, 6, 12),
        (50.0, 50, 500, 4, 12, 25, 50),
        (100.0, 100, 1000, 8, 25, 50, 100),
    ],
)
def test_counts(
    rate_hz: float, second: int, limit: int, every: int, calmly: int, seldom: int, idly: int
) -> None:
    assert pace_of(rate_hz) == Pace(rate_hz, second, limit, every, calmly, seldom, idly)
