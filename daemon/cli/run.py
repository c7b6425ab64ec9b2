"""`stillblade run`: do a job, or go on with it."""

import logging
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson, Flag, PageAddress, PageTls
from daemon.cli.paged import PageAt, let_scan, page_of, place_of, show_code

if TYPE_CHECKING:
    from daemon.faces.page import Place
    from daemon.session.begin import Begun
    from daemon.shell.counter import Counter
    from daemon.shell.service import Face
    from shared.events import Summary


def run(
    job: Path | None = None,
    *,
    headless: Flag = False,
    json_: AsJson = False,
    new: Flag = False,
    read_only: Flag = False,
    page: PageAddress = "",
    page_tls: PageTls = False,
) -> int:
    """Do a job. An unfinished session of the same job is taken up again.

    Exits with 1 where it ends with any result but "within".

    Parameters
    ----------
    job
        The job file (TOML). Sessions are recorded beside it. Where none is named, the newest is
        offered: of this folder, else of those that were run before.
    headless
        No screen; commands are read from standard input, one JSON object a line.
    json_
        One JSON object a line on standard output.
    new
        Begin a new session even if there is an unfinished one.
    read_only
        Read the reference and every blade once as they are found, and set nothing.
    page
        Also a page for a browser, at this ADDRESS or ADDRESS:PORT of this machine.
    page_tls
        The page over TLS, with a certificate of its own.
    """
    from daemon.cli import offered_jobs
    from daemon.session.begin import Procedure, begin, only_one
    from daemon.session.jobs import load_job

    job = job or offered_jobs.asked()
    loaded = load_job(job)
    place = place_of(PageAt(page, page_tls))
    from daemon.cli.before import before
    from daemon.cli.lines import exit_code
    from daemon.cli.screen import progress
    from daemon.cli.stops import until_stopped
    from daemon.shell.clocks import wall

    procedure: Procedure = "read" if read_only else "set"
    with only_one(job, procedure):
        offered_jobs.remember(job)
        begun = begin(
            job,
            loaded,
            wall(),
            new=new,
            procedure=procedure,
            told=progress,
            before=lambda: before(job, loaded),
        )
        logging.getLogger("stillblade").info("%s: %s", begun.path.name, begun.say)
        shown = screen_of(begun, job, place, as_json=json_, headless=headless or json_)
        done, stopped = until_stopped(work_on(begun, shown))
        if stopped:
            logging.getLogger("stillblade").info("stopped; the same command takes it up again")
        return exit_code(done)


async def work_on(begun: "Begun", face: "Face") -> "Summary | None":
    """Serve a session until it is finished or its person leaves; learn from a finished one.

    Returns:
        Its summary; None where it is not finished.
    """
    from daemon.cli.lines import summary_of
    from daemon.shell.clocks import SessionClock
    from daemon.shell.service import Service
    from drivers.links import keep

    header = begun.engine.header
    clock = SessionClock(begun.reach_ns)
    service = Service(begun.engine, begun.store, clock, begun.before, begun.reach_ns)
    links = [
        (entry.name, lambda inbox, e=entry: keep(e, header.profiles[e.name], inbox))
        for entry in header.job.level
    ]
    await service.run(links, face)
    if begun.engine.finished:
        from daemon.session.learned import remember

        events = service.desk.since(0)
        remember(begun.path.parent, header, events)
        return summary_of(events)
    print(
        f"{begun.path.name}: not finished; the same command takes it up again",
        file=sys.stderr,
    )
    return None


def screen_of(
    begun: "Begun", job: Path, place: "Place | None", *, as_json: bool, headless: bool
) -> "Face":
    """Return the face of a session at this terminal; others may attach meanwhile."""
    headless = headless or not sys.stdout.isatty()
    if not headless:
        let_scan(place)

    async def face(desk: "Counter") -> None:
        from daemon.cli.attachable import attachable, publisher_of
        from daemon.cli.screen import show
        from daemon.cli.so_many import Wanted
        from daemon.faces.addresses import address_of

        address = address_of(job, begun.engine.header.procedure)
        many = Wanted(begun.engine.header, desk)
        if headless:
            many.about()  # no picture asks for it
        shown = show(
            desk,
            as_json=as_json,
            headless=headless,
            record=begun.path,
            about=many.about,
        )
        publisher = publisher_of(desk, begun.engine.header, begun.path)
        beside = page_of(desk, place)
        if place is not None and headless:
            show_code(place)
        await attachable(
            desk, address, begun.path.name, shown, publisher=publisher, others=[beside]
        )

    return face
