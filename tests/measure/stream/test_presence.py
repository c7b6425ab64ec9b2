"""Link, silence and being stuck: every row of the table of `presence`."""

import pytest

from daemon.measure.stream.facts import LinkFact
from daemon.measure.stream.presence import Presence
from shared.inputs import NS
from tests.measure.levels import profile

LATE_S = 2.5


def presence(mode: str = "stream") -> Presence:
    return Presence("a", profile(reporting={"mode": mode}, transport={"silent_after_s": LATE_S}))


def streaming(mode: str = "stream") -> Presence:
    level = presence(mode)
    level.up("x")
    assert level.sample(7 * NS) == []
    assert level.sane(None) == []
    return level


def test_a_level_waits_streams_and_falls_silent_when_it_is_due() -> None:
    level = presence()
    assert (level.state, level.streaming, level.due, level.last_ns) == (
        "waiting",
        False,
        None,
        None,
    )
    assert level.up("x") == [LinkFact("a", "up", "x")]
    assert level.state == "waiting"
    assert level.due is None
    level.sample(7 * NS)
    assert (level.state, level.streaming, level.heard) == ("streaming", True, True)
    assert level.due == round(9.5 * NS)
    said = level.silent(round(9.5 * NS))
    assert said == LinkFact("a", "silent", "no sample for 2.5 s", 2.5)
    assert (level.state, level.streaming, level.heard, level.due) == ("silent", False, False, None)
    assert level.last_ns == 7 * NS


@pytest.mark.parametrize("how", ["silent", "down", "down and up"])
def test_a_level_that_is_heard_again_says_after_how_long(how: str) -> None:
    level = streaming()
    if how == "silent":
        level.silent(level.due or 0)
    else:
        assert level.down("gone") == LinkFact("a", "down", "gone")
        assert level.state == "down"
    if how == "down and up":
        level.up("x")
        assert level.state == "waiting"
    assert level.sample(12 * NS) == [LinkFact("a", "back", "", 5.0)]
    assert level.sample(13 * NS) == []
    assert level.streaming


def test_the_first_sample_of_all_comes_back_from_nowhere() -> None:
    level = presence()
    level.down("gone")
    level.up("")
    assert level.sample(NS) == []


def test_stuck_is_said_once_until_it_measures_again() -> None:
    level = streaming()
    assert level.sane("equal") == [LinkFact("a", "stuck", "equal")]
    assert (level.state, level.heard, level.due) == ("stuck", False, None)
    assert level.sample(8 * NS) == []
    assert level.sane("equal") == []
    assert level.sample(9 * NS) == []
    assert not level.streaming
    assert level.sane(None) == []
    assert level.streaming
    assert level.sane("equal") == [LinkFact("a", "stuck", "equal")]


def test_an_up_in_between_changes_nothing() -> None:
    level = streaming()
    level.up("x")
    assert level.streaming
    level.sane("equal")
    level.up("x")
    assert level.state == "stuck"


def test_another_instrument_is_said_to_be_one() -> None:
    level = presence()
    assert [fact.state for fact in level.up("x")] == ["up"]
    assert [fact.state for fact in level.up("")] == ["up"]
    assert level.up("y") == [
        LinkFact("a", "up", "y"),
        LinkFact("a", "swapped", "was x, now y"),
    ]
    assert [fact.state for fact in level.up("y")] == ["up"]


@pytest.mark.parametrize("mode", ["on-change", "on-press"])
def test_what_reports_by_itself_is_heard_while_its_link_is_up(mode: str) -> None:
    level = presence(mode)
    assert level.heard
    level.sample(NS)
    assert level.due is None
    assert level.heard
    level.down("gone")
    assert not level.heard
    level.up("x")
    assert level.heard


def test_silence_before_any_sample_is_counted_from_the_start() -> None:
    assert presence().silent(3 * NS).gap_s == 3.0


def test_a_link_that_comes_or_goes_tells_of_no_gap() -> None:
    level = streaming()
    said = [level.down("gone"), *level.up("y"), *level.sane("equal")]
    assert {fact.state: fact.gap_s for fact in said} == {
        "down": 0.0,
        "up": 0.0,
        "swapped": 0.0,
        "stuck": 0.0,
    }
