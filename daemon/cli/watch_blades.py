"""`stillblade watch`: levels left on blades, and nothing else: has one of them moved?"""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson, Flag, PageAddress, PageTls
from daemon.cli.paged import PageAt, place_of
from shared.errors import BadInputError

if TYPE_CHECKING:
    from daemon.session.begin import Begun


def watch(
    job: Path,
    *,
    headless: Flag = False,
    json_: AsJson = False,
    new: Flag = False,
    page: PageAddress = "",
    page_tls: PageTls = False,
) -> int:
    """Watch blades that levels were left on: changed, moved, creeping, shaken, lifted.

    A watch that was stopped is taken up again: a blade moved meanwhile is told.

    Parameters
    ----------
    job
        A job file; its levels with role "watch" are used.
    headless
        No screen; commands are read from standard input, one JSON object a line.
    json_
        One JSON object a line on standard output.
    new
        Take the blades as they stand now, whatever was watched before.
    page
        Also a page for a browser, at this ADDRESS or ADDRESS:PORT of this machine.
    page_tls
        The page over TLS, with a certificate of its own.
    """
    from daemon.cli.run import screen_of, work_on
    from daemon.cli.stops import until_stopped

    place = place_of(PageAt(page, page_tls))
    with _watching(job, new=new) as begun:
        logging.getLogger("stillblade").info("%s: %s", begun.path.name, begun.say)
        shown = screen_of(begun, job, place, as_json=json_, headless=headless or json_)
        if until_stopped(work_on(begun, shown))[1]:
            logging.getLogger("stillblade").info("stopped; the same command takes it up again")
    return 0


@contextmanager
def _watching(path: Path, *, new: bool = False) -> Iterator["Begun"]:
    """Give a session that watches with the job's levels of role "watch".

    One that was stopped or cut off is taken up again: where the blades stood then is where
    they are held against, so that one moved meanwhile is told.

    Raises:
        BadInputError: the job is wrong, or no level of it watches a blade.
        OutsideError: the session file cannot be written.
    """
    from daemon.cli.screen import progress
    from daemon.session.begin import begin, only_one
    from daemon.session.jobs import load_job
    from daemon.shell.clocks import wall

    job = load_job(path)
    if not any(entry.role == "watch" and entry.watches for entry in job.level):
        raise BadInputError(
            str(path),
            "level",
            "no level watches a blade",
            'give a level role = "watch" and watches = the number of its blade',
        )
    with only_one(path, "watch"):
        yield begin(path, job, wall(), new=new, procedure="watch", told=progress)
