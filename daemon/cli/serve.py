"""`stillblade serve`: do a job without a screen of its own; screens attach to it."""

import logging
import os
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson, Flag, PageAddress, PageTls
from daemon.cli.paged import PageAt, page_of, place_of, show_code

if TYPE_CHECKING:
    from daemon.faces.page import Place
    from daemon.session.begin import Begun
    from daemon.shell.counter import Counter
    from shared.events import Summary

log = logging.getLogger("stillblade")


def serve(
    job: Path,
    *,
    tcp: Flag = False,
    new: Flag = False,
    json_: AsJson = False,
    page: PageAddress = "",
    page_tls: PageTls = False,
) -> int:
    """Do a job without a screen; `stillblade attach` shows it, here and as often as wanted.

    An unfinished session of the same job is taken up again. Exits with 1 where it ends with any
    result but "within".

    Parameters
    ----------
    job
        The job file (TOML). Sessions are recorded beside it.
    tcp
        Listen on the loopback with a token, where there are no Unix sockets.
    new
        Begin a new session even if there is an unfinished one.
    json_
        One JSON object a line on standard output.
    page
        Also a page for a browser, at this ADDRESS or ADDRESS:PORT of this machine.
    page_tls
        The page over TLS, with a certificate of its own.
    """
    from daemon.cli.before import before
    from daemon.cli.lines import exit_code
    from daemon.cli.stops import until_stopped
    from daemon.session.begin import begin, only_one
    from daemon.session.jobs import load_job
    from daemon.shell.clocks import wall

    loaded = load_job(job)
    place = place_of(PageAt(page, page_tls))
    with only_one(job):
        begun = begin(job, loaded, wall(), new=new, before=lambda: before(job, loaded))
        log.info("%s: %s", begun.path.name, begun.say)
        done, stopped = until_stopped(_served(begun, job, place, tcp=tcp, as_json=json_))
        if stopped:
            log.info("stopped; the same command takes it up again")
        return exit_code(done)


async def _served(
    begun: "Begun", job: Path, place: "Place | None", *, tcp: bool, as_json: bool
) -> "Summary | None":
    """Work on a session; print what happens, and let faces attach."""
    import asyncio
    import sys

    from daemon.cli.attachable import attachable, publisher_of
    from daemon.cli.lines import Printer, headless
    from daemon.cli.run import work_on
    from daemon.cli.screen import offer_sheet
    from daemon.faces.addresses import UNIX, address_of

    address = address_of(job, tcp=tcp or not UNIX)

    async def face(desk: "Counter") -> None:
        printed = headless(desk, Printer(sys.stdout, as_json=as_json))
        async with asyncio.TaskGroup() as group:
            alive = group.create_task(_alive(), name="watchdog")
            publisher = publisher_of(desk, begun.engine.header, begun.path)
            ready = partial(_ready, address.path)
            page = page_of(desk, place)
            if place is not None:
                show_code(place)
            await attachable(desk, address, begun.path.name, printed, ready, publisher, [page])
            offer_sheet(desk, begun.path)
            alive.cancel()

    return await work_on(begun, face)


def _ready(path: Path) -> None:
    log.info("faces attach at %s: stillblade attach", path)
    _tell_systemd("READY=1")


async def _alive() -> None:
    """Tell the service manager twice in its time that the loop still turns (sd_notify(3))."""
    import asyncio

    allowed_us = int(os.environ.get("WATCHDOG_USEC", "0") or 0)
    while allowed_us:
        _tell_systemd("WATCHDOG=1")
        await asyncio.sleep(allowed_us / 2e6)


def _tell_systemd(state: str) -> None:
    where = os.environ.get("NOTIFY_SOCKET", "")
    if not where:
        return
    import socket

    address = "\0" + where[1:] if where.startswith("@") else where
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
            line.sendto(state.encode(), address)
    except OSError as error:
        log.warning("the service manager does not hear: %s", error)
