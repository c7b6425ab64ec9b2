"""What a level shows: its errors as the scenario states them, measured from outside."""

import math

import numpy as np
import pytest

from shared.samples import Role
from simulator.draws import Draws
from simulator.instrument import Instrument, Seat
from simulator.propeller import Propeller
from simulator.scenario import LevelTable, load


class Notebook:
    """A wire that only writes down what it is given."""

    def __init__(self) -> None:
        self.seen: list[dict[Role, float]] = []

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        self.seen.append(values)
        return [(0, b"0123456789")]


CLEAN = {"noise_sd_deg": 0.0, "seating_sd_deg": 0.0, "zero_deg": (0.0, 0.0), "resolution_deg": 1e-6}


def watched(seconds: float, seat: Seat, **changes: object) -> tuple[Instrument, list[float]]:
    """Let a level lie somewhere; return it and its angles."""
    scenario = load("quiet")
    propeller = Propeller(scenario.job, scenario.hangar, Draws(3, 0))
    propeller.azimuth_deg = 0.0
    propeller._angles[0] = 21.0
    note = Notebook()
    level = Instrument("chord", LevelTable.model_validate(changes), note, Draws(3, 5))
    level.put(seat)
    level._settling = 0.0
    run(level, propeller, seconds)
    return level, [values.get("angle", math.nan) for values in note.seen]


def run(level: Instrument, propeller: Propeller, seconds: float) -> None:
    line = Draws(3, 6)
    for _ in range(round(seconds * 100)):
        propeller.t_ns += 10_000_000
        level.tick(propeller, line)


def test_noise_has_the_stated_spread_and_memory() -> None:
    _, shown = watched(1000.0, 1, noise_sd_deg=0.05, lag1=0.6, resolution_deg=1e-6)
    values = np.asarray(shown)
    assert len(shown) == 10_000
    # standard errors: about 0.001 of the spread, 0.008 of the autocorrelation
    assert float(values.std()) == pytest.approx(0.05, abs=0.004)
    assert float(np.corrcoef(values[:-1], values[1:])[0, 1]) == pytest.approx(0.6, abs=0.04)


def test_seating_is_drawn_a_placement_and_constant_within_it() -> None:
    level, shown = watched(1.0, 1, **(CLEAN | {"seating_sd_deg": 0.04}))
    assert len(set(shown)) == 1
    drawn = []
    for _ in range(2000):
        level.put(1)
        drawn.append(level._seating)
    assert float(np.std(drawn)) == pytest.approx(0.04, abs=0.003)
    assert float(np.mean(drawn)) == pytest.approx(0.0, abs=0.004)


def test_the_level_comes_to_rest_within_the_second() -> None:
    level, _ = watched(0.1, 1, **CLEAN)
    scenario = load("quiet")
    propeller = Propeller(scenario.job, scenario.hangar, Draws(3, 0))
    for _ in range(50):
        level.put(1)
        run(level, propeller, 1.0)
        ring = math.exp(-level._seated_s / level._settle_s)
        assert abs(level._settling * ring) < 0.02


@pytest.mark.parametrize(
    ("seat", "convention", "shown"),
    [
        (1, "planar", 18.0),  # 21 on a shaft of 3 degrees nose-up
        ("hub", "planar", -3.0),
        (1, "projection", 72.0),
        ("hub", "projection", 87.0),
    ],
)
def test_what_it_shows_of_a_known_angle(seat: Seat, convention: str, shown: float) -> None:
    _, values = watched(0.5, seat, convention=convention, **CLEAN)
    assert values[-1] == pytest.approx(shown, abs=1e-3)


def test_end_for_end_turns_the_sign_but_not_of_the_zero() -> None:
    level, _ = watched(0.2, 1, **(CLEAN | {"zero_deg": (0.1, 0.1)}))
    scenario = load("quiet")
    propeller = Propeller(scenario.job, scenario.hangar, Draws(3, 0))
    propeller.azimuth_deg, propeller._angles[0] = 0.0, 21.0
    note = level.wire
    assert isinstance(note, Notebook)
    level.reversed = True
    run(level, propeller, 0.2)
    assert note.seen[-1]["angle"] == pytest.approx(-17.9, abs=1e-3)
    assert note.seen[0]["angle"] == pytest.approx(18.1, abs=1e-3)


def test_steps_and_relative_mode() -> None:
    level, shown = watched(2.0, 1, **(CLEAN | {"resolution_deg": 0.1, "noise_sd_deg": 0.05}))
    assert all(abs(value * 10 - round(value * 10)) < 1e-9 for value in shown)
    assert len(set(shown)) > 1
    level.relative_to = math.nan
    propeller = Propeller(load("quiet").job, load("quiet").hangar, Draws(3, 0))
    run(level, propeller, 1.0)
    note = level.wire
    assert isinstance(note, Notebook)
    assert all(abs(values["angle"]) < 0.4 for values in note.seen[-5:])


def test_in_the_hand_it_swings_and_on_the_bench_it_rests_somewhere() -> None:
    _, hand = watched(20.0, "hand", **CLEAN)
    assert float(np.std(hand)) > 15.0
    _, bench = watched(20.0, "bench", **CLEAN)
    assert float(np.std(bench)) < 1e-6
    assert -8.0 <= bench[0] <= 30.0


def test_all_three_axes_make_one_g_and_the_same_angle() -> None:
    level, _ = watched(0.5, 1, convention="vector", **CLEAN)
    note = level.wire
    assert isinstance(note, Notebook)
    last = note.seen[-1]
    assert math.hypot(last["ax"], last["ay"], last["az"]) == pytest.approx(1.0, abs=1e-6)
    assert math.degrees(math.atan2(-last["az"], last["ax"])) == pytest.approx(18.0, abs=1e-3)


def test_a_dead_battery_sends_nothing_and_a_cut_line_loses_what_waits() -> None:
    level, _ = watched(0.5, 1, **CLEAN)
    propeller = Propeller(load("quiet").job, load("quiet").hangar, Draws(3, 0))
    line = Draws(3, 7)
    level.cut()
    level.on = False
    out = [chunk for _ in range(100) for chunk in level.tick(propeller, line)]
    assert out == []


def test_a_button_goes_out_once_and_a_steady_number_is_sent_once() -> None:
    level, shown = watched(3.0, 1, **CLEAN, reports="on-change")
    assert len(shown) == 1
    level, _ = watched(1.0, 1, **CLEAN, own_button=True)
    propeller = Propeller(load("quiet").job, load("quiet").hangar, Draws(3, 0))
    level.press()
    run(level, propeller, 1.0)
    note = level.wire
    assert isinstance(note, Notebook)
    assert [values["button"] for values in note.seen].count(1.0) == 1


def test_a_level_on_the_cowling_follows_the_aircraft_and_no_blade() -> None:
    level, shown = watched(1.0, "cowling", **CLEAN)
    assert shown[-1] == pytest.approx(-3.0, abs=1e-3)
    scenario = load("quiet")
    propeller = Propeller(scenario.job, scenario.hangar, Draws(3, 0))
    propeller.change(1, 2.0)
    propeller.sink(0.5, 0.5, "settle")
    for _ in range(60):
        propeller.tick()
    run(level, propeller, 1.0)
    note = level.wire
    assert isinstance(note, Notebook)
    assert note.seen[-1]["angle"] == pytest.approx(-3.5, abs=1e-3)
