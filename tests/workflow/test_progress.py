"""Where the plan stands: passes and rounds are counted, whatever they are called."""

from daemon.workflow.case import _progress
from daemon.workflow.plan import Progress
from tests.daemon.bench import header


def progress() -> Progress:
    return _progress(header(plan={"rounds": ["check", "final"]}))


def test_a_round_that_starts_over_is_the_next_pass_and_void_where_its_placements_disagreed() -> (
    None
):
    now = progress()
    assert (now.passed, now.voided) == (1, 0)
    now.start_over()
    assert (now.passed, now.voided) == (2, 0)
    now.start_over(void=True)
    assert (now.passed, now.voided) == (3, 1)


def test_a_round_is_judged_until_its_readings_change() -> None:
    now = progress()
    assert not now.judged
    now.judge()
    assert now.judged
    now.reopen()
    assert not now.judged


def test_who_is_set_again_and_what_is_read_first_is_remembered() -> None:
    now = progress()
    now.set_anew(2)
    now.set_anew(1)
    assert now.set_again == {1, 2}
