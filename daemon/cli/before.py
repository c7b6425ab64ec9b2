"""What earlier sessions in a job's folder say of its hub: to be told when the next one begins."""

from functools import reduce
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.session.begin import Before
from daemon.session.parts import Known, filled, otherwise, taken_over
from shared.errors import BadInputError
from shared.job import Job

if TYPE_CHECKING:
    from daemon.sheet.settings_of_hub import Setting


def before(job_path: Path, job: Job) -> Before:
    """Return what is known of the job's hub; nothing where it names none, or nobody set it here."""
    if not job.propeller.hub:
        return Before()
    of_hub = _settings_of(job_path.parent, job.propeller.hub)
    known = _known(of_hub)
    if known is None:
        return Before()
    was_set = [one for one in of_hub if not one.read_only]
    then, when = known.propeller, known.when
    taken = taken_over(job.propeller, then, when)
    now = filled(job.propeller, then)
    return Before(
        earlier=f"{was_set[-1].day}, {was_set[-1].result}" if was_set else "",
        pulled_deg=pulled_alike(of_hub),
        remarks=(*([taken] if taken else []), *otherwise(now, then, when)),
        parts=then,
    )


def known_of(folder: Path, hub: str) -> Known | None:
    """Return a hub's parts as its sessions in a folder have them; None where there is none."""
    return _known(_settings_of(folder, hub))


def _settings_of(folder: Path, hub: str) -> list["Setting"]:
    from daemon.sheet.shelf import settings_in

    try:
        settings, _ = settings_in(folder)
    except BadInputError:
        return []
    return [one for one in settings if one.hub == hub]


def _known(of_hub: list["Setting"]) -> Known | None:
    """Return the last, with what it leaves out as it was before."""
    if not of_hub:
        return None
    each = (one.propeller for one in of_hub)
    return Known(reduce(lambda earlier, later: filled(later, earlier), each), of_hub[-1].day)


def pulled_alike(settings: list["Setting"]) -> float | None:
    """Return how far the bolts turned all blades alike in the newest session that tells; degrees."""
    from daemon.workflow.aim import Turned, alike

    for one in reversed(settings):
        for stage in reversed(one.pulls):
            turned = {
                blade: Turned(deg, one.angles[blade][1])
                for blade, deg in one.pulls[stage].items()
                if blade in one.angles
            }
            return alike(turned) if len(turned) == len(one.angles) else None
    return None
