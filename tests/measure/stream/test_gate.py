"""What is refused, and that the gate never locks."""

from daemon.measure.stream.gate import PATIENCE, Gate
from daemon.measure.stream.tilts import Tilt
from tests.measure.levels import profile


def at(angle: float) -> Tilt:
    return Tilt(angle, None, None)


def test_out_of_range_and_implausible_steps() -> None:
    gate = Gate(profile(limits={"low_deg": -60, "high_deg": 60, "step_deg": 5}))
    assert gate.refuse({}, at(10)) is None
    assert gate.refuse({}, at(70)) == "out of range"
    assert gate.refuse({}, at(20)) == "implausible step"
    assert gate.refuse({}, at(12)) is None


def test_a_big_swing_is_followed() -> None:
    gate = Gate(profile(limits={"step_deg": 5}))
    gate.refuse({}, at(10))
    refused = [gate.refuse({}, at(80 + 0.1 * i)) for i in range(10)]
    assert refused[:PATIENCE] == ["implausible step"] * PATIENCE
    assert refused[PATIENCE:] == [None] * (10 - PATIENCE)


def test_across_180_is_a_small_step() -> None:
    gate = Gate(profile(limits={"step_deg": 5}))
    gate.refuse({}, at(179))
    assert gate.refuse({}, at(-179)) is None


def test_sequence_repeats_order_and_counter_begun_anew() -> None:
    gate = Gate(profile())
    said = [gate.refuse({"sequence": n}, at(1)) for n in (5, 5, 4, 6, 255, 0, 1)]
    assert said == [None, "repeated", "out of order", None, None, None, None]


def test_a_stuck_counter_does_not_lock() -> None:
    gate = Gate(profile())
    said = [gate.refuse({"sequence": 7}, at(1)) for _ in range(9)]
    assert None in said[1:]


def test_another_mode_stays_out_until_it_is_back() -> None:
    gate = Gate(profile())
    assert gate.refuse({"mode": 0}, at(1)) is None
    said = {gate.refuse({"mode": 2}, at(1)) for _ in range(20)}
    gate.restart()
    said.add(gate.refuse({"mode": 2}, at(1)))
    assert said == {"mode changed"}
    assert gate.refuse({"mode": 0}, at(1)) is None


def test_the_ends_of_the_range_and_the_largest_step_are_inside() -> None:
    gate = Gate(profile(limits={"low_deg": -60, "high_deg": 60, "step_deg": 5}))
    said = [gate.refuse({}, at(angle)) for angle in (60, 55, 50, 44.9)]
    assert said == [None, None, None, "implausible step"]
    gate.restart()
    assert gate.refuse({}, at(-60)) is None
    assert gate.refuse({}, at(-60.1)) == "out of range"


def test_a_gap_forgets_the_neighbours() -> None:
    gate = Gate(profile(limits={"step_deg": 5}))
    assert gate.refuse({"sequence": 7}, at(10)) is None
    gate.restart()
    assert gate.refuse({"sequence": 7}, at(80)) is None


def test_patience_is_counted_anew_after_each_sample_that_passed() -> None:
    gate = Gate(profile(limits={"step_deg": 5}))
    said = [gate.refuse({}, at(angle)) for angle in (0, 50, 50, 1, 50, 50, 50, 50, 51)]
    far = "implausible step"
    assert said == [None, far, far, None, far, far, far, None, None]


def test_a_sample_out_of_range_uses_no_patience() -> None:
    gate = Gate(profile(limits={"low_deg": -60, "high_deg": 60, "step_deg": 5}))
    gate.refuse({}, at(0))
    said = [gate.refuse({}, at(angle)) for angle in (50, 70, 70, 70, 50, 50, 50)]
    assert said == ["implausible step", *["out of range"] * 3, *["implausible step"] * 2, None]


def test_half_a_turn_is_a_step_for_a_level_that_does_not_count_the_circle() -> None:
    gate = Gate(profile("projection", limits={"step_deg": 100}))
    gate.refuse({}, at(-89))
    assert gate.refuse({}, at(89)) == "implausible step"


def test_eight_back_is_an_old_sample_and_nine_a_counter_begun_anew() -> None:
    for back, said in ((8, "out of order"), (9, None)):
        gate = Gate(profile())
        gate.refuse({"sequence": 100}, at(1))
        assert gate.refuse({"sequence": 100 - back}, at(1)) == said


def test_old_samples_are_followed_after_three() -> None:
    gate = Gate(profile())
    said = [gate.refuse({"sequence": n}, at(1)) for n in (9, 9, 9, 9, 9, 9, 10, 10)]
    assert said == [None, *["repeated"] * 3, None, "repeated", None, "repeated"]


def test_a_sample_without_its_number_begins_the_order_anew() -> None:
    gate = Gate(profile())
    said = [gate.refuse(values, at(1)) for values in ({"sequence": 9.0}, {}, {"sequence": 9.0})]
    assert said == [None, None, None]
