"""A level left on a held blade: what it calls, what it does not, and what it admits."""

import math
import random
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.measure.watch.modes import Quiet
from daemon.measure.watch.watch import Watch, WatchOutcome
from shared.profile import Noise

RATE = 10.0
KNOWN = Noise(sd_deg=0.03, n=600)
Truth = Callable[[float], float]


def steady(_t: float) -> float:
    return 0.0


def step(at: float, size: float) -> Truth:
    return lambda t: size if t >= at else 0.0


def run(
    blade: Truth,
    *,
    aircraft: Truth = steady,
    hub: Truth = steady,
    seconds: float = 60.0,
    witness: bool = True,
    noise: Noise = KNOWN,
    seed: int = 1,
    sd: float = 0.03,
    mount: float = 15.0,
    **more: float,
) -> list[tuple[float, WatchOutcome]]:
    rng = random.Random(seed)
    watch = Watch(
        rate_hz=RATE, noise=noise, resolution_deg=0.01, witness=witness, name="blade 2", **more
    )
    said = []
    for k in range(int(seconds * RATE)):
        t = k / RATE
        if witness:
            watch.push_witness(round(aircraft(t) + hub(t) + rng.gauss(0.0, sd), 2))
        angle = mount + round(aircraft(t) + blade(t) + rng.gauss(0.0, sd), 2)
        said += [(t, outcome) for outcome in watch.push(angle)]
    return said


def words(said: list[tuple[float, WatchOutcome]]) -> list[str]:
    return [outcome.state for _, outcome in said]


@pytest.mark.parametrize("witness", [True, False])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_blade_at_rest_is_quiet(witness: bool, seed: int) -> None:
    said = run(steady, seconds=300.0, witness=witness, seed=seed)
    assert words(said) in (["quiet"], ["quiet", "shaken"])
    assert "a move over" in said[0][1].say


@pytest.mark.parametrize("size", [0.2, -0.2, 0.5, -3.0])
def test_a_step_is_moved_with_a_witness_within_seconds(size: float) -> None:
    said = run(step(20.0, size))
    assert words(said) == ["quiet", "moved"]
    when, outcome = said[1]
    assert 20.0 < when < 25.0
    assert outcome.change_deg == pytest.approx(size, abs=outcome.u95_deg)
    assert ("finer" in outcome.say) == (size < 0)
    assert "the witness did not follow" in outcome.say


def test_without_a_witness_a_step_is_only_changed() -> None:
    said = run(step(20.0, 0.3), witness=False)
    assert words(said) == ["quiet", "changed"]
    assert "one level cannot say which" in said[1][1].say


def test_the_aircraft_shifting_is_not_a_moved_blade() -> None:
    said = run(steady, aircraft=step(20.0, 0.4))
    assert words(said) == ["quiet", "shaken"]
    assert "the witness with it; blade 2 did not move" in said[1][1].say
    assert words(run(steady, aircraft=step(20.0, 0.4), witness=False)) == ["quiet", "changed"]


def test_a_blade_that_moves_while_the_aircraft_shifts_is_called_by_its_own_part() -> None:
    said = run(step(20.0, 0.3), aircraft=step(20.2, 0.5))
    assert words(said) == ["quiet", "moved"]
    assert said[1][1].change_deg == pytest.approx(0.3, abs=0.06)


def test_a_knocked_witness_accuses_itself() -> None:
    said = run(steady, hub=step(20.0, 0.4))
    assert words(said) == ["quiet", "changed"]
    assert "look at the witness" in said[1][1].say
    assert abs(said[1][1].change_deg) < 0.05


def test_a_blow_that_comes_back_is_shaken_and_told_once() -> None:
    def blows(t: float) -> float:
        return 2.0 * math.exp(-5.0 * (t % 3.0)) if 20.0 <= t < 32.0 else 0.0

    said = run(blows, hub=lambda t: 0.3 * blows(t))
    assert words(said) == ["quiet", "shaken"]
    assert said[1][0] > 32.0


def test_two_steps_are_two_calls() -> None:
    said = run(lambda t: 0.2 * (t >= 20) + 0.3 * (t >= 40))
    assert words(said) == ["quiet", "moved", "moved"]
    assert said[2][1].change_deg == pytest.approx(0.3, abs=0.06)


@pytest.mark.parametrize("per_second", [0.005, 0.02, 0.05, -0.01])
def test_a_creep_is_called_while_it_goes_on_and_judged_when_it_ends(per_second: float) -> None:
    said = run(lambda t: per_second * min(max(t - 20.0, 0.0), 40.0), seconds=90.0)
    states = words(said)
    assert states.count("creeping") == 1
    assert states.index("creeping") <= 3
    first = next(item for item in said if item[1].state == "creeping")
    assert 20.0 < first[0] < 52.0
    assert ("finer" in first[1].say) == (per_second < 0)
    moved = [item[1].change_deg for item in said if item[1].state == "moved"]
    assert states[-1] in {"moved", "shaken"}
    assert 1 <= len(moved) <= 3
    assert sum(moved) == pytest.approx(40 * per_second, abs=0.1)


def test_a_common_creep_is_the_aircraft() -> None:
    said = run(steady, aircraft=lambda t: 0.01 * max(t - 20.0, 0.0), seconds=80.0)
    assert not {"creeping", "moved", "changed"} & set(words(said))


def test_many_small_steps_do_not_hide_for_ever() -> None:
    said = run(lambda t: 0.04 * math.floor(t / 20.0), seconds=400.0)
    assert {"creeping", "moved"} & set(words(said))


def test_lifted_is_said_and_putting_back_is_never_moved() -> None:
    said = run(lambda t: 40.0 if 20 <= t < 25 else (0.3 if t >= 25 else 0.0))
    assert words(said) == ["quiet", "lifted", "changed"]
    assert said[1][0] == pytest.approx(20.2, abs=0.11)
    assert "since its level was lifted" in said[2][1].say
    assert words(run(lambda t: 40.0 if 20 <= t < 25 else 0.0)) == ["quiet", "lifted", "quiet"]


def test_a_level_parked_elsewhere_stays_lifted() -> None:
    assert words(run(step(20.0, -15.0))) == ["quiet", "lifted"]


def test_a_single_wild_sample_is_not_a_hand() -> None:
    said = run(lambda t: 30.0 if 20.0 <= t < 20.1 else 0.0)
    assert "lifted" not in words(said)
    assert "moved" not in words(said)


def _watch(witness: bool = False) -> Watch:
    return Watch(rate_hz=RATE, noise=KNOWN, resolution_deg=0.01, witness=witness)


def test_silence_is_said_once_and_what_happened_meanwhile_is_called() -> None:
    rng = random.Random(2)
    watch = _watch()
    said = [o for _ in range(200) for o in watch.push(15.0 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in watch.missed(10)] == ["no signal"]
    assert watch.missed(10) == []
    assert not isinstance(watch.mode, Quiet)
    said = [o for _ in range(100) for o in watch.push(15.3 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in said] == ["changed"]
    assert [o.state for o in watch.missed(10)] == ["no signal"]
    said = [o for _ in range(100) for o in watch.push(15.3 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in said] == ["quiet"]
    assert isinstance(watch.mode, Quiet)


@pytest.mark.parametrize(("gap_s", "expected"), [(2, "changed"), (20, "quiet")])
def test_a_level_that_was_away_for_long_may_have_been_laid_on_anew(
    gap_s: int, expected: str
) -> None:
    rng = random.Random(2)
    watch = Watch(rate_hz=RATE, noise=KNOWN, resolution_deg=0.01, witness=False, seat_deg=0.05)
    for _ in range(300):
        watch.push(15.0 + rng.gauss(0.0, 0.03))
    watch.missed(10)
    watch.missed(int(gap_s * RATE) - 10)
    said = [o for _ in range(200) for o in watch.push(15.12 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in said] == [expected], "0.12 is two and a half seats"


def test_a_level_swinging_in_a_hand_is_not_learned_as_noise() -> None:
    rng = random.Random(6)
    watch = Watch(rate_hz=RATE, noise=Noise(), resolution_deg=0.01, witness=False)
    swinging = [o for _ in range(600) for o in watch.push(15.0 + rng.gauss(0.0, 3.0))]
    assert not swinging
    laid = [o for _ in range(100) for o in watch.push(15.0 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in laid] == ["quiet"]


def test_silence_before_anything_was_learned() -> None:
    watch = _watch()
    assert [o.state for o in watch.missed(10)] == ["no signal"]
    rng = random.Random(3)
    said = [o for _ in range(100) for o in watch.push(15.0 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in said] == ["quiet"]


def test_a_silent_witness_is_no_witness() -> None:
    rng = random.Random(4)
    watch = _watch(witness=True)
    for _ in range(200):
        watch.push_witness(rng.gauss(0.0, 0.03))
        watch.push(15.0 + rng.gauss(0.0, 0.03))
    for _ in range(100):
        watch.push(15.0 + rng.gauss(0.0, 0.03))
    said = [o for _ in range(100) for o in watch.push(15.4 + rng.gauss(0.0, 0.03))]
    assert [o.state for o in said] == ["changed"]


def test_a_witness_not_announced_is_not_listened_to() -> None:
    rng = random.Random(5)
    watch = _watch()
    said = []
    for k in range(400):
        shift = 0.4 if k > 200 else 0.0
        watch.push_witness(shift + rng.gauss(0.0, 0.03))
        said += watch.push(15.0 + shift + rng.gauss(0.0, 0.03))
    assert [o.state for o in said] == ["quiet", "changed"]


def test_unknown_noise_is_learned() -> None:
    assert words(run(step(30.0, 0.4), noise=Noise(), sd=0.06)) == ["quiet", "moved"]


def test_a_level_noisier_than_stated_is_believed() -> None:
    said = run(step(30.0, 0.6), noise=Noise(sd_deg=0.01, n=600), sd=0.08)
    assert words(said)[0] == "quiet"
    assert words(said)[-1] == "moved"
    assert "moved" not in words(said)[:-1]


def test_the_edge_of_the_circle_is_no_edge() -> None:
    assert words(run(step(20.0, 0.3), mount=179.9)) == ["quiet", "moved"]


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6), mount=st.floats(-180, 180))
def test_mirrored_streams_say_the_same_with_the_sides_exchanged(seed: int, mount: float) -> None:
    rng = random.Random(seed)
    samples = [round(rng.gauss(0.0, 0.03), 3) + (0.25 if k > 200 else 0.0) for k in range(300)]
    one, other = _watch(), _watch()
    for x in samples:
        a, b = one.push(mount + x), other.push(-mount - x)
        assert [o.state for o in a] == [o.state for o in b]
        for left, right in zip(a, b, strict=True):
            assert left.change_deg == pytest.approx(-right.change_deg, abs=2e-6)


@settings(max_examples=30, deadline=None)
@given(data=st.lists(st.floats(-400, 400), max_size=200), gaps=st.sets(st.integers(0, 200)))
def test_no_stream_however_wild_breaks_it(data: list[float], gaps: set[int]) -> None:
    watch = _watch(witness=True)
    for k, x in enumerate(data):
        if k in gaps:
            watch.missed(5)
        if k % 3:
            watch.push_witness(-x)
        for outcome in watch.push(x):
            assert math.isfinite(outcome.change_deg)
            assert outcome.say


def test_shaking_without_end_is_admitted_once() -> None:
    said = run(lambda t: math.sin(7.0 * t) if t > 20 else 0.0, seconds=200.0)
    assert words(said) == ["quiet", "shaken"]
    assert said[1][0] == pytest.approx(81.0, abs=2.0)
    assert "nothing can be said" in said[1][1].say


def test_the_aircraft_shifting_while_the_level_is_lifted_is_allowed_for() -> None:
    def lift(t: float) -> float:
        return 40.0 if 20 <= t < 25 else 0.0

    assert words(run(lift, aircraft=step(22.0, 0.5))) == ["quiet", "lifted", "quiet"]


@pytest.mark.parametrize(("lag1", "sd"), [(0.9, 0.03), (0.95, 0.05)])
def test_slow_noise_takes_longer_and_is_still_called(lag1: float, sd: float) -> None:
    rng = random.Random(12)
    watch = Watch(rate_hz=RATE, noise=Noise(), resolution_deg=0.001, witness=False)
    x, said = 0.0, []
    for k in range(3000):
        x = lag1 * x + math.sqrt(1 - lag1**2) * rng.gauss(0.0, sd)
        said += [(k, o.state) for o in watch.push(15.0 + x + (0.4 if k >= 2000 else 0.0))]
    assert [state for k, state in said if k < 2000] in (["quiet"], ["quiet", "shaken"])
    assert "changed" in [state for k, state in said if 2000 <= k < 2200]


@pytest.mark.parametrize("rate", [2.0, 5.0, 50.0])
def test_other_rates_see_the_same(rate: float) -> None:
    rng = random.Random(13)
    watch = Watch(rate_hz=rate, noise=KNOWN, resolution_deg=0.01, witness=False)
    said = []
    for k in range(int(90 * rate)):
        t = k / rate
        said += [(t, o) for o in watch.push(rng.gauss(0.0, 0.03) + (0.3 if t >= 45 else 0.0))]
    assert words(said) == ["quiet", "changed"]
    assert said[1][0] < 45.0 + 5.0
