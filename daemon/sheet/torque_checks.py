"""Torque checks of a hub between its settings: bolts looked at again, no blade read.

The program cannot know what a bolt gets: it keeps what a person says.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

from pydantic import Field

from daemon.sheet.put_beside import beside, put_at_end, read_as
from shared.errors import BadInputError, unread
from shared.model import Written

FIRST = """\
# Torque checks of hub {hub} between its settings. Put at the end by stillblade torque-check; what you write above stays.
# When and to what value bolts are checked stands in the propeller's manual.
stillblade_torque_checks = 1
"""
Words = Annotated[str, Field(max_length=200)]


class TorqueCheck(Written):
    """One check, as somebody says it was done."""

    on: date
    by: Annotated[str, Field(min_length=1, max_length=80)]
    hours: Words = ""
    """Of the aircraft or the propeller, as its log has them."""
    torque: Words = ""
    """In the manual's words: "25 N·m"."""
    wrench: Words = ""
    found: Words = ""
    """What was seen: whether a bolt turned, the locking, the witness marks."""


class TorqueChecks(Written):
    """A file of them."""

    stillblade_torque_checks: Annotated[int, Field(ge=1, le=1)]
    check: tuple[TorqueCheck, ...] = ()


def checks_beside(folder: Path, hub: str) -> tuple[list[TorqueCheck], str]:
    """Return a hub's checks, the oldest first, and what is wrong with the file of them."""
    path = beside(folder, hub, "torque-checks")
    if not hub or not path.exists():
        return [], ""
    try:
        return _sorted(read_as(TorqueChecks, path.read_text("utf-8"), path)), ""
    except (OSError, UnicodeDecodeError) as error:
        return [], f"{path}: cannot be read: {unread(error)}"
    except BadInputError as error:
        return [], str(error)


def add(folder: Path, hub: str, check: TorqueCheck) -> tuple[Path, list[TorqueCheck]]:
    """Keep one more; return where, and all of them.

    Raises:
        BadInputError: the file is not right as it is; nothing is written.
        OutsideError: it cannot be written.
    """
    path = beside(folder, hub, "torque-checks")
    values = {key: value for key, value in check.model_dump().items() if value != ""}
    made = put_at_end(path, TorqueChecks, "check", values, lambda: FIRST.format(hub=ascii(hub)))
    return path, _sorted(made)


def told(checks: Sequence[TorqueCheck]) -> Iterator[str]:
    """Yield a line a check."""
    for one in checks:
        hours = f", {one.hours} h" if one.hours else ""
        said = ", ".join(words for words in (one.torque, one.wrench, one.found) if words)
        yield f"{one.on}{hours}  torque check by {one.by}{': ' if said else ''}{said}"


def _sorted(checks: TorqueChecks) -> list[TorqueCheck]:
    return sorted(checks.check, key=lambda one: one.on)
