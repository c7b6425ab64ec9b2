"""What `stillblade check` says of what it found. Pure: facts in, sentences out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from daemon.session.probe import Disk
from shared.wording import so_many_readings

if TYPE_CHECKING:
    from daemon.core.foretold import Foretold

State = Literal["good", "wrong", "unknown"]

OLDEST = datetime(2026, 1, 1, tzinfo=UTC)
"""The program is younger than this: a clock that says less is wrong."""
BACK = timedelta(hours=1)
"""Files may be so much younger than the clock says: another machine wrote them."""
ROOM_BYTES = 200_000_000
"""A long day of several fast levels stays well under this."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at; remedy: "" where nothing is to be done."""

    what: str
    state: State
    say: str
    remedy: str = ""


def of_clock(now: datetime, newest: datetime | None) -> Finding:
    """Judge the wall clock; newest: when the youngest file beside the job was written."""
    remedy = "set date and time (timedatectl set-ntp true, or date -s): records carry them"
    at = now.isoformat(" ", "minutes")
    if now < OLDEST:
        return Finding("clock", "wrong", f"the clock says {at}", remedy)
    if newest is not None and newest - now > BACK:
        say = f"the clock says {at}, and a file here is of {newest.isoformat(' ', 'minutes')}"
        return Finding("clock", "wrong", say, remedy)
    return Finding("clock", "good", f"the clock says {at}")


def of_disk(disk: Disk) -> Finding:
    """Judge the folder that sessions are recorded in."""
    if disk.why_not:
        say = f"nothing can be recorded in {disk.folder}: {disk.why_not}"
        return Finding("disk", "wrong", say, _room_or_rights(disk))
    free = disk.free_bytes or 0
    if free < ROOM_BYTES:
        say = f"{free / 1e6:.0f} MB are free in {disk.folder}"
        return Finding("disk", "wrong", say, f"make room: {ROOM_BYTES / 1e6:.0f} MB are for sure")
    return Finding("disk", "good", f"records reach {disk.folder}; {free / 1e9:.1f} GB are free")


def _room_or_rights(disk: Disk) -> str:
    if disk.free_bytes is None:
        return "correct the folder's name, or make it"
    if disk.free_bytes < ROOM_BYTES:
        return "make room on the disk"
    return "choose a folder on a disk of this machine that you may write to"


def of_readings(told: "Foretold | None") -> Finding:
    """Say how many readings the job wants, and whether they can tell; None: nobody knows."""
    if told is None:
        return Finding("readings", "good", "how many readings it wants is not known beforehand")
    many = so_many_readings(told.fewest, told.most)
    if told.provable:
        return Finding("readings", "good", many)
    return Finding("readings", "wrong", f"{many}, but {NOT_PROVABLE}", WIDER)


NOT_PROVABLE = "blades that all stand on their angle could not be told to be within the limits"
WIDER = (
    "target.tolerance_deg or target.spread_deg is narrower than these readings tell: a wider one, a level that "
    "seats better (`stillblade levels seating` measures it), or more baseline_placements and max_placements"
)


def of_port(where: str, trouble: str) -> Finding:
    """Judge one port; trouble: the link's own sentence, what and remedy; "" where it opens."""
    return _of("port", f"{where} can be opened", trouble)


def of_no_ports() -> Finding:
    """Without a job, and nothing is plugged in."""
    return Finding(
        "port", "wrong", "there is no serial port", "plug in the level, or use one in the air"
    )


def of_bluetooth(trouble: str) -> Finding:
    """Judge Bluetooth; trouble: as of a port."""
    return _of("bluetooth", "the adapter is on and scans", trouble)


def of_broker(where: str, trouble: str) -> Finding:
    """Judge the job's broker; trouble: as of a port."""
    return _of("broker", f"{where} takes us and what we publish", trouble)


def of_sound(player: str) -> Finding:
    """Judge whether something can be heard; player: the program that plays, or ""."""
    if player:
        return Finding("sound", "good", f"{player} plays sounds")
    remedy = "install one (Debian: apt install alsa-utils); until then watch the screen"
    return Finding("sound", "wrong", "no program plays sounds", remedy)


def exit_code(found: Sequence[Finding]) -> int:
    """Return 1 where something is wrong, 3 where something did not let itself be looked at."""
    states = {finding.state for finding in found}
    return 1 if "wrong" in states else 3 if "unknown" in states else 0


def line(finding: Finding) -> str:
    """Return a finding for a person."""
    remedy = f": {finding.remedy}" if finding.remedy else ""
    return f"{finding.state:7}  {finding.what:9}  {finding.say}{remedy}"


def _of(what: str, good: str, trouble: str) -> Finding:
    if not trouble:
        return Finding(what, "good", good)
    say, _, remedy = trouble.rpartition(": ")
    if " did not answer in " in trouble:
        return Finding(
            what, "unknown", say, "look again; where it lasts, unplug it or start it anew"
        )
    return Finding(what, "wrong", say, remedy)
