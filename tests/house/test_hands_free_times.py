"""What `benchmarks.hands_free --beside` adds up: seconds by what was wanted meanwhile."""

from benchmarks.hands_free import HANDS, READ, WHOLE, spent
from shared.events import BladeId, Captured, Event, StepChanged
from shared.inputs import NS

TAKEN = Captured(1, 1, "set", 18.0, 0.1, 20, "chord", 15.0, None, None, "normal", 1, "press")


def _wants(n: int, at_s: int, stage: str, blade: BladeId | None) -> Event:
    return Event(n, at_s * NS, StepChanged(n, stage, blade, "", 1, 1, "words"))


def _taken(n: int, at_s: int) -> Event:
    return Event(n, at_s * NS, TAKEN)


def test_time_counts_for_what_was_wanted_until_something_else_was() -> None:
    took = spent(
        [
            _wants(1, 0, "prepare", None),
            _wants(2, 10, "reference", "reference"),
            _taken(3, 14),
            _wants(4, 15, "set", 1),
            _taken(5, 35),
            _wants(6, 36, "tighten", None),
            _wants(7, 46, "torque", "reference"),
            _taken(8, 49),
            _wants(9, 50, "torque", 1),
            _taken(10, 57),
            _wants(11, 58, "finished", None),
        ]
    )
    assert took == {"reference": 5 + 4, "set": 21, HANDS: 10, "torque": 7, READ: 37, WHOLE: 47}


def test_a_step_that_is_said_again_goes_on_counting() -> None:
    took = spent([_wants(1, 2, "set", 1), _wants(2, 5, "set", 1), _taken(3, 9)])
    assert took["set"] == took[READ] == took[WHOLE] == 7
    assert took[HANDS] == 0
