"""The suite of scenarios: all load, all say what they are, and their incidents come true."""

from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.errors import BadInputError
from shared.events import Held, StepChanged
from shared.inputs import NS
from simulator import scenario as scenarios
from simulator.draws import Draws
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.incidents import draw_incidents, possible_moments
from simulator.scenario import Scenario
from tests.simulator.foreman import Foreman

NAMES = scenarios.names()


@cache
def loaded(name: str) -> Scenario:
    return scenarios.load(name)


@cache
def job_done(name: str, seed: int = 3) -> Foreman:
    return Foreman(Hangar(loaded(name), seed)).run()


@pytest.mark.parametrize("name", NAMES)
def test_every_scenario_loads_and_starts(name: str) -> None:
    scenario = loaded(name)
    assert scenario.title
    assert scenario.says.strip().endswith(".")
    hangar = Hangar(scenario, 1)
    outs = hangar.advance(2 * NS, [], None)
    heard = {out.level for out in outs if isinstance(out, Chunk)}
    assert heard == {entry.name for entry in scenario.job.level if not entry.watches}


def test_the_suite_covers_what_goes_wrong() -> None:
    assert len(NAMES) >= 40
    assert {loaded(name).job.propeller.blades for name in NAMES} == {2, 3, 4, 5, 6}
    kinds = {incident.kind for name in NAMES for incident in loaded(name).incident}
    assert kinds == set(scenarios.IncidentKind.__args__)  # type: ignore[attr-defined]
    conventions = {
        level.convention for name in NAMES for level in loaded(name).hangar.level.values()
    }
    assert conventions == {"planar", "projection", "roll-pitch", "vector"}
    stages = {
        incident.when.stage
        for name in NAMES
        for incident in loaded(name).incident
        if incident.when != "drawn"
    }
    assert {"set", "baseline", "check", "snug", "torque", "final", "tighten"} <= stages
    titles = [loaded(name).title for name in NAMES]
    assert len(set(titles)) == len(titles)


def test_settings_tell_the_program_the_truth_about_noise_and_seating() -> None:
    for name in NAMES:
        scenario = loaded(name)
        for entry in scenario.job.level:
            table = scenario.hangar.level[entry.name]
            if name in {"first-use", "unmeasured-seat"}:  # whose point is that nobody told it
                assert entry.settings.keys().isdisjoint({"noise", "seating"})
                continue
            assert entry.settings["noise"]["sd_deg"] == table.noise_sd_deg
            assert entry.settings["noise"]["lag1"] == pytest.approx(table.lag1, abs=0.01)
            assert entry.settings["seating"]["u_deg"] >= table.seating_sd_deg
            assert entry.settings.get("resolution_deg", 0.01) == table.resolution_deg


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("stillblade_scenario = [", ""),
        ('like = "default"\nstillblade_scenario = 1\ntitle = "x"\ncolour = 1', "colour"),
        ('like = "nothing"\nstillblade_scenario = 1\ntitle = "x"', "like"),
        ('like = "default"\n[[incident]]\nkind = "earthquake"', "incident 1: kind"),
        ('like = "default"\n[[incident]]\nkind = "knock"\nblade = 5', ""),
        ('like = "default"\n[[incident]]\nkind = "tighten"\neach = [1.0]', ""),
        ('like = "default"\n[[incident]]\nkind = "zero"\nlevel = "other"', ""),
        ('like = "default"\n[hangar]\ntheta_deg = nan', "hangar.theta_deg"),
        ('like = "default"\n[hangar.level.other]\n', ""),
    ],
)
def test_a_wrong_file_is_refused_with_its_place(text: str, key: str) -> None:
    with pytest.raises(BadInputError) as refused:
        scenarios.parse("mine", text)
    assert refused.value.where == "mine"
    assert refused.value.key == key


@pytest.mark.parametrize(
    ("name", "remedy"), [("defalt", "did you mean default?"), ("no-such", "`stillblade scenarios`")]
)
def test_an_unknown_name_is_refused_with_those_near_it(name: str, remedy: str) -> None:
    with pytest.raises(BadInputError, match=name) as refused:
        scenarios.load(name)
    assert remedy in refused.value.remedy


def test_a_file_is_laid_over_the_one_it_is_like() -> None:
    scenario = scenarios.parse(
        "mine", 'like = "default"\ntitle = "mine"\n[hangar]\ntheta_deg = 7.0\n'
    )
    assert scenario.title == "mine"
    assert scenario.hangar.theta_deg == 7.0
    assert scenario.hangar.psi_sd_deg == loaded("default").hangar.psi_sd_deg
    assert scenario.job == loaded("default").job


@given(st.integers(0, 100_000), st.sampled_from(["default", "blades-6", "nip", "blades-2"]))
def test_drawn_knocks_hit_held_blades_that_are_read_again(seed: int, name: str) -> None:
    scenario = loaded(name)
    waiting = draw_incidents(scenario.incident, scenario.job, "chord", Draws(seed, 2)).waiting
    rounds = scenario.job.plan.rounds
    assert len({one.blade for one in waiting}) == len(waiting)
    for one in waiting:
        stage, at = one.when.stage, one.when.blade
        assert isinstance(at, int)
        assert one.blade != at
        if stage in {"set", "baseline"}:
            assert one.blade < at  # held already
        else:
            assert stage in rounds
            assert rounds.index(stage) < len(rounds) - 1 or one.blade > at


def test_moments_are_none_after_the_bolts_are_at_torque() -> None:
    stages = {when.stage for when, _ in possible_moments(loaded("nip").job)}
    assert stages == {"set", "baseline", "check", "snug", "nip"}


CAUSES = {
    "handle": [(1, "handle")],
    "handle-in-the-check": [(3, "handle")],
    "tighten-alike": [(1, "tighten"), (2, "tighten"), (3, "tighten")],
    "tighten-all-but-one": [(1, "tighten"), (3, "tighten")],
    "tighten-one": [(2, "tighten")],
    "knock-while-setting": [(1, "knock")],
    "knock-two-of-three": [(1, "knock"), (2, "knock")],
    "knock-after-torque": [(2, "knock")],
    "creep": [(1, "creep")],
    "play-flip": [(1, "flip")],
    "quiet": [],
}


@pytest.mark.parametrize("name", CAUSES)
def test_incidents_come_true_where_they_were_said_to(name: str) -> None:
    foreman = job_done(name)
    truth = foreman.hangar.truth()
    assert truth.stuck == ""
    assert sorted((move.blade, move.cause) for move in truth.moved) == CAUSES[name]
    for move in truth.moved:
        held = [
            event.t_ns
            for event in foreman.said(Held)
            if isinstance(event.body, Held) and event.body.blade == move.blade
        ]
        assert held[0] < move.t_ns
        lasting = 100 * NS if move.cause == "creep" else 0
        change = truth.angle_at(move.blade, move.t_ns + lasting) - truth.angle_at(
            move.blade, move.t_ns - 10_000_000
        )
        if move.cause != "creep":
            assert change == pytest.approx(move.size_deg, abs=1e-6)


def test_a_pulled_line_goes_down_and_up_and_is_silent_between() -> None:
    foreman = job_done("unplug")
    plugs = [out for out in foreman.outs if isinstance(out, Plug)]
    assert [plug.state for plug in plugs] == ["down", "up", "down", "up"]
    for down, up in zip(plugs[::2], plugs[1::2], strict=True):
        assert 2 * NS <= up.t_ns - down.t_ns <= 6 * NS + 10_000_000
        between = [
            out for out in foreman.outs if isinstance(out, Chunk) and down.t_ns < out.t_ns < up.t_ns
        ]
        assert between == []


def test_a_dying_battery_leaves_gaps_without_a_word() -> None:
    foreman = job_done("dying-battery")
    assert not any(isinstance(out, Plug) for out in foreman.outs)
    times = [out.t_ns for out in foreman.outs if isinstance(out, Chunk)]
    gaps = [b - a for a, b in pairwise(times) if b - a > 800_000_000]
    assert len(gaps) == 6


def test_a_tyre_shifts_the_aircraft_and_no_blade() -> None:
    truth = job_done("tyre").hangar.truth()
    assert truth.theta_deg == pytest.approx(3.5, abs=1e-6)
    assert [(shift.what, shift.cause) for shift in truth.shifts][:1] == [("aircraft", "settle")]


def test_blade_three_is_named_before_blade_two() -> None:
    foreman = job_done("order")
    presses = [out for out in foreman.outs if isinstance(out, Press)]
    named = [press for press in presses if press.kind == "name"]
    assert [press.args for press in named] == [{"blade": 3}]
    asked = [
        event
        for event in foreman.said(StepChanged)
        if isinstance(event.body, StepChanged)
        and (event.body.stage, event.body.blade) == ("set", 2)
    ]
    assert asked[0].t_ns < named[0].t_ns < asked[0].t_ns + 3 * NS
