"""Every way of writing an angle, under every profile of text: the right angle, or none.

The lines are written by plain formulas here; no part of the codec writes them.
"""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import codecs
from tests.drivers.making import angles, profile_of


def minutes_of(angle: float) -> tuple[str, int, float]:
    """Sign, degrees, and minutes to a tenth."""
    tenths = round(abs(angle) * 600.0)
    return "-" if angle < 0 else "", tenths // 600, tenths % 600 / 10.0


def seconds_of(angle: float) -> tuple[str, int, int, int]:
    """Sign, degrees, minutes and seconds."""
    seconds = round(abs(angle) * 3600.0)
    return "-" if angle < 0 else "", seconds // 3600, seconds // 60 % 60, seconds % 60


def marked(angle: float) -> str:
    sign, degrees, minutes = minutes_of(angle)
    return f"{sign}{degrees}° {minutes:04.1f}'"


def unmarked(angle: float) -> str:
    sign, degrees, minutes = minutes_of(angle)
    return f"{sign}{degrees} {minutes:04.1f}"


def three(angle: float) -> str:
    sign, degrees, minutes, seconds = seconds_of(angle)
    return f"{sign}{degrees}:{minutes:02d}:{seconds:02d}"


def three_marked(angle: float) -> str:
    sign, degrees, minutes, seconds = seconds_of(angle)
    return f"{sign}{degrees}°{minutes:02d}'{seconds:02d}\""


def letter_behind(angle: float) -> str:
    return f"{abs(angle):.2f}° {'S' if angle < 0 else 'N'}"


def letter_before(angle: float) -> str:
    return f"{'S' if angle < 0 else 'N'}{abs(angle):.2f}"


def trailing(angle: float) -> str:
    return f"{abs(angle):.2f}{' -' if angle < 0 else ' +'}"


WAYS: dict[str, Callable[[float], str]] = {
    "plain": "{:.2f}".format,
    "sign apart": lambda angle: f"{'-' if angle < 0 else '+'} {abs(angle):.2f}",
    "degrees": "{:.2f} deg".format,
    "comma": lambda angle: f"{angle:.2f}".replace(".", ","),
    "marked": marked,
    "unmarked": unmarked,
    "three": three,
    "three marked": three_marked,
    "letter behind": letter_behind,
    "letter before": letter_before,
    "trailing": trailing,
}
PROFILES: dict[str, dict[str, Any]] = {
    "shipped": {},
    "comma": {"decimal": "comma"},
    "semicolons": {"separator": "semicolon"},
    "minutes": {"notation": "minutes"},
    "seconds": {"notation": "seconds"},
    "letters": {"minus": ["S"], "plus": ["N"]},
    "trailing": {"minus": ["-"], "plus": ["+"]},
    "pattern": {"pattern": "{angle}"},
    "open pattern": {"pattern": "{angle} {*}"},
}
READ_BY = {
    "plain": "shipped",
    "sign apart": "shipped",
    "degrees": "shipped",
    "comma": "comma",
    "marked": "shipped",
    "unmarked": "minutes",
    "three": "seconds",
    "three marked": "shipped",
    "letter behind": "letters",
    "letter before": "letters",
    "trailing": "trailing",
}
ANGLES = st.integers(-17_999, 17_999).map(lambda hundredths: hundredths / 100.0)


def read(profile: str, line: str) -> list[float]:
    options = {"first_line": "keep"} | PROFILES[profile]
    fields = {"angle": {"source": "angle" if "pattern" in options else "1"}}
    codec = codecs.make(profile_of("text-line", format={"options": options}, fields=fields))
    found = angles(codec, line.encode() + b"\n")
    assert len(found) + sum(codec.refused.values()) == 1, "read or counted, nothing else"
    return found


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("way", WAYS)
@given(angle=ANGLES)
@settings(max_examples=40, deadline=None)
def test_the_right_angle_or_none(way: str, profile: str, angle: float) -> None:
    found = read(profile, WAYS[way](angle))
    assert found == [] or found == pytest.approx([angle], abs=0.0011)


@pytest.mark.parametrize("way", WAYS)
@given(angle=ANGLES)
@settings(max_examples=40, deadline=None)
def test_the_profile_that_says_how_it_is_written_reads_it(way: str, angle: float) -> None:
    assert read(READ_BY[way], WAYS[way](angle)) == pytest.approx([angle], abs=0.0011)
