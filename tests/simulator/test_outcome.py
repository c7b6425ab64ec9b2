"""The confusion table on jobs written by hand, and its bounds against scipy."""

from itertools import pairwise
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest

from shared.events import (
    REFERENCE,
    Alarm,
    Asked,
    BladeId,
    Body,
    Captured,
    Cleared,
    Event,
    Held,
    Judged,
    StepChanged,
    Summary,
    Verdict,
    VerdictState,
    Watched,
)
from simulator.bounds import exact_bounds
from simulator.confusion import counts, rates
from simulator.outcome import breaches, judge
from simulator.scenario import Allowed
from simulator.truth import Move, Shift, Truth

ALLOWED = Allowed()
END = Summary("finished", [], None, None, None, None, [], [], 0)


def truth(*steps: tuple[int, float], shifts: tuple[Shift, ...] = ()) -> Truth:
    """One blade that starts at 21.0 and takes these angles at these times."""
    past = ((0, 21.0), *steps)
    moves = tuple(
        Move(t_ns, 1, now - before, "check", "knock") for (_, before), (t_ns, now) in pairwise(past)
    )
    return Truth(1000, (past[-1][1],), 3.0, moves, shifts, (past,))


def read(angle: float = 21.0, stage: str = "check") -> Captured:
    return Captured(
        1, 1, stage, angle, 0.1, 20, "chord", 18.0, None, None, "normal", 1, "press"
    )  # fmt: skip


def said(state: VerdictState, blade: BladeId = 1, hide: float | None = None) -> Verdict:
    return Verdict(blade, state, 0.0, 0.1, 0.5, "check", 1, "", hide)


def events(*bodies: tuple[int, Body]) -> list[Event]:
    return [Event(n, t_ns, body) for n, (t_ns, body) in enumerate(bodies, start=1)]


HELD = Held(1, 21.0, 0.05, 0.0, "in")


@pytest.mark.parametrize(
    ("steps", "state", "kind"),
    [
        ((), "steady", "left alone"),
        ((), "moved", "accused"),
        ((), "turned", "accused"),
        (((150, 21.5),), "moved", "called"),
        (((150, 21.5),), "turned", "called"),
        (((150, 21.5),), "steady", "missed"),
        (((150, 21.5),), "not known", "missed"),
        (((150, 21.1),), "steady", "slight"),
        (((150, 21.1),), "moved", "called"),
    ],
)
def test_one_blade_read_once(
    steps: tuple[tuple[int, float], ...], state: VerdictState, kind: str
) -> None:
    rows = judge(events((100, HELD), (200, read()), (210, said(state))), truth(*steps), ALLOWED)
    assert [row.kind for row in rows if not row.kind.startswith(("measured", "reference"))] == [
        kind
    ]


@pytest.mark.parametrize(("state", "blamed"), [("moved", 1), ("steady", 0)])
def test_a_shift_laid_to_a_blade_is_counted_besides(state: VerdictState, blamed: int) -> None:
    shift = Shift(150, "aircraft", 0.5, "check", "settle", lasting=True)
    job = events((100, HELD), (200, read()), (210, said(state)))
    lines = {r.what: r for r in rates(judge(job, truth(shifts=(shift,)), ALLOWED))}
    line = lines["the same, in jobs in which something shifted"]
    assert (line.count, line.of) == (blamed, 1)
    assert lines["an untouched blade was accused"].count == blamed
    nothing = {r.what: r.of for r in rates(judge(job, truth(), ALLOWED))}
    assert nothing["the same, in jobs in which something shifted"] == 0


def test_a_move_after_the_last_reading_is_unread_and_not_missed() -> None:
    job = events((100, HELD), (200, read()), (210, said("steady")))
    rows = judge(job, truth((205, 22.0)), ALLOWED)
    assert {row.kind for row in rows} == {"left alone", "unread", "measured", "reference cleared"}


def test_a_reading_before_the_move_does_not_convict_the_verdict_after_it() -> None:
    job = events((100, HELD), (200, read()), (300, said("steady", hide=0.1)))
    assert "steady but moved" not in counts(judge(job, truth((250, 22.0)), ALLOWED))


@pytest.mark.parametrize(("hide", "kind"), [(0.29, "steady but moved"), (0.31, "steady")])
def test_steady_is_held_to_what_it_said_could_hide(hide: float, kind: str) -> None:
    job = events((100, HELD), (200, read()), (210, said("steady", hide=hide)))
    assert counts(judge(job, truth((150, 21.3)), ALLOWED)).get(kind) == 1  # type: ignore[call-overload]


def test_set_again_begins_a_new_episode() -> None:
    step = StepChanged(5, "set", 1, "red", 1, 1, "")
    job = events(
        (100, HELD),
        (200, read()),
        (210, said("moved")),
        (220, step),
        (300, HELD),
        (400, read()),
        (410, said("steady")),
    )
    rows = judge(job, truth((150, 21.5), (250, 21.0)), ALLOWED)
    assert counts(rows)["called"] == 1
    assert counts(rows)["left alone"] == 1
    assert "accused" not in counts(rows)


def test_an_accepted_change_is_the_new_baseline() -> None:
    job = events(
        (100, HELD),
        (200, read(21.5)),
        (210, said("moved")),
        (220, Alarm(1, 1, "moved", 21.0, "")),
        (230, Cleared(1, "accept", "Ada", "so be it")),
        (300, read(21.5)),
        (310, said("steady", hide=0.1)),
    )
    rows = counts(judge(job, truth((150, 21.5)), ALLOWED))
    assert rows["called"] == 1
    assert rows["left alone"] == 1
    assert rows["steady"] == 1


def test_what_bolts_turned_is_held_to_where_it_was_read() -> None:
    judged = Judged("torque", [], 0.0, 0.1, "in", "in", "")
    turned = (
        (100, HELD), (200, read(21.4, "torque")), (210, said("turned")), (210, judged),
        (300, read(21.4, "final")), (310, said("steady", hide=0.1)),
    )  # fmt: skip
    rows = judge(events(*turned), truth((150, 21.4)), ALLOWED)
    assert [row.kind for row in rows if row.kind in {"called", "steady", "steady but moved"}] == [
        "called",
        "steady",
    ]


def test_held_anew_before_it_was_read_again_is_held_as_it_was_at_first() -> None:
    """It was knocked between; nobody who calls it accuses an innocent."""
    story = events((100, HELD), (160, HELD), (200, read(21.5)), (201, said("moved")), (300, END))
    rows = judge(story, truth((150, 21.5)), ALLOWED)
    assert "called" in counts(rows)
    assert not {"accused", "missed", "unread"} & counts(rows).keys()


@pytest.mark.parametrize(
    ("angle", "state", "kind"), [(21.0, "moved", "called"), (21.5, "steady", "steady")]
)
def test_held_anew_is_held_as_it_stood_when_it_read_like_that(
    angle: float, state: VerdictState, kind: str
) -> None:
    """Knocked and read: then what it was set to is referred anew, or what was read is accepted."""
    anew = Held(1, angle, 0.05, 0.0, "in")
    story = events(
        (100, HELD), (180, read(21.5)), (190, anew), (200, read(21.5)), (201, said(state, hide=0.1))
    )
    rows = counts(judge(story, truth((150, 21.5)), ALLOWED))
    assert kind in rows
    assert not {"accused", "steady but moved"} & rows.keys()


def test_held_anew_to_another_reference_is_held_as_it_was_read_last() -> None:
    story = events(
        (100, HELD), (120, read()), (160, HELD), (200, read(21.5)), (201, said("moved")), (300, END)
    )
    kinds = [row.kind for row in judge(story, truth((150, 21.5)), ALLOWED)]
    assert "called" in kinds
    assert "accused" not in kinds


@pytest.mark.parametrize(
    ("shifts", "state", "kind"),
    [
        ((), "shifted", "reference blamed"),
        ((), "steady", "reference cleared"),
        ((Shift(5, "aircraft", 0.5, "", "settle", lasting=True),), "shifted", "shift seen"),
        ((Shift(5, "level", 0.3, "", "zero", lasting=True),), "steady", "shift unseen"),
        ((Shift(5, "level", -0.29, "", "zero", lasting=True),), "steady", None),  # not demanded
        ((Shift(5, "level", 0.1, "", "zero", lasting=True),), "shifted", "shift seen"),
        ((Shift(5, "aircraft", 0.5, "", "rock", lasting=False),), "shifted", None),  # it came back
    ],
)
def test_the_reference(shifts: tuple[Shift, ...], state: VerdictState, kind: str | None) -> None:
    rows = judge(events((100, said(state, REFERENCE))), truth(shifts=shifts), ALLOWED)
    assert [row.kind for row in rows] == ([kind] if kind else [])


def test_readings_are_held_to_their_uncertainty() -> None:
    rows = judge(events((100, read(21.09)), (110, read(21.11))), truth(), ALLOWED)
    assert counts(rows)["measured"] == 1
    assert counts(rows)["measured outside"] == 1


def test_what_is_not_allowed_is_told_in_words() -> None:
    job = events(
        (100, HELD),
        (200, read(22.0)),
        (210, said("moved")),
        (220, said("shifted", REFERENCE)),
        (230, Asked(1, 1, -18.0, "look: leading edge up?")),
    )
    says = [breach.says for breach in breaches(job, truth(), ALLOWED)]
    assert len(says) == 5
    assert any("called moved; truly +0.00" in say for say in says)
    assert any("reference called shifted" in say for say in says)
    assert any("asked" in say for say in says)
    assert any("read +1.00 wrong" in say for say in says)
    assert any("did not end" in say for say in says)
    wide = Allowed(
        untouched=("moved",), reference=("shifted",), asks=True, error_deg=2.0, unfinished=True
    )
    assert breaches(job, truth(), wide) == []


def test_a_job_within_what_is_allowed_has_no_breach() -> None:
    job = events((100, HELD), (200, read()), (210, said("steady", hide=0.2)), (300, END))
    assert breaches(job, truth(), ALLOWED) == []


def test_a_missed_blade_and_an_overstated_steadiness_are_breaches() -> None:
    job = events((100, HELD), (200, read(21.6)), (210, said("steady", hide=0.2)), (300, END))
    says = [breach.says for breach in breaches(job, truth((150, 21.6)), ALLOWED)]
    assert len(says) == 3
    assert any("not called" in say for say in says)
    assert any("could hide" in say for say in says)
    assert any("called steady; truly +0.60" in say for say in says)


@pytest.mark.parametrize(
    ("state", "moved", "breach"),
    [("moved", False, True), ("moved", True, False), ("shaken", False, False)],
)
def test_a_watched_blade_is_not_accused_either(
    state: Literal["moved", "shaken"], moved: bool, breach: bool
) -> None:
    job = events((200, Watched("watch", 1, state, 0.5, 0.1, "")), (300, END))
    true = truth((150, 21.5)) if moved else truth()
    assert bool(breaches(job, true, ALLOWED)) == breach


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 400), st.data(), st.sampled_from([0.9, 0.95, 0.99]))
def test_bounds_agree_with_scipy(of: int, data: st.DataObject, confidence: float) -> None:
    count = data.draw(st.integers(0, of))
    interval = binomtest(count, of).proportion_ci(confidence, method="exact")
    assert exact_bounds(count, of, confidence) == pytest.approx(
        (interval.low, interval.high), abs=1e-9
    )


def test_bounds_of_none_seen_follow_the_rule_in_closed_form() -> None:
    """0 of n: the upper bound is 1 - (alpha / 2) ** (1 / n)."""
    assert exact_bounds(0, 100) == pytest.approx((0.0, 1 - 0.025**0.01), abs=1e-12)
    assert exact_bounds(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(("count", "of", "confidence"), [(-1, 3, 0.9), (4, 3, 0.9), (1, 3, 1.0)])
def test_impossible_proportions_are_refused(count: int, of: int, confidence: float) -> None:
    with pytest.raises(ValueError, match="of"):
        exact_bounds(count, of, confidence)


def test_rates_ask_of_the_right_cases() -> None:
    job = events((100, HELD), (200, read()), (210, said("moved")))
    called = judge(job, truth((150, 21.5)), ALLOWED)
    accused = judge(job, truth(), ALLOWED)
    lines = {rate.what: (rate.count, rate.of) for rate in rates(called + accused)}
    assert lines["a moved blade was called"] == (1, 1)
    assert lines["a moved blade was missed"] == (0, 1)
    assert lines["an untouched blade was accused"] == (1, 1)
    assert lines["the reference was blamed for nothing"] == (0, 2)
    assert lines["a shift was laid to the reference"] == (0, 0)
    assert all(rate.low <= rate.share <= rate.high for rate in rates(called + accused))
