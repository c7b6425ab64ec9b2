"""What a person types: understood, or refused with a sentence that says what would be right."""

import contextlib
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.dialog import understood
from shared.plan import Bolts

GOOD: list[tuple[Callable[[str], Any], str, Any]] = [
    (lambda t: understood.angle(t, -30.0, 80.0), "17.5", 17.5),
    (lambda t: understood.angle(t, -30.0, 80.0), "17,5 deg", 17.5),
    (lambda t: understood.angle(t, -30.0, 80.0), "17° 30'", 17.5),
    (lambda t: understood.angle(t, -30.0, 80.0), "-0° 15'", -0.25),
    (lambda t: understood.angle(t, -30.0, 80.0), "+4.", 4.0),
    # NIST SP 811 (2008), appendix B.9: one inch is 25.4 mm, one foot 0.3048 m, exactly
    (understood.length, "24 3/8 in", 0.619125),
    (understood.length, '24.375"', 0.619125),
    (understood.length, "2 ft", 0.6096),
    (understood.length, "620 mm", 0.62),
    (understood.length, "0,62m", 0.62),
    (understood.torque, "12 Nm", (12.0, "N.m")),
    (understood.torque, "12.5 N·m", (12.5, "N.m")),
    (understood.torque, "106 lbf in", (106.0, "lbf.in")),
    (understood.torque, "106 in-lbs", (106.0, "lbf.in")),
    (understood.torque, "9 ft-lb", (9.0, "lbf.ft")),
    (lambda t: understood.passes(t, 12.0), "50 % 100 %", [0.5, 1.0]),
    (lambda t: understood.passes(t, 12.0), "6, then 12 Nm", [0.5, 1.0]),
    (lambda t: understood.passes(t, 12.0), "0,25 0,5 1", [0.25, 0.5, 1.0]),
    (lambda t: understood.passes(t, 12.0), "100", [1.0]),
    (lambda t: understood.clamps(t, 4), "all", []),
    (lambda t: understood.clamps(t, 3), "each", [[1], [2], [3]]),
    (lambda t: understood.clamps(t, 4), "1 2, 3+4", [[1, 2], [3, 4]]),
    (lambda t: understood.clamps(t, 2), "1 2", []),
    (lambda t: understood.labels(t, 2), "green, yellow", ["green", "yellow"]),
    (lambda t: understood.labels(t, 2), "", []),
    (understood.yes, "y", True),
    (understood.yes, "NO", False),
    (lambda t: understood.whole(t, 2, 6), "3", 3),
]
BAD: list[tuple[Callable[[str], Any], str, str]] = [
    (lambda t: understood.angle(t, -30.0, 80.0), "", "is no angle"),
    (lambda t: understood.angle(t, -30.0, 80.0), "nan", "is no angle"),
    (lambda t: understood.angle(t, -30.0, 80.0), "17 30", "is no angle"),
    (lambda t: understood.angle(t, -30.0, 80.0), "17° 75'", "more than a degree"),
    (lambda t: understood.angle(t, 0.0, 10.0), "0", "more than 0 and less than 10"),
    (lambda t: understood.angle(t, -30.0, 80.0), "9" * 400, "too large"),
    (understood.length, "620", "a number with its unit"),
    (understood.length, "620 miles", "a number with its unit"),
    (understood.length, "24 3/0 in", "divides by nothing"),
    (understood.length, "62 m", "no radius of a propeller"),
    (understood.torque, "12", "a number with its unit"),
    (understood.torque, "-12 Nm", "more than nothing"),
    (understood.torque, "12 kg", "a number with its unit"),
    (lambda t: understood.passes(t, 12.0), "50 75", "whole torque"),
    (lambda t: understood.passes(t, 12.0), "100 50 100", "tighter"),
    (lambda t: understood.passes(t, 12.0), "0 100", "tighter"),
    (lambda t: understood.passes(t, 12.0), "tight", "in their order"),
    (lambda t: understood.clamps(t, 4), "1 2, 3", "Blade 4 is in no set"),
    (lambda t: understood.clamps(t, 4), "1 2 3 4 1", "named twice"),
    (lambda t: understood.clamps(t, 2), "1 2 7", "not there"),
    (lambda t: understood.clamps(t, 4), "both", "type all, each"),
    (lambda t: understood.labels(t, 2), "green", "names 1 blades, and there are 2"),
    (lambda t: understood.labels(t, 2), "green, Green", "the same name"),
    (understood.yes, "maybe", "none of these: yes, no"),
    (understood.yes, "2", "neither yes nor no"),
    (understood.words, "", "has to stand here"),
    (understood.words, "a\x1b[2J", "cannot be printed"),
    (understood.words, "x" * 201, "201 characters"),
    (lambda t: understood.whole(t, 2, 6), "3.5", "no whole number from 2 to 6"),
    (lambda t: understood.whole(t, 2, 6), "7", "no whole number from 2 to 6"),
    (understood.name_of_level, "-x", "begins with no sign"),
    (understood.name_of_bolts, "a very long name", "at most 12"),
]


@pytest.mark.parametrize(("read", "text", "value"), GOOD, ids=[one[1] for one in GOOD])
def test_it_is_understood(read: Callable[[str], Any], text: str, value: Any) -> None:
    assert read(text) == pytest.approx(value) if isinstance(value, float) else read(text) == value


@pytest.mark.parametrize(("read", "text", "says"), BAD, ids=[one[1][:20] for one in BAD])
def test_it_is_refused_in_words(read: Callable[[str], Any], text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        read(text)


READERS: list[Callable[[str], Any]] = [
    lambda t: understood.angle(t, -30.0, 80.0),
    understood.length,
    understood.torque,
    lambda t: understood.passes(t, 12.0),
    lambda t: understood.clamps(t, 4),
    lambda t: understood.labels(t, 3),
    understood.yes,
    understood.words,
    lambda t: understood.whole(t, 2, 6),
    understood.name_of_level,
    understood.name_of_bolts,
]


@given(st.sampled_from(READERS), st.text() | st.from_regex(r"[-+0-9., /°'a-z%]{0,12}"))
def test_nothing_that_is_typed_is_worse_than_refused(read: Callable[[str], Any], text: str) -> None:
    with contextlib.suppress(ValueError):
        read(text)


@given(st.text(alphabet="0123456789., %", max_size=16), st.floats(1.0, 200.0))
def test_passes_that_are_understood_are_passes_of_a_job(text: str, torque: float) -> None:
    try:
        shares = understood.passes(text, torque)
    except ValueError:
        return
    if len(shares) <= 12:
        Bolts(name="hub", count=6, torque=torque, unit="N.m", passes=shares)


@given(st.text(alphabet="123456 ,+", max_size=14), st.integers(2, 6))
def test_clamps_that_are_understood_hold_each_blade_once(text: str, blades: int) -> None:
    try:
        sets = understood.clamps(text, blades)
    except ValueError:
        return
    assert sorted(blade for one in sets for blade in one) in ([], list(range(1, blades + 1)))
