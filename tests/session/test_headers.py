"""What a session's header says of the levels before the work begins."""

from pathlib import Path
from typing import Any

import pytest

from daemon.session.headers import make_header
from shared.errors import BadInputError
from tests.daemon.bench import LEVEL, job
from tests.workflow.jobs import HUB

PROVEN = "2031-04-02"


def unproven(started: str, **accuracy: Any) -> dict[str, str]:
    settings = {**LEVEL["settings"], "accuracy": accuracy}
    wanted = job(level=[{**LEVEL, "settings": settings}], setup={"zero_days": 30})
    return dict(make_header(wanted, Path(), started=started).unproven)


@pytest.mark.parametrize(
    ("started", "late"),
    [
        ("2031-05-02T08:00:00+00:00", False),  # the thirtieth day
        ("2031-05-03T08:00:00+00:00", True),
        ("", False),  # what day it is nobody knows: any date will do
    ],
)
def test_a_zero_is_proven_for_as_many_days_as_the_job_says(started: str, late: bool) -> None:
    assert unproven(started, zero_date=PROVEN) == ({"chord": PROVEN} if late else {})


@pytest.mark.parametrize("started", ["", "2031-05-02T08:00:00+00:00"])
def test_a_zero_that_was_never_proven_is_named_on_any_day(started: str) -> None:
    assert unproven(started) == {"chord": ""}


@pytest.mark.parametrize(("psi_u_deg", "refused"), [(3.0, False), (3.1, True)])
def test_a_level_of_one_axis_wants_an_azimuth_within_three_degrees_or_a_witness(
    psi_u_deg: float, refused: bool
) -> None:
    folds = {**LEVEL, "settings": {**LEVEL["settings"], "convention": "projection"}}
    setup = {"psi_u_deg": psi_u_deg}
    alone, with_hub = (job(level=level, setup=setup) for level in ([folds], [folds, HUB]))
    make_header(with_hub, Path(), started="")
    if refused:
        with pytest.raises(BadInputError, match="psi_u_deg"):
            make_header(alone, Path(), started="")
    else:
        make_header(alone, Path(), started="")
