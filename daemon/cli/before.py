"""What earlier sessions in a job's folder say of its hub: to be told when the next one begins."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.session.begin import Before
from shared.errors import BadInputError
from shared.job import Job

if TYPE_CHECKING:
    from daemon.sheet.settings_of_hub import Setting


def before(job_path: Path, job: Job) -> Before:
    """Return what is known of the job's hub; nothing where it names none, or nobody set it here."""
    if not job.propeller.hub:
        return Before()
    from daemon.sheet.shelf import settings_in

    try:
        settings, _ = settings_in(job_path.parent)
    except BadInputError:
        return Before()
    of_hub = [one for one in settings if one.hub == job.propeller.hub]
    if not of_hub:
        return Before()
    was_set = [one for one in of_hub if not one.read_only]
    return Before(
        earlier=f"{was_set[-1].day}, {was_set[-1].result}" if was_set else "",
        pulled_deg=pulled_alike(of_hub),
        remarks=tuple(_parts(of_hub[-1], job)),
    )


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


def _parts(last: "Setting", job: Job) -> Iterator[str]:
    """Yield in words which parts are elsewhere than last time, others, or not named any more."""
    from daemon.sheet.settings_of_hub import parts_of

    now = dict(enumerate(job.propeller.serials, 1))
    when = last.started[:10] or "the last time"
    if last.serials and not now:
        named = ", ".join(f"{number}: {serial}" for number, serial in sorted(last.serials.items()))
        yield f"the job names no serial numbers; {when} the sockets had {named}"
    was_in = {serial: socket for socket, serial in last.serials.items()}
    for socket, serial in now.items():
        before_it = was_in.get(serial)
        if before_it not in {None, socket}:
            yield f"blade {serial} is in socket {socket}, and was in socket {before_it} on {when}"
        elif last.serials and before_it is None:
            yield f"blade {serial} in socket {socket} was not on this hub on {when}"
    yield from _other_parts(last.parts, parts_of(job.propeller), when)


def _other_parts(then: Mapping[str, str], now: Mapping[str, str], when: str) -> Iterator[str]:
    """Yield in words which parts beside the blades are other than last time, or not named any more."""
    for what, words in then.items():
        if what not in now:
            yield f"the job names no {what}; {when} they were {words}"
        elif now[what] != words:
            yield f"{what}: {now[what]}; {when} they were {words}"
