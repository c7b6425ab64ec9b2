"""`stillblade watch`: levels left on blades, and nothing else: has one of them moved?"""

from pathlib import Path

from daemon.clocks import SessionClock, stamp_for_name, wall
from daemon.core.engine import Engine
from daemon.headers import make_header
from daemon.jobs import load_job
from daemon.learned import known
from daemon.service import Service
from daemon.session.store import Store
from shared.errors import BadInputError


def watch_service(path: Path) -> Service:
    """Return a service that watches with the job's levels of role "watch".

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
    header = make_header(job, path.parent, started=wall(), levels=known(path.parent))
    header = header.model_copy(update={"procedure": "watch"})
    session = path.with_name(f"{path.stem}-watch-{stamp_for_name()}.session")
    return Service(Engine(header), Store.create(session, header), SessionClock())
