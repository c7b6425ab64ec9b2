"""How many readings a job will want, as the commands say it before it starts."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shared.job import Job


def so_many(job: "Job", folder: Path) -> tuple[int, int] | None:
    """Return the fewest and the most readings of a job in its folder if nothing moves; None where nobody knows.

    Raises:
        BadInputError: a profile is not there or wrong, or what was learned in the folder is damaged.
    """
    from daemon.core.foretold import readings
    from daemon.session.headers import make_header
    from daemon.session.learned import known

    return readings(make_header(job, folder, levels=known(folder)))
