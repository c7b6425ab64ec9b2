"""How many readings are said before the start, against jobs that are then done by the ordinary engine."""

from typing import Any

import pytest

from daemon.core import foretold
from daemon.session.headers import make_header
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
