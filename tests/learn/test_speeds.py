"""The speed of a line: garbage at the wrong ones, read bit by bit (`simulator/strangers/speeds`)."""

import pytest

from drivers.learn.speeds import USUAL, speeds
from simulator.strangers.level import stranger
from simulator.strangers.speeds import read_at

S = 1_000_000_000
LISTEN_S = 2.5


def heard_at_every_speed(seed: int) -> tuple[int, dict[int, bytes]]:
    """Return the true speed, and what is heard at each of the usual ones, one after the other."""
    level = stranger(seed)
    chunks = level.heard((("still", None),)).chunks
    heard = {}
    for number, baud in enumerate(USUAL):
        first_s = 1.0 + LISTEN_S * number
        parts = [data for t_ns, data in chunks if first_s <= t_ns / S < first_s + LISTEN_S]
        heard[baud] = read_at(b"".join(parts), level.baud, baud)
    return level.baud, heard


@pytest.mark.parametrize("seed", [1, 2, 4, 9])
def test_the_speed_is_the_one_at_which_it_can_be_read(seed: int) -> None:
    baud, heard = heard_at_every_speed(seed)
    assert speeds(heard)[0].baud == baud


def test_where_nothing_is_heard_there_is_no_speed() -> None:
    assert speeds({9600: b"", 19200: b"\0" * 3}) == []
