"""The constants of the fold are those that docs/measuring.md states."""

from daemon.core.pipe import STALE_NS
from daemon.core.way import TURNED_DEG, TURNED_US
from shared.inputs import NS
from tests.stated import page, word


def test_a_level_that_was_turned_under() -> None:
    rests_elsewhere = f"rests at another angle, by more than {TURNED_DEG:g} and {word(TURNED_US)} times what the averages leave"
    assert rests_elsewhere in page("measuring")


def test_what_may_have_lain_in_a_buffer() -> None:
    assert "What levels send in the second after it may have lain in a buffer" in page("session")
    assert STALE_NS == NS
