"""How many readings a job will want, as the commands say it before it starts."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daemon.core.foretold import Foretold
    from shared.job import Job


def so_many(job: "Job", folder: Path) -> "Foretold | None":
    """Return what a job in its folder comes to if nothing moves; None where nobody knows.

    Raises:
        BadInputError: a profile is not there or wrong, or what was learned in the folder is damaged.
    """
    from daemon.core.foretold import foretold
    from daemon.session.headers import make_header
    from daemon.session.learned import known

    return foretold(make_header(job, folder, levels=known(folder)))
