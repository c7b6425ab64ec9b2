"""From a stream to motion, placement, turned and a reading."""

import random
from collections.abc import Iterable, Sequence
from typing import Any

import pytest

from daemon.measure.stream import settling
from daemon.measure.stream.following import following_of
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.sway import SwayStudy
from daemon.measure.stream.tilts import Tilt
from shared.angles import difference_deg, wrap_deg
from shared.profile import Noise
from tests.measure.levels import profile

RATE = 10
LIFT = 8.0


class Stream:
    """A level at 10 a second with white noise, pushed through what follows it."""

    def __init__(self, seed: int = 1, sd: float = 0.03, **changes: Any) -> None:
        self.rng = random.Random(seed)
        self.sd = sd
        self.settling = following_of(profile(**changes), LIFT)
        self.motions: list[str] = []

    def push(self, angles: Iterable[float]) -> None:
        for angle in angles:
            self.settling.push(Tilt(angle + self.rng.gauss(0, self.sd), None, None))
            self.motions.append(self.settling.doing)

    def hold(self, angle: float, seconds: float) -> None:
        self.push([angle] * round(seconds * RATE))

    def turn(self, start: float, end: float, speed: float) -> None:
        steps = max(1, round(abs(end - start) / speed * RATE))
        self.push(start + (end - start) * (i + 1) / steps for i in range(steps))

    def carry(self, seconds: float) -> None:
        self.push(self.rng.gauss(40, 25) for _ in range(round(seconds * RATE)))


@pytest.mark.parametrize("seed", range(20))
def test_one_placement_after_being_in_hand(seed: int) -> None:
    s = Stream(seed)
    s.carry(1)
    assert s.motions[-1] == "in hand"
    s.hold(18.0, 4)
    assert s.motions[-1] == "ready"
    assert s.settling.placement == 1
    assert not s.settling.turned
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == pytest.approx(18.0, abs=0.03)
    assert s.settling.live_deg == pytest.approx(18.0, abs=0.08)


@pytest.mark.parametrize("seed", range(20))
def test_turning_the_blade_is_moving_and_no_new_placement(seed: int) -> None:
    s = Stream(seed)
    s.hold(12.0, 2)
    s.motions.clear()
    s.turn(12.0, 18.0, 10.0)
    assert "in hand" not in s.motions
    assert "moving" in s.motions
    s.hold(18.0, 2)
    assert s.settling.placement == 1
    assert s.settling.turned


@pytest.mark.parametrize("seed", range(20))
def test_a_lift_and_put_back_is_a_new_placement(seed: int) -> None:
    s = Stream(seed)
    s.hold(18.0, 2)
    s.turn(18.0, 60.0, 60.0)
    s.carry(0.5)
    assert s.settling.doing == "in hand"
    s.hold(18.05, 2)
    assert s.settling.placement == 2
    assert not s.settling.turned


def test_a_gap_counts_as_a_lift() -> None:
    s = Stream()
    s.hold(18.0, 2)
    s.settling.restart()
    assert s.settling.reading is None
    s.hold(18.0, 2)
    assert s.settling.placement == 2


def test_live_angle_is_quick_and_does_not_overshoot() -> None:
    s = Stream(sd=0.0)
    s.hold(10.0, 2)
    seen = []
    for angle in [14.0] * 6:
        s.push([angle])
        seen.append(s.settling.live_deg)
    assert all(10.0 - 1e-9 <= value <= 14.0 + 1e-9 for value in seen if value is not None)
    assert seen[2] == pytest.approx(14.0)


@pytest.mark.parametrize(("deviations", "shown"), [(3.9, 18.0 + 3.9 * 0.03 / 3.0), (4.1, 18.0)])
def test_the_live_angle_leaves_out_what_is_four_deviations_off(
    deviations: float, shown: float
) -> None:
    s = Stream(sd=0.0, noise={"sd_deg": 0.03, "n": 1000})
    s.push([18.0, 18.0 + deviations * 0.03, 18.0])
    assert s.settling.live_deg == pytest.approx(shown)


def test_outliers_do_not_disturb_the_rest() -> None:
    s = Stream(3)
    s.push(18.0 + (5.0 if s.rng.random() < 0.1 else 0.0) for _ in range(60))
    assert s.settling.placement == 1
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == pytest.approx(18.0, abs=0.03)


def test_across_half_a_turn() -> None:
    s = Stream()
    s.hold(179.99, 3)
    assert s.settling.reading is not None
    assert abs(abs(s.settling.reading.mean_deg) - 180.0) < 0.05
    assert s.settling.placement == 1


def test_on_change_is_still_while_silent_and_alive() -> None:
    s = Stream(sd=0.0, reporting={"mode": "on-change", "rate_hz": 10})
    s.push([18.0])
    s.settling.repeat(12)
    assert s.settling.placement == 1
    assert s.settling.doing == "ready"


def test_on_press_every_sample_is_a_reading() -> None:
    s = Stream(sd=0.0, reporting={"mode": "on-press", "rate_hz": 1})
    s.push([18.0, 18.1])
    assert s.settling.placement == 2
    assert s.settling.doing == "ready"
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == 18.1


def test_a_level_whose_noise_was_only_assumed_still_settles() -> None:
    s = Stream(5, sd=0.12)
    s.hold(18.0, 12)
    assert s.settling.placement == 1
    assert s.settling.reading is not None
    assert s.settling.reading.sd_deg > 0.08


def lying(settling: Settling, angle: float, samples: int, sd: float = 0.0, seed: int = 1) -> None:
    rng = random.Random(seed)
    for _ in range(samples):
        settling.push(Tilt(angle + rng.gauss(0, sd), None, None))


KNOWN: dict[str, Any] = {"noise": {"sd_deg": 0.03, "lag1": 0.0, "n": 600}}


def test_a_first_second_is_needed_and_no_more() -> None:
    settling = Settling(profile(**KNOWN), LIFT)
    assert (settling.live_deg, settling.reading, settling.agreed) == (None, None, None)
    assert (settling.doing, settling.progress, settling.turned) == ("in hand", 0.0, False)
    lying(settling, 18.0, 9)
    assert (settling.doing, settling.placement) == ("in hand", 0)
    lying(settling, 18.0, 1)
    assert settling.placement == 1
    assert settling.doing == "ready"
    assert settling.progress == 1.0


def test_averaging_ends_at_a_third_of_the_seating_or_the_step() -> None:
    # 0.03 / sqrt(n) <= the target, n >= 10
    for changes, n in (
        ({"seating": {"u_deg": 0.03}}, 10),
        ({"seating": {"u_deg": 0.018}, "resolution_deg": 0.001}, 25),
        ({"seating": {"u_deg": 0.0}, "resolution_deg": 0.006}, 25),
        # a step coarser than 0.05 is no excuse
        ({"seating": {"u_deg": 0.0}, "noise": {"sd_deg": 0.25, "n": 600}, "resolution_deg": 0.1},
         25),
    ):  # fmt: skip
        settling = Settling(profile(**(KNOWN | changes)), LIFT)
        count = 0
        while settling.doing != "ready":
            lying(settling, 18.0, 1)
            count += 1
        assert count == pytest.approx(n, abs=2)
        assert settling.reading is not None
        assert settling.reading.reached


def test_progress_is_the_worth_of_the_average_or_the_time_it_took() -> None:
    settling = Settling(profile(**KNOWN, seating={"u_deg": 0.009}, resolution_deg=0.001), LIFT)
    lying(settling, 18.0, 40)
    assert settling.doing == "still"
    reading = settling.reading
    assert reading is not None
    assert not reading.reached
    assert reading.n == 40
    assert settling.progress == pytest.approx((0.003 / reading.u_deg) ** 2)
    slow = Settling(profile(**KNOWN, seating={"u_deg": 0.0003}, resolution_deg=0.0001), LIFT)
    lying(slow, 18.0, 40)
    assert slow.progress == pytest.approx(0.4)


def test_after_ten_seconds_what_was_reached_is_read() -> None:
    settling = Settling(profile(**KNOWN, seating={"u_deg": 0.0003}, resolution_deg=0.0001), LIFT)
    lying(settling, 18.0, 99)
    assert settling.progress == pytest.approx(0.99)
    lying(settling, 18.0, 1)
    assert settling.doing == "ready"
    assert settling.progress == 1.0
    assert settling.reading is not None
    assert not settling.reading.reached
    lying(settling, 18.0, 50)
    assert settling.reading.n == 100


def test_an_average_that_is_plenty_rolls_on_without_growing() -> None:
    settling = Settling(profile(**KNOWN, seating={"u_deg": 0.03}), LIFT)
    lying(settling, 18.0, 60)
    assert settling.reading is not None
    # 0.8 of the target of 0.01 is reached by fifteen or so
    assert 10 <= settling.reading.n < 20
    lying(settling, 18.05, 40)
    assert settling.reading.mean_deg == pytest.approx(18.05)


@pytest.mark.parametrize(
    ("seating_deg", "seldom", "lain_s", "looks"),
    [
        (0.03, True, 8, 2),
        (0.03, True, 10, 1),  # it lies where nobody is about to do anything
        (0.03, False, 8, 4),  # rules 10 and before
        (0.03, False, 10, 4),
        (0.0003, True, 8, 12),  # not good yet
    ],
)
def test_a_good_average_is_looked_at_less_often(
    seating_deg: float, seldom: bool, lain_s: int, looks: int
) -> None:
    about = profile(
        **KNOWN, reporting={"rate_hz": 12.0}, seating={"u_deg": seating_deg}, resolution_deg=0.001
    )
    settling = Settling(about, LIFT, seldom=seldom)
    lying(settling, 18.0, 12 * lain_s)
    looked = []
    for _ in range(12):
        before = settling.reading
        lying(settling, 18.0, 1)
        looked.append(settling.reading is not before)
    assert sum(looked) == looks


def test_turned_is_a_rest_further_than_three_tenths_or_six_deviations() -> None:
    for sd, far in ((0.01, 0.3), (0.1, 0.6)):
        for way, turned in ((far - 0.02, False), (far + 0.02, True)):
            settling = Settling(profile(noise={"sd_deg": sd, "n": 600}), LIFT)
            lying(settling, 18.0, 30)
            for i in range(10):
                lying(settling, 18.0 + way * (i + 1) / 10, 1)
            lying(settling, 18.0 + way, 60)
            assert settling.doing in {"still", "ready"}
            assert settling.placement == 1
            assert settling.turned is turned


def test_moving_has_no_average_and_its_place_stays() -> None:
    settling = Settling(profile(**KNOWN), LIFT)
    lying(settling, 18.0, 30)
    for i in range(8):
        lying(settling, 18.0 + 0.4 * (i + 1), 1)
    assert settling.doing == "moving"
    assert settling.reading is None
    assert settling.progress == 0.0
    assert settling.lain_values() == []


def test_lain_values_are_of_a_rest_that_has_ended_but_for_its_end() -> None:
    settling = Settling(profile(**KNOWN), LIFT)
    shown = [18.0 + 0.001 * (i % 5) for i in range(40)]
    for angle in shown:
        settling.push(Tilt(angle, None, None))
        assert settling.lain_values() == []
    told = []
    for k in range(8):
        settling.push(Tilt(22.0 + 4.0 * k, None, None))
        told.append(settling.lain_values())
    [known] = [values for values in told if values]
    assert len(known) == 12
    assert max(known) < 18.01, "nothing of the leaving"


def test_of_a_short_rest_nothing_before_it_is_known() -> None:
    settling, told = Settling(profile(**KNOWN), LIFT), []
    for angle in (*[40.0, 25.0, 60.0] * 5, *[18.0] * 11, *[30.0, 55.0, 20.0] * 5):
        settling.push(Tilt(angle, None, None))
        told += settling.lain_values()
    assert told
    assert set(told) == {18.0}


def test_of_a_rest_that_a_gap_ended_nothing_is_known() -> None:
    settling = Settling(profile(**KNOWN), LIFT)
    lying(settling, 18.0, 40)
    settling.restart()
    assert settling.lain_values() == []


def test_a_rest_of_ten_seconds_is_known_though_it_goes_on() -> None:
    settling, told = Settling(profile(**KNOWN), LIFT), 0
    for i in range(400):
        settling.push(Tilt(18.0 + 0.001 * (i % 5), None, None))
        told += bool(settling.lain_values())
    assert told == 1


def test_a_press_may_take_what_the_newest_samples_agree_with() -> None:
    def after(*angles: float) -> bool:
        settling = Settling(profile(**KNOWN), LIFT)
        lying(settling, 18.0, 20)
        for angle in angles:
            lying(settling, angle, 1)
        assert settling.reading is not None
        return settling.agreed is not None

    assert after(18.0)
    # five deviations of a sample; an average of mostly 18.0 knows them to be 0.03 at most
    assert after(18.1)
    assert not after(18.3)
    assert after(18.3, 18.0)
    assert not after(18.3, 18.0, 18.3)
    assert after(18.3, 18.0, 18.0, 18.0)
    assert after(18.3, 18.3, 18.0, 18.0)
    assert not after(17.7)


def test_the_agreement_is_measured_in_deviations_steps_or_what_the_profile_says() -> None:
    cases: list[dict[str, Any]] = [
        {"noise": {"sd_deg": 0.02, "n": 600}, "resolution_deg": 0.06},
        {"noise": {"sd_deg": 0.06, "n": 600}, "resolution_deg": 0.01},
    ]
    for changes in cases:
        for off, agrees in ((0.29, True), (0.31, False)):
            settling = Settling(profile(**changes), LIFT)
            lying(settling, 18.0, 40)
            lying(settling, 18.0 + off, 1)
            assert settling.reading is not None
            assert settling.reading.mean_deg == pytest.approx(18.0)
            assert (settling.agreed is not None) is agrees


def test_a_learned_noise_counts_from_the_next_look_on() -> None:
    settling = Settling(profile(), LIFT)
    settling.set_noise(Noise(sd_deg=0.5, lag1=0.0, n=600))
    lying(settling, 18.0, 30)
    assert settling.reading is not None
    # mostly what is known: 400 samples of 0.5
    assert settling.reading.sd_deg > 0.4


def test_a_learned_rate_cuts_a_rest_to_its_new_longest() -> None:
    settling = Settling(profile(**KNOWN, seating={"u_deg": 0.0003}, resolution_deg=0.0001), LIFT)
    lying(settling, 18.0, 90)
    settling.set_rate(2.0)
    lying(settling, 18.0, 1)
    assert settling.doing == "ready"
    assert settling.reading is not None
    assert settling.reading.n == 20


def test_nothing_is_repeated_before_the_first_sample_and_a_longest_average_at_most() -> None:
    settling = Settling(profile(**KNOWN), LIFT)
    settling.repeat(50)
    assert settling.live_deg is None
    assert settling.placement == 0
    lying(settling, 18.0, 1)
    settling.repeat(8)
    assert settling.placement == 0
    settling.repeat(1)
    assert settling.placement == 1
    settling.repeat(10**9)
    assert settling.doing == "ready"


def test_a_creep_in_a_rest_makes_it_creep_and_wary() -> None:
    settling = Settling(profile(noise={"sd_deg": 0.01, "n": 600}), LIFT)
    rng, seen = random.Random(3), []
    lying(settling, 18.0, 30, 0.01)
    for i in range(60):
        settling.push(Tilt(18.0 + 0.004 * i + rng.gauss(0, 0.01), None, None))
        seen.append(settling.doing)
        if settling.doing == "creeping":
            assert (settling.reading, settling.progress) == (None, 0.0)
    assert seen[0] == "ready"
    left = next(k for k, doing in enumerate(seen) if doing not in {"still", "ready"})
    assert left < 30
    assert seen[left] == "creeping", "seen in the average, before it has moved away"
    assert "in hand" not in seen
    assert settling.placement == 1


@pytest.mark.parametrize(("creep", "rests"), [(0.05, True), (0.08, False)])
def test_a_creep_that_is_little_beside_the_seating_is_let_through(
    creep: float, rests: bool
) -> None:
    """Half a second's way, 0.025 or 0.04, beside 0.15 of an expanded uncertainty of 0.25."""
    about: dict[str, Any] = {"noise": {"sd_deg": 0.01, "n": 600}, "seating": {"u_deg": 0.1}}
    settling = Settling(profile(**about), LIFT)
    for i in range(40):
        settling.push(Tilt(18.0 + creep * i / RATE, None, None))
        if settling.placement:
            break
    assert bool(settling.placement) is rests


def test_the_reading_carries_what_it_was_made_of() -> None:
    settling = Settling(profile("roll-pitch", **KNOWN), LIFT)
    rng = random.Random(5)
    for _ in range(30):
        settling.push(Tilt(18.0 + rng.gauss(0, 0.03), 2.0, None))
    got = settling.reading
    assert got is not None
    assert got.psi_deg == 2.0
    assert got.u_psi_deg == got.u_deg
    assert got.resolution_deg == 0.01
    assert got.u_rounding_deg is not None
    assert (got.lag1, got.n > 9, got.dof > 400) == (0.0, True, True)


def test_a_projection_level_is_not_wrapped() -> None:
    settling = Settling(profile("projection", **KNOWN), LIFT)
    lying(settling, 89.99, 20)
    assert settling.reading is not None
    assert settling.reading.mean_deg == pytest.approx(89.99)
    assert settling.live_deg == pytest.approx(89.99)


@pytest.mark.parametrize("rate", [150.0, 250.0, 1000.0])
def test_a_stream_far_faster_than_its_profile_is_followed(rate: float) -> None:
    """The rate is known after five seconds: what ten samples were a second of is then nothing."""
    s = Stream(3)
    s.carry(2)
    s.push([18.0] * 12)
    assert s.motions[-1] in {"still", "ready"}
    s.settling.set_rate(rate)
    s.push([18.0] * round(1.5 * rate))
    assert s.motions[-1] == "ready"
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == pytest.approx(18.0, abs=0.01)
    assert s.settling.reading.n >= rate - 1


def test_a_level_that_lies_where_its_circle_ends_rests() -> None:
    """It shows 180 and -180 in turn; that is one angle."""
    settling, rng = Settling(profile(**KNOWN), LIFT), random.Random(4)
    for _ in range(60):
        settling.push(Tilt(wrap_deg(180.0 + rng.gauss(0, 0.03)), None, None))
    assert (settling.doing, settling.placement) == ("ready", 1)
    assert settling.reading is not None
    assert abs(difference_deg(settling.reading.mean_deg, 180.0)) < 0.03


@pytest.mark.parametrize(("to", "turned"), [(0.3, False), (0.4, True), (-0.3, False)])
def test_three_steps_of_a_tenth_are_no_turn(to: float, turned: bool) -> None:
    settling = Settling(profile(noise={"sd_deg": 0.01, "n": 600}, resolution_deg=0.1), LIFT)
    lying(settling, 0.0, 30)
    lying(settling, to, 60)
    assert settling.placement == 1
    assert settling.doing == "ready"
    assert settling.turned is turned


def test_a_gap_tells_nothing_of_how_the_aircraft_sways(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was kept before the level lay down, in a hand too, is no placement that lay there."""
    heard: list[int] = []

    class Hears(SwayStudy):
        def add(self, values: Sequence[float], rate_hz: float, noise: float) -> None:
            heard.append(len(values))

    monkeypatch.setattr(settling, "SwayStudy", Hears)
    s = Stream(noise=Noise(sd_deg=0.03, n=1000))
    s.carry(5)
    s.hold(18.0, 12)
    s.settling.restart()
    assert heard == []
    s.carry(1)
    s.hold(18.0, 12)
    s.carry(1)
    assert len(heard) == 1
    assert heard[0] < 12 * RATE
