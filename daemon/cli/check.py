"""`stillblade check`: what of this machine would stand in the way of a job, and what to do."""

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson

if TYPE_CHECKING:
    from daemon.cli.findings import Finding
    from shared.job import Job, LevelEntry
    from shared.profile import LevelProfile

SCAN_S = 0.5

Levels = list[tuple["LevelEntry", "LevelProfile"]]


def check(job: Path | None = None, *, json_: AsJson = False) -> int:
    """Say what of clock, disk, ports, Bluetooth, sound and broker is wrong, each with what to do.

    Of a job also how many readings it wants if nothing moves. Exit 1 where something is, 3 where something gave no answer.

    Parameters
    ----------
    job
        Only what this job needs, in its folder. Without one, everything, in this folder.
    json_
        One JSON object a line.
    """
    import asyncio

    from daemon.cli.findings import exit_code, line
    from shared.plain import plain

    loaded = _loaded(job)
    folder = (job or Path("x")).absolute().parent
    levels = _levels(loaded, folder)
    found = [
        *_of_machine(folder),
        *_of_readings(loaded, folder),
        *asyncio.run(_of_links(levels)),
        *_of_broker(loaded, folder),
    ]
    for finding in found:
        print(
            json.dumps({"event": "check", **asdict(finding)}) if json_ else plain(line(finding)),
            flush=True,
        )
    return exit_code(found)


def _loaded(job: Path | None) -> "Job | None":
    from daemon.session.jobs import load_job

    return None if job is None else load_job(job)


def _levels(job: "Job | None", folder: Path) -> "Levels | None":
    """Return the job's levels with their profiles; None where there is no job."""
    from daemon.session.jobs import resolve_profiles

    if job is None:
        return None
    profiles = resolve_profiles(job, folder)
    return [(entry, profiles[entry.name]) for entry in job.level]


def _of_readings(job: "Job | None", folder: Path) -> list["Finding"]:
    """Say how many readings the job wants, with what is known of its levels."""
    if job is None:
        return []
    from daemon.cli.findings import of_readings
    from daemon.cli.so_many import so_many

    return [of_readings(so_many(job, folder))]


def _of_broker(job: "Job | None", folder: Path) -> list["Finding"]:
    """Try the job's broker, where it names one."""
    if job is None or job.broker is None:
        return []
    import asyncio

    from daemon.cli.findings import of_broker
    from daemon.faces.mqtt import Access, trouble

    access = Access(job.broker, folder)
    return [of_broker(access.where, asyncio.run(trouble(access)))]


def _of_machine(folder: Path) -> list["Finding"]:
    from daemon.cli import findings
    from daemon.faces.sound import PLAYERS, found
    from daemon.session.probe import tried

    player = next(iter(found(PLAYERS)), "")
    return [
        findings.of_clock(datetime.now(UTC), _newest(folder)),
        findings.of_disk(tried(folder)),
        findings.of_sound(player),
    ]


def _newest(folder: Path) -> datetime | None:
    """Return when the youngest job or session of the folder was written."""
    try:
        files = [path for kind in ("*.toml", "*.session") for path in folder.glob(kind)]
        return datetime.fromtimestamp(max(path.stat().st_mtime for path in files), UTC)
    except (OSError, ValueError):
        return None


async def _of_links(levels: "Levels | None") -> list["Finding"]:
    if levels is None:
        return [*await _of_all_ports(), await _of_air()]
    wired = [(e, p) for e, p in levels if p.transport.link in {"serial", "modbus"}]
    found = await _of_ports({entry.port: (entry, profile) for entry, profile in wired}.values())
    return found if len(wired) == len(levels) else [*found, await _of_air()]


async def _of_ports(
    levels: Iterable[tuple["LevelEntry", "LevelProfile"]],
) -> list["Finding"]:
    from daemon.cli.findings import of_port
    from drivers.links.tried import port_trouble

    return [of_port(e.port, await port_trouble(e, p.transport)) for e, p in levels]


async def _of_all_ports() -> list["Finding"]:
    from daemon.cli.findings import of_no_ports, of_port
    from drivers.links.tried import ports_with_trouble

    found = await ports_with_trouble()
    return [of_port(where, trouble) for where, trouble in found] or [of_no_ports()]


async def _of_air() -> "Finding":
    from daemon.cli.findings import of_bluetooth
    from drivers.links.tried import air_trouble

    return of_bluetooth(await air_trouble(SCAN_S))
