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
