"""How many readings a job will want, as the commands say it before it starts."""

import logging
import threading
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daemon.core.foretold import Foretold
    from daemon.shell.counter import Counter
    from shared.job import Header, Job

BEFORE = frozenset({"", "prepare", "reference"})
"""Stages in which it is said: the work has hardly begun. "": no step is told yet."""


def so_many(job: "Job", folder: Path) -> "Foretold | None":
    """Return what a job in its folder comes to if nothing moves; None where nobody knows.

    Raises:
        BadInputError: a profile is not there or wrong, or what was learned in the folder is damaged.
    """
    from daemon.core.foretold import foretold
    from daemon.session.headers import make_header
    from daemon.session.learned import known

    return foretold(make_header(job, folder, levels=known(folder)))


class Wanted:
    """Says beside the screen of a job that begins how many readings it will want.

    It is worked out from the first picture on, in a thread that nobody waits for: it takes a second, on a
    small computer ten. Said once in the log too. header: of the session; desk: what its screen is given.
    """

    def __init__(self, header: "Header", desk: "Counter") -> None:
        self._header = header
        self._desk = desk
        self._asked = False
        self._said = ""

    def about(self) -> str:
        """Return it in words; "" while it is not known, and when the work has begun."""
        if self._desk.view.stage not in BEFORE:
            return ""
        if not self._asked:
            self._asked = True
            threading.Thread(target=self._work, name="so many", daemon=True).start()
        return self._said

    def _work(self) -> None:
        from daemon.core.foretold import foretold
        from shared.wording import so_many_readings

        if (told := foretold(self._header)) is not None:
            self._said = f"it wants {so_many_readings(told.fewest, told.most)}"
            logging.getLogger("stillblade").info(self._said)
