"""The last samples, unwrapped."""

from statistics import median

from daemon.measure.stream.stretch import Stretch
from daemon.measure.stream.tilts import Tilt


def stretch(*angles: float, circular: bool = True, keep: int = 100) -> Stretch:
    made = Stretch(circular)
    made.keep(keep)
    for angle in angles:
        made.push(Tilt(angle, None, None))
    return made


def test_an_angle_that_passes_half_a_turn_goes_on() -> None:
    assert stretch(179.0, -179.0, -177.0).tail(3) == [179.0, 181.0, 183.0]
    assert stretch(89.0, -89.0, circular=False).tail(2) == [89.0, -89.0]


def test_it_keeps_at_least_what_is_wanted_and_at_most_twice_that() -> None:
    made = stretch(keep=5)
    for i in range(40):
        made.push(Tilt(float(i), float(i), None))
        kept = made.tail(100)
        assert kept == [float(x) for x in range(i + 1 - len(kept), i + 1)]
        assert min(i + 1, 5) <= len(kept) <= 10
        assert made.span(1) == i
        assert made.span(100) == median(kept), "of each its span, and of no others"


def test_tail_and_before() -> None:
    made = stretch(1.0, 2.0, 3.0, 4.0, 5.0)
    assert made.tail(2) == [4.0, 5.0]
    assert made.tail(9) == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert made.before(2, 2) == [2.0, 3.0]
    assert made.before(2, 9) == [1.0, 2.0, 3.0]
    assert made.before(5, 2) == []
    assert made.before(9, 2) == []


def test_repeat_and_clear() -> None:
    made = Stretch(True)
    made.keep(10)
    assert made.empty
    made.push(Tilt(1.0, 7.0, None))
    assert not made.empty
    made.repeat()
    assert made.tail(9) == [1.0, 1.0]
    assert made.span(2) == 7.0
    made.clear()
    assert made.empty
    assert made.span(2) is None


def test_span_is_the_median_of_those_that_are_known() -> None:
    made = Stretch(True)
    made.keep(10)
    for span in (9.0, 1.0, None, 5.0, 2.0):
        made.push(Tilt(0.0, span, None))
    assert made.span(4) == 2.0
    assert made.span(5) == 3.5


def test_the_live_angle_is_a_mean_at_rest_and_the_newest_in_motion() -> None:
    assert stretch(0.0, 1.0, 2.0, 3.0).live(10.0, 2.0) == 2.0  # 0.35 s are three samples
    assert stretch(0.0, 0.0, 0.0, 4.0, 4.0).live(10.0, 2.0) == 4.0
    assert stretch(0.0, 0.0, 4.0).live(10.0, 2.0) == 0.0  # one outlier
    assert stretch(0.0, 0.0, 3.0).live(10.0, 3.0) == 1.0  # and one that is as near as may be
    assert stretch(0.0, 1.0, 2.0).live(10.0, 1.0) == 1.0
    assert stretch(0.0, 0.0, 0.0, 0.0, 7.0, 7.0, 7.0).live(20.0, 7.0) == 3.0
    assert stretch(5.0).live(1.0, 1.0) == 5.0
    assert stretch(4.0, 5.0).live(1.0, 2.0) == 5.0  # one at least, and no more of a slow level
    # half of those that count are not most of them
    moving = stretch(0.0, 0.0, 3.0, 3.0, 1.5, 1.5)
    assert moving.live(18.0, 1.0) == 1.5
    assert stretch(0.0, 0.2, 0.4, 6.0, 6.0, 6.2).live(18.0, 1.0) == 6.0
    assert stretch(-9.0, 0.0, 0.5, 9.0).live(12.0, 1.0) == 0.5


def test_the_newest_is_kept_though_nobody_said_how_many() -> None:
    made = Stretch(True)
    for angle in (1.0, 2.0, 3.0, 4.0):
        made.push(Tilt(angle, None, None))
    assert made.tail(1) == [4.0]
