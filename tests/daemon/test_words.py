"""What is said at the blades.

That nobody turns a propeller by a set blade, holds the hub against
the wrench and takes play up from one side is common practice of the trade; no source.
"""

from typing import Any

import pytest

from daemon.measure.angle.correction import Correction
from daemon.measure.angle.verdict import SetVerdict
from daemon.workflow import words
from daemon.workflow.plan import Step
from tests.daemon.bench import job

RED: dict[str, Any] = {
    "blades": 2,
    "rotation": "clockwise",
    "layout": "tractor",
    "station": "150 mm in from the tip",
    "labels": ["red", "white"],
}


@pytest.mark.parametrize("stage", ["set", "torque", "baseline"])
def test_where_the_level_goes_names_mark_and_station(stage: str) -> None:
    said = words.instruction(job(propeller=RED), Step(stage, 2))
    assert "blade 2, white" in said
    assert "150 mm in from the tip" in said


@pytest.mark.parametrize(("rotation", "side"), [("clockwise", "left"), ("anticlockwise", "right")])
@pytest.mark.parametrize("stage", ["set", "final"])
def test_how_the_blade_lies_names_its_side(stage: str, rotation: str, side: str) -> None:
    said = words.instruction(job(propeller={**RED, "rotation": rotation}), Step(stage, 1))
    assert f"horizontal on the aircraft's {side}." in said
    assert "leading edge up" in said


def test_a_station_without_words_is_no_empty_bracket() -> None:
    said = words.instruction(job(propeller={**RED, "station": " "}), Step("set", 1))
    assert "at the station, leading edge up." in said
    assert "(" not in said


def test_the_propeller_is_turned_by_the_hub_whether_a_blade_is_left_to_set_or_not() -> None:
    caution = words.caution(job(), "set")
    assert "by the hub" in caution
    assert "never by a blade that is set" in caution


@pytest.mark.parametrize("name", ["snug", "nip", "torque"])
def test_the_hub_is_held_while_the_wrench_pulls(name: str) -> None:
    assert "Hold the hub" in words.instruction(job(), Step("tighten", round=name))


def test_both_sides_are_explained_where_the_reference_is_read_on_them_and_nowhere_else() -> None:
    setup = {"setup": {"reference": "both-sides"}}
    assert words.BOTH_SIDES in words.caution(job(**setup), "reference")
    assert words.BOTH_SIDES not in words.caution(job(), "reference")
    assert words.BOTH_SIDES not in words.caution(job(**setup), "set")


def test_play_is_taken_up_from_the_same_side_where_there_is_any() -> None:
    assert "same side" not in words.caution(job(), "set")
    assert "same side" in words.caution(job(setup={"play_deg": 0.2}), "set")


def test_the_end_names_locking_witness_marks_and_track() -> None:
    said = words.instruction(job(), Step("finished"))
    for word in ("Bolts locked", "witness marks", "track", "tools counted"):
        assert word in said


@pytest.mark.parametrize(
    ("aim_deg", "where"), [(20.0, ""), (20.004, ""), (20.006, " to 20.01, for the others stay")]
)
def test_where_a_set_that_is_out_is_put_right_beside_the_target_that_is_said(
    aim_deg: float, where: str
) -> None:
    """From where it would be read: numbers have two decimals."""
    verdict = SetVerdict(("out", "in"), 0.6, 0.1, "in")
    found = Correction((1,), aim_deg)
    said = words.set_is_out(job(propeller=RED), verdict, {1: 20.6, 2: 20.0}, 20.0, [1], found)
    assert said.endswith(f"Setting blade 1, red again{where} puts it right")


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (0.25, "0.25 coarse: in, let go"),
        (-0.25, "0.25 fine: in, let go"),
        (0.26, "0.26 too coarse: turn finer"),
        (-0.26, "0.26 too fine: turn coarser"),
    ],
)
def test_which_way_to_turn_is_said_until_a_blade_may_be_let_go(error: float, said: str) -> None:
    assert words.error_words(error, 0.25) == said
