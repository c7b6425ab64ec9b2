"""Random walks through whole jobs: what holds whatever anybody does.

Never is a bolt torqued under an unanswered alarm, never is a reading lost, from anywhere there is a way to a
record, and every press of a level that lies there gets a reading, a question or a reason.
"""

import pytest

from tests.workflow.walks import Sampling, walked

BY_THE_HUNDRED = 100


def test_whatever_anybody_does_no_reading_is_lost_and_there_is_a_way_to_a_record() -> None:
    worlds = {walked(seed).world for seed in range(30)}
    assert len(worlds) > 5


@pytest.mark.parametrize("seed", range(4))
def test_the_same_holds_with_a_level_that_sends_its_samples(seed: int) -> None:
    walked(seed, Sampling, most=6)


@pytest.mark.long
@pytest.mark.parametrize("hundred", range(1, 101))
def test_ten_thousand_walks(hundred: int) -> None:
    for seed in range(BY_THE_HUNDRED * hundred, BY_THE_HUNDRED * (hundred + 1)):
        walked(seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 140))
def test_walks_with_a_level_that_sends_its_samples(seed: int) -> None:
    walked(seed, Sampling)
