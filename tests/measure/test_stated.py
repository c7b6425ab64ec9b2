"""The constants of measuring are those that docs/measuring.md and docs/moved.md state and give reasons for."""

from itertools import pairwise

import pytest

from daemon.measure.angle.blade import NO_REFERENCE_U_DEG
from daemon.measure.angle.placement import ASSUMED_DOF
from daemon.measure.angle.suspicion import (
    ASKEW_U,
    FOLD_DEG,
    NEAR_DEG,
    REFUSE_PSI_DEG,
    STEEPEST_SHAFT_DEG,
    TILT_FOLD_DEG,
    UNSET_DEG,
    WARN_PSI_DEG,
)
from daemon.measure.moved.could_hide import _MISSED
from daemon.measure.moved.decide import SECOND_LOOK
from daemon.measure.moved.diagnose import REFERENCE_READINGS
from daemon.measure.moved.model import ASKEW_PRIOR, UNSEATED_PRIOR
from daemon.measure.moved.odds import EXCHANGE_PRIOR
from daemon.measure.stream.average import CUT
from daemon.measure.stream.gate import PATIENCE
from daemon.measure.stream.handling import FAR, HAND_SPEED
from daemon.measure.stream.learning import ENOUGH_PLACEMENTS
from daemon.measure.stream.looks import ARRIVES, TAKES
from daemon.measure.stream.pace import FEWEST, LONGEST_S
from daemon.measure.stream.settling import COARSEST_DEG
from daemon.measure.stream.stillness import SHARE_OF_U, TAILS_S
from daemon.measure.stream.sway import AT_MOST, FREQUENCIES_HZ, PLACEMENTS, SPAN_S, SURE
from daemon.measure.stream.unsaid import LATE
from daemon.measure.stream.unsaid import LONGEST_S as LONGEST_UNSAID_S
from daemon.measure.watch.creep import SPANS
from daemon.measure.watch.cusums import SIZES
from daemon.measure.watch.detector import PAID
from daemon.measure.watch.judge import LIMIT, OPEN
from daemon.measure.watch.streams import FOLLOW_S
from daemon.measure.watch.watch import (
    LOOKS,
    PATIENCE_S,
    STILL_S,
    TAKEN_OFF_S,
    WARM_UP_S,
)
from tests.stated import page, word

MEASURING, MOVED = page("measuring"), page("moved")


def test_what_is_asked_about_and_what_is_refused() -> None:
    for sentence in (
        f"a warning at the start over {WARN_PSI_DEG:g} degree, a job refused over {REFUSE_PSI_DEG:g}",
        f"Within {NEAR_DEG:g} degrees of 45 an angle and its complement cannot be told apart",
        (
            f"within {TILT_FOLD_DEG:g} of the fold (an aircraft tilts by no more than 5 while its blades "
            f"are set), or within {ASKEW_U:g} u and the stated wobble"
        ),
        f"where the other is within {UNSET_DEG:g} of the target too",
        f"target or reading within {FOLD_DEG:g} of the fold, or within {ASKEW_U:g} u",
        f"a shaft within {STEEPEST_SHAFT_DEG:g} of level and a blade within {UNSET_DEG:g} of the target",
    ):
        assert sentence in MEASURING, sentence


def test_the_stream() -> None:
    for sentence in (
        f"{word(PATIENCE)} refused neighbours are followed",
        f"a second is `ceil(rate)` of them and at least {FEWEST}",
        f"Faster than {HAND_SPEED:g} degrees a second and further than the lift angle",
        f"further than {word(FAR)} times the lift angle however slowly",
        f"Where one stands out by {word(ARRIVES)} standard deviations",
        f"must be under {SHARE_OF_U:g} of the expanded uncertainty of a placement",
        f"Values further than {word(CUT)} robust standard deviations",
        f"a third of the seating or the resolution ({COARSEST_DEG:g} at most)",
        f"at the latest after {word(LONGEST_S)} seconds",
        f"half a period late; the average grows as a stream's would, for {word(LONGEST_UNSAID_S)} seconds",
        f"used from the next placement on, after {word(ENOUGH_PLACEMENTS)} or six",
    ):
        assert sentence in MEASURING, sentence
    assert LATE == 0.5, "half a period"
    assert ARRIVES == TAKES


def test_a_dozen_tails_of_which_one_is_near_any_movement() -> None:
    assert f"A dozen exponential tails, from {TAILS_S[0]:g} to {TAILS_S[-1]:g} seconds" in MEASURING
    assert len(TAILS_S) == 12
    steps = [later / sooner for sooner, later in pairwise(TAILS_S)]
    assert min(steps) > 1.25
    assert max(steps) < 1.42


def test_the_sway() -> None:
    slowest, quickest = FREQUENCIES_HZ[0], FREQUENCIES_HZ[-1]
    for sentence in (
        f"What lay on each of the last {word(PLACEMENTS)} placements",
        f"a swing of {slowest:g} to {quickest:g} a second against none",
        f"No placement says more than a factor of e^{AT_MOST:g}",
        f"From odds of e^{SURE:g} on an average is the middle of a swing, spans {word(SPAN_S)} to ten",
    ):
        assert sentence in MEASURING, sentence


def test_frequencies_lie_as_close_as_six_seconds_tell_them_apart() -> None:
    """A span T tells frequencies apart that differ by 1 / T (Rayleigh); here four and eight times as close."""
    steps = [round(quicker - slower, 9) for slower, quicker in pairwise(FREQUENCIES_HZ)]
    assert steps == [0.02] * 5 + [0.04] * 15
    assert max(steps) <= 1.0 / (4.0 * SPAN_S)


def test_what_is_assumed_is_worth_four_degrees_of_freedom() -> None:
    counts = f"A seating that nobody measured counts as {word(ASSUMED_DOF)} degrees of freedom"
    assert counts in MEASURING


def test_between_two_readings() -> None:
    for sentence in (
        f"prior {EXCHANGE_PRIOR:g} a pair; an assumption",
        f"Each has a prior of {ASKEW_PRIOR:g} (an assumption)",
        "it is read twice more before it is blamed",
    ):
        assert sentence in MOVED, sentence
    assert UNSEATED_PRIOR == ASKEW_PRIOR
    assert REFERENCE_READINGS == 1 + 2
    assert SECOND_LOOK == 1 + 1, "wants a second look at its blade"
    assert "calls 19 times in 20" in MOVED
    assert pytest.approx(1.0 - 19.0 / 20.0) == _MISSED


def test_while_a_level_is_watching() -> None:
    *smaller, largest = SIZES
    *lengths, longest = SPANS
    for sentence in (
        f"made for shifts of {', '.join(f'{one:g}' for one in smaller)} and {largest:g} sigma",
        f"followed with a memory of half a minute; limits learned from n samples are 1 + {PAID:g}/n",
        f"waits until {word(STILL_S)} seconds are still",
        f"A change over {word(LIMIT)} of its standard uncertainties (and 0.05) is called",
        f"one under {word(OPEN)} is none",
        f"it is looked at for {', '.join(f'{look * STILL_S:g}' for look in LOOKS[1:])} seconds",
        f"a warm-up of 0.1 in {word(WARM_UP_S / 60.0)} minutes for each level",
        f"a steady slope over {', '.join(map(str, lengths))} or {longest} seconds",
        f"silent for {word(TAKEN_OFF_S)} seconds and more",
    ):
        assert sentence in MOVED, sentence
    assert FOLLOW_S == 60.0 / 2.0, "half a minute"
    assert "after a minute without any rest" in MOVED
    assert PATIENCE_S == 60.0


def test_a_shaft_that_nobody_measured_is_as_unsure_as_aircraft_stand() -> None:
    assert NO_REFERENCE_U_DEG == 5.0
    assert "an aircraft tilts by no more than 5 while its blades are set" in MEASURING
