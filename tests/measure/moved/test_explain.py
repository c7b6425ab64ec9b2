"""The sentences: one for each reason, word by word."""

from typing import Any, get_args

import pytest

from daemon.measure.moved.explain import SENTENCES, explain
from daemon.measure.moved.model import Decided, Decision, Reason, Shift, ShiftStage, Terms
from shared.events import REFERENCE, BladeId, VerdictState
from shared.job import Thresholds

TERMS = Terms(Thresholds(), 0.2, 0.1, frozenset({3}), 3, 3, 0.25)
ONE = Decision(1, "steady", "steady", 0.1, 0.08, 0.04, 2, 0.2512345678, None, False, False)
SIZE = "0.10 ± 0.08 coarser"


def say(
    first: Decision,
    *others: Decision,
    stage: ShiftStage = "none",
    shift: float = 0.5,
    labels: dict[int, str] | None = None,
    than: dict[int, str] | None = None,
) -> str:
    decided = Decided((first, *others), (), Shift(stage, 0.42, shift, 0.05))
    return explain(decided, TERMS, "snug", labels or {}, than or {})[0].say


def but(one: Decision, **different: Any) -> Decision:
    return one._replace(**different)


def as_is(reason: Reason, state: VerdictState = "not known", blade: BladeId = 1) -> Decision:
    return but(ONE, blade=blade, state=state, reason=reason)


def test_every_reason_has_a_sentence() -> None:
    assert set(SENTENCES) == set(get_args(Reason))


@pytest.mark.parametrize(
    ("one", "sentence"),
    [
        (as_is("steady"), f"blade 1 is steady ({SIZE}): a move under 0.25 could hide"),
        (
            as_is("steady", blade=REFERENCE),
            f"the reference is steady ({SIZE}): a move under 0.25 could hide",
        ),
        (
            as_is("reference first"),
            f"blade 1 reads {SIZE}; not known until the reference has been read again",
        ),
        (as_is("within play"), f"blade 1 is within its play ({SIZE}, play 0.25)"),
        (
            as_is("within wide play"),
            (
                f"blade 1 is within its play ({SIZE}, play 0.25); "
                "settle it after the nip: its play is wider than the tolerance"
            ),
        ),
        (
            as_is("in doubt"),
            f"blade 1 reads {SIZE}, too close to say (probability 0.04): place again",
        ),
        (
            as_is("in doubt to the end"),
            (
                f"blade 1 is not known after 2 placements ({SIZE}): moved (0.04) and "
                "steady (0.96) remain possible"
            ),
        ),
        (
            but(as_is("in doubt to the end"), partner=2, exchanged=0.1),
            (
                f"blade 1 is not known after 2 placements ({SIZE}): moved (0.04), "
                "exchanged with blade 2 (0.10) and steady (0.96) remain possible"
            ),
        ),
        (
            but(as_is("in doubt to the end"), partner=2, exchanged=0.09999),
            (
                f"blade 1 is not known after 2 placements ({SIZE}): moved (0.04) and "
                "steady (0.96) remain possible"
            ),
        ),
        (
            but(as_is("in doubt to the end"), placements=1),
            (
                f"blade 1 is not known after 1 placement ({SIZE}): moved (0.04) and "
                "steady (0.96) remain possible"
            ),
        ),
        (
            as_is("in doubt to the end", blade=3),
            (
                f"blade 3 is not known after 2 placements ({SIZE}): turned (0.04) and "
                "steady (0.96) remain possible"
            ),
        ),
        (
            as_is("blunt"),
            (
                "blade 1 is not known: a move under 0.25 could hide, more than the tolerance of "
                "0.20; place it again"
            ),
        ),
        (
            but(as_is("blunt"), could_hide_deg=0.15),
            (
                "blade 1 is not known: a move under 0.15 could hide, more than the 0.10 that is "
                "to be found; place it again"
            ),
        ),
        (
            as_is("blunt for good"),
            (
                "blade 1 is not known: a move under 0.25 could hide, more than the tolerance of "
                "0.20; another placement would hardly tell more, a level that seats better would"
            ),
        ),
        (
            as_is("blunt to the end"),
            (
                "blade 1 is not known: a move under 0.25 could hide, more than the tolerance of "
                "0.20; no placement is left"
            ),
        ),
        (
            as_is("blunt within play"),
            (
                "blade 1 is not known: a move under 0.25 could hide, more than the tolerance of "
                "0.20; settle it after the nip: its play is wider than the tolerance"
            ),
        ),
        (
            as_is("shift in doubt", blade=REFERENCE),
            (
                f"the reference reads {SIZE}; a shift of aircraft or level is possible "
                "(probability 0.04): read the reference again"
            ),
        ),
        (
            as_is("shift in doubt to the end", blade=REFERENCE),
            (
                f"the reference is not known after 2 placements ({SIZE}): a shift (0.04) and "
                "moved blades remain possible"
            ),
        ),
    ],
)
def test_the_sentence_of_each_reason(one: Decision, sentence: str) -> None:
    assert say(one) == sentence


def test_a_possible_shift_is_one_more_explanation() -> None:
    three = (
        f"blade 1 is not known after 2 placements ({SIZE}): moved (0.04), "
        "shifted with everything else (0.42) and steady (0.96) remain possible"
    )
    assert say(as_is("in doubt to the end"), stage="possible") == three
    for stage in ("likely", "concluded"):
        assert "shifted" not in say(as_is("in doubt to the end"), stage=stage)


def test_exchanged_labels_name_both() -> None:
    one = but(as_is("labels exchanged", "exchanged"), partner=2, change_deg=-0.6)
    assert say(one, labels={1: "", 2: "red"}) == (
        "blade 1 and blade 2 (red) read like each other (blade 1 by -0.60): their labels were "
        "exchanged, or each turned by just the difference; look which is which"
    )


def test_a_blade_is_called_by_its_mark() -> None:
    assert say(as_is("steady"), labels={1: "red"}).startswith("blade 1 (red) is steady")
    assert say(as_is("steady"), labels={1: "1"}).startswith("blade 1 is steady")
    assert say(as_is("steady"), labels={1: ""}).startswith("blade 1 is steady")


# --- what was moved, and who agrees ---------------------------------------------------------

MOVED = as_is("moved", "moved")
STEADY = [as_is("steady", "steady", blade) for blade in (2, 3)]
REFERRED = as_is("steady", "steady", REFERENCE)
UNSURE = as_is("in doubt", "place again", 4)


@pytest.mark.parametrize(
    ("others", "agree"),
    [
        ((), "; nothing else is known to agree"),
        ((UNSURE,), "; nothing else is known to agree"),
        ((REFERRED,), "; the reference agrees"),
        ((as_is("shift in doubt", "place again", REFERENCE),), "; nothing else is known to agree"),
        ((STEADY[0],), "; blade 2 agrees"),
        ((STEADY[0], UNSURE), "; blade 2 agrees"),
        ((STEADY[0], REFERRED), "; blade 2 and the reference agree"),
        ((*STEADY,), "; the others agree"),
        ((*STEADY, REFERRED), "; the others and the reference agree"),
        ((*STEADY, UNSURE), "; blade 2 and blade 3 agree"),
        ((*STEADY, UNSURE, REFERRED), "; blade 2, blade 3 and the reference agree"),
    ],
)
def test_who_agrees(others: tuple[Decision, ...], agree: str) -> None:
    assert say(MOVED, *others) == f"blade 1 is {SIZE} than when it was set{agree}"
    since = say(MOVED, *others, than={1: "after torque"})
    assert since == f"blade 1 is {SIZE} than after torque{agree}"


def test_turned_names_the_step() -> None:
    assert say(but(MOVED, state="turned"), *STEADY) == (
        f"blade 1 was turned by tightening (snug): {SIZE} than before; the others agree"
    )


# --- shifts ---------------------------------------------------------------------------------


def test_a_shift_taken_off_is_said() -> None:
    off = ", a shift of -0.50 of aircraft or level taken off"
    assert say(ONE, stage="concluded", shift=-0.5) == (
        f"blade 1 is steady ({SIZE}{off}): a move under 0.25 could hide"
    )
    assert say(MOVED, REFERRED, stage="concluded", shift=-0.5) == (
        f"blade 1 is {SIZE} than when it was set{off}; the reference agrees"
    )


@pytest.mark.parametrize(
    ("shift", "truly"), [(0.5, "0.50 finer"), (-0.5, "0.50 coarser"), (0.0, "0.00 finer")]
)
def test_a_blade_set_after_a_shift_is_truly_off(shift: float, truly: str) -> None:
    one = but(ONE, spared=True)
    assert say(one, stage="concluded", shift=shift) == (
        f"blade 1 is steady ({SIZE}, set after the shift: truly {truly} than it was read): "
        "a move under 0.25 could hide"
    )


@pytest.mark.parametrize(
    ("shows", "after", "words"),
    [
        (0, 0, ""),
        (1, 0, " and the held blade with it"),
        (2, 0, " and the 2 held blades with it"),
        (1, 1, " and the held blade with it; one blade was set after it"),
        (0, 3, "; 3 blades were set after it"),
    ],
)
def test_a_shift_counts_the_blades_that_show_it(shows: int, after: int, words: str) -> None:
    shifted = as_is("shift concluded", "shifted", REFERENCE)
    blades = [but(ONE, blade=k + 1, spared=k >= shows) for k in range(shows + after)]
    assert say(shifted, *blades, stage="concluded") == (
        f"aircraft or level shifted: reference reads {SIZE}{words}"
    )


# --- the numbers ----------------------------------------------------------------------------


def test_numbers_are_rounded_to_a_millionth() -> None:
    one = but(ONE, change_deg=0.10000049, u95_deg=0.0800004, probability=0.0400004)
    other = but(as_is("shift concluded", "shifted", REFERENCE), could_hide_deg=None)
    decided = Decided((one, other), (), Shift("concluded", 0.95, 0.4, 0.05))
    first, second = explain(decided, TERMS, "snug", {}, {})
    assert (first.blade, first.state) == (1, "steady")
    assert (first.change_deg, first.u95_deg, first.probability) == (0.1, 0.08, 0.04)
    assert first.could_hide_deg == 0.251235
    assert (second.blade, second.state, second.could_hide_deg) == (REFERENCE, "shifted", None)


def test_a_call_tells_the_rounded_numbers_of_its_finding() -> None:
    """A hair under 0.135 is 0.135 once it is rounded to a millionth, and 0.14 as it is told."""
    hair = but(MOVED, change_deg=0.13499999999, u95_deg=0.13499999999)
    assert say(hair).startswith("blade 1 is 0.14 ± 0.14 coarser")
    assert "(0.13 ± 0.13 coarser)" in say(but(hair, state="steady", reason="steady"))
