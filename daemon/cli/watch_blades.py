"""`stillblade watch`: levels left on blades, and nothing else: has one of them moved?"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from daemon.session.begin import Begun, begin, only_one
from daemon.session.jobs import load_job
from shared.errors import BadInputError


@contextmanager
def watching(path: Path, *, new: bool = False) -> Iterator[Begun]:
    """Give a session that watches with the job's levels of role "watch".

    One that was stopped or cut off is taken up again: where the blades stood then is where
    they are held against, so that one moved meanwhile is told.

    Raises:
        BadInputError: the job is wrong, or no level of it watches a blade.
        OutsideError: the session file cannot be written.
    """
    job = load_job(path)
    if not any(entry.role == "watch" and entry.watches for entry in job.level):
        raise BadInputError(
            str(path),
            "level",
            "no level watches a blade",
            'give a level role = "watch" and watches = the number of its blade',
        )
    with only_one(path, "watch"):
        yield begin(path, job, new=new, procedure="watch")
