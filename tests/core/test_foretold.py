"""How many readings are said before the start, against jobs that are then done by the ordinary engine."""

import math
from typing import Any

import numpy as np
import pytest
from scipy.stats import kstest

from daemon.core import foretold
from daemon.session.headers import make_header
from daemon.workflow.plan import Step
from shared.angles import wrap_deg
from shared.events import REFERENCE, Captured
from shared.job import Header
from tests.daemon.bench import LEVEL, header, job
from tests.workflow.walks import HANDS, LONG_WALK, WORLDS, Sampling, Telling, header_of


def quiet_job(hands: Telling | Sampling, aim_deg: float = 20.0, tilt_deg: float = 3.0) -> int:
    """Do a whole job in which nothing moves; return how many readings it took."""
    both = hands.header.job.setup.reference == "both-sides"
    for _ in range(LONG_WALK):
        view = hands.engine.view()
        if view.stage == "finished":
            return sum(isinstance(event.body, Captured) for event in hands.events)
        if view.stage in HANDS:
            hands.press("done")
            continue
        half = hands.engine._case.step.half
        shows = aim_deg - tilt_deg
        if view.blade == REFERENCE:
            shows = -tilt_deg if not both else shows
            shows = aim_deg + tilt_deg - 180.0 if both and half == 2 else shows
        hands.lift()
        hands.lie(wrap_deg(shows))
        hands.press()
    raise AssertionError(f"no end: {hands.engine.view().stage}")


@pytest.mark.parametrize("world", sorted(WORLDS))
def test_a_quiet_job_takes_as_many_readings_as_was_said(world: str) -> None:
    header_ = header_of(world)
    span = foretold.foretold(header_)
    assert span is not None
    assert span.fewest <= quiet_job(Telling(header_)) <= span.most


def test_the_same_by_a_level_that_sends() -> None:
    header_ = header_of("usual")
    span = foretold.foretold(header_)
    assert span is not None
    assert span.fewest <= quiet_job(Sampling(header_)) <= span.most


def seated(u_deg: float, tolerance_deg: float = 0.3) -> Header:
    level: dict[str, Any] = {**LEVEL, "settings": {**LEVEL["settings"]}}
    level["settings"]["seating"] = {"u_deg": u_deg, "n": 40}
    target = {"angle_deg": 20.0, "tolerance_deg": tolerance_deg, "spread_deg": tolerance_deg}
    return header(level=[level], target=target, plan={"rounds": ["torque"]})


def test_a_level_that_finds_its_seat_badly_wants_more() -> None:
    good, bad = foretold.foretold(seated(0.01)), foretold.foretold(seated(0.08))
    assert good is not None
    assert bad is not None
    assert bad.most > good.most


def test_it_is_of_the_job_and_not_of_the_session(tmp_path: Any) -> None:
    one, other = (make_header(job(), tmp_path, session=name) for name in ("one", "other"))
    assert foretold.foretold(one) == foretold.foretold(other)
    assert one == make_header(job(), tmp_path, session="one"), "nothing was changed"


def test_who_only_watches_reads_nothing() -> None:
    watching = header().model_copy(update={"procedure": "watch"})
    assert foretold.foretold(watching) is None


def test_one_that_does_not_end_makes_the_range_unknown() -> None:
    assert foretold.span([15, 17, 16]) == (15, 17)
    assert foretold.span([15, None]) is None
    assert foretold.span([]) is None


@pytest.mark.parametrize(("limit_deg", "provable"), [(0.3, True), (0.06, False), (0.001, False)])
def test_limits_that_such_readings_cannot_prove_are_told_beforehand(
    limit_deg: float, provable: bool
) -> None:
    """A reading of these is known within 0.06: nothing that is narrower is ever told to be within."""
    told = foretold.foretold(seated(0.02, limit_deg))
    assert told is not None
    assert told.provable == provable


@pytest.mark.parametrize("world", sorted(WORLDS))
def test_a_job_that_can_be_proven_is_not_called_one_that_cannot(world: str) -> None:
    told = foretold.foretold(header_of(world))
    assert told is not None
    assert told.provable


# --- what is laid down in thought ------------------------------------------------------------------


def thought(**setup: Any) -> foretold._Quiet:
    """One quiet job in thought, of a level with measured noise and no error of its azimuth."""
    level: dict[str, Any] = {**LEVEL, "settings": {**LEVEL["settings"]}}
    level["settings"] |= {
        "noise": {"sd_deg": 0.04, "lag1": 0.0, "n": 99},
        "seating": {"u_deg": 0.03, "n": 40},
        "resolution_deg": 0.0,
        "reporting": {"mode": "stream", "rate_hz": 8.0},
    }
    of = header(level=[level], setup={"psi_u_deg": 0.0} | setup)
    return foretold._Quiet(of, foretold._Draws("this job"))


def test_normal_deviates_are_normal_and_hang_on_what_they_are_for() -> None:
    """scipy: Kolmogorov and Smirnov's test; seeded by the text, so it cannot fail by chance later."""
    draws, again, other = (foretold._Draws(text) for text in ("one", "one", "other"))
    found = [draws.gauss(2.0) for _ in range(2000)]
    assert kstest(found, "norm", args=(0.0, 2.0)).pvalue > 0.01
    assert [again.gauss(1.0) for _ in range(3)] == [one / 2.0 for one in found[:3]]
    assert other.gauss(2.0) != found[0]


def test_a_placement_in_thought_is_averaged_for_two_seconds_of_the_profiles_noise() -> None:
    got = thought()._reading(Step("check", 1), 20.0)
    assert (got.n, got.sd_deg, got.lag1, got.reached) == (16, 0.04, 0.0, True)
    assert got.u_deg == pytest.approx(0.04 / 4.0)
    # what is known of the noise counts as its samples and two beside those of the average
    assert got.dof == pytest.approx(15.0 + 99.0 + 2.0)


@pytest.mark.parametrize(
    ("stage", "lift", "sd"),
    [("check", 0.12, 0.0316), ("set", 0.12, 0.1241), ("baseline", 0.12, 0.1241)],
)
def test_a_placement_in_thought_scatters_as_average_seating_and_lift_make_it(
    stage: str, lift: float, sd: float
) -> None:
    """hypot(0.01, 0.03), and while a blade is loose hypot with what lifting the level turns it."""
    quiet = thought(lift_u_deg=lift)
    shown = [quiet._reading(Step(stage, 1), 20.0).mean_deg for _ in range(2000)]
    assert np.std(shown) == pytest.approx(sd, rel=0.06)
    assert np.mean(shown) == pytest.approx(17.0, abs=0.012)


@pytest.mark.parametrize(
    ("setup", "step", "shown"),
    [
        ({}, Step("reference", REFERENCE), -3.0),
        ({"nose": "down"}, Step("reference", REFERENCE), 3.0),
        ({}, Step("set", 1), 17.0),
        ({"nose": "down"}, Step("set", 1), 23.0),
        ({"reference": "both-sides"}, Step("reference", REFERENCE, half=1), 17.0),
        ({"reference": "both-sides"}, Step("reference", REFERENCE, half=2), -157.0),
        ({"reference": "half-turn"}, Step("reference", REFERENCE, half=2), -3.0),
    ],
)
def test_in_thought_the_shaft_is_tilted_by_three_degrees(
    setup: dict[str, Any], step: Step, shown: float
) -> None:
    quiet = thought(**setup)
    profile = quiet.header.profiles["chord"]
    assert quiet._shown(step, 20.0, profile) == pytest.approx(shown)


def test_in_thought_a_blade_stays_where_it_was_set() -> None:
    quiet = thought()
    profile = quiet.header.profiles["chord"]
    assert quiet._shown(Step("set", 1), 20.0, profile) == pytest.approx(17.0)
    assert quiet._shown(Step("check", 1), 25.0, profile) == pytest.approx(17.0)
    assert quiet._shown(Step("set", 1), 25.0, profile) == pytest.approx(22.0)


def test_a_tenth_more_than_the_most_of_twenty_quiet_jobs_is_said() -> None:
    of = seated(0.03)
    counts = [job.readings for n in range(20) if (job := foretold.quiet(of, n)) is not None]
    told = foretold.foretold(of)
    assert told is not None
    assert len(counts) == 20
    assert told.fewest == min(counts)
    assert told.most == math.ceil(max(counts) * 1.1)
