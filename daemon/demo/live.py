"""The demo on real time: the hangar's levels on pseudo-terminals, or in the (emulated) air."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from daemon.core.engine import Engine
from daemon.demo.fast import fast, truth_beside
from daemon.session.headers import make_header
from daemon.session.jobs import resolve_profiles
from daemon.session.store import Store
from daemon.shell.clocks import SessionClock, wall
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.service import Link as LinkTask
from daemon.shell.service import Service
from drivers.links import keep
from shared.errors import OutsideError
from shared.events import Alarm, Summary
from shared.hands import Do
from shared.inputs import NS, Command, End
from shared.job import Header, Job, LevelEntry
from shared.profile import LevelProfile
from simulator import scenario as scenarios
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.line import Line
from simulator.polled import PolledLine
from simulator.radio import Radio
from simulator.radio.native import NativeLine
from simulator.radio.uart import RadioLine, over_the_air

STEP_S = 0.02
CLOSING_S = 2.0

LETS_LOOK_S = 12.0
"""How long the first alarm stands for whoever watches, whatever the pace: they read no faster."""


@dataclass(frozen=True, slots=True)
class Backstage:
    """What a demo gives its face beside the Desk.

    header: of its session.
    truth: what only the simulator knows, for a summary.
    about: a line that explains this moment to whoever watches, "" for none.
    do: has the hands do something, where the demo is played.
    """

    header: Header
    truth: Callable[[Summary], dict[str, Any]]
    about: Callable[[], str]
    do: Do


DemoFace = Callable[[Counter, Backstage], Awaitable[None]]
"""Given the Desk, and what only the demo knows."""


class Wire(Protocol):
    """One level's way to the program."""

    def write(self, data: bytes) -> None:
        """Send bytes now."""
        ...

    def pull(self) -> None:
        """Break it."""
        ...

    def put_back(self) -> None:
        """Mend it."""
        ...


async def live(
    name: str,
    seed: int,
    face: DemoFace,
    *,
    path: Path,
    pace: float = 1.0,
    radio: bool = False,
    watched: bool = False,
    played: bool = False,
) -> None:
    """Run a scenario through the ordinary links and the ordinary service.

    Args:
        name: the scenario.
        seed: what is drawn in it.
        face: returns when its person leaves.
        path: session file to record to.
        pace: simulated seconds a real second.
        radio: over the emulated Bluetooth service instead of pseudo-terminals.
        watched: somebody looks: its length is said, and the first alarm stands for a while.
        played: whoever looks is the hands; there is no simulated person.

    Raises:
        BadInputError: there is no such scenario.
        OutsideError: no pseudo-terminal or no private bus, or the disk fails.
    """
    lets_look_s = stands_s(pace) if watched else 0.0
    hangar = Hangar(scenarios.load(name), seed, lets_look_s, played=played)
    begins = PLAYED if played else begins_with(name, seed, pace) if watched else ""
    wired = _in_the_air if radio or _needs_air(hangar.job) else _on_pseudo_terminals
    async with wired(hangar.job) as (job, wires):
        header = make_header(job, Path(), started=wall())
        service = Service(Engine(header), Store.create(path, header), SessionClock(0, pace))
        links = [(e.name, _kept(e, header.profiles[e.name])) for e in header.job.level]
        links.append(("hangar", lambda inbox: _work(hangar, wires, inbox, service.desk)))
        backstage = Backstage(
            header=header,
            truth=lambda summary: truth_beside(summary, hangar.truth()),
            about=lambda: about(hangar, service.desk.view.stage, begins),
            do=hangar.do,
        )
        await service.run(links, lambda desk: face(desk, backstage))


def stands_s(pace: float) -> float:
    """For how many simulated seconds the first alarm stands."""
    return LETS_LOOK_S * pace


PLAYED = "you are the hands: ? shows the keys. SPACE presses, as in a job"


def begins_with(name: str, seed: int, pace: float) -> str:
    """Say how long the demo takes: found by doing it once on data time."""
    recording = fast(name, seed).recording
    alarmed = any(isinstance(event.body, Alarm) for event in recording.events)
    seconds = (recording.reach_ns / NS + (stands_s(pace) if alarmed else 0.0)) / pace
    minutes = max(1, round(seconds / 60))
    return f"a demo of about {minutes} min: its person is simulated, you need not press a key"


def about(hangar: Hangar, stage: str, begins: str) -> str:
    """Explain this moment of a demo, "" for none."""
    if hangar.lets_look:
        seconds = f"{LETS_LOOK_S:.0f} s"
        return (
            f"which blade, what, how far: the alarm stands {seconds} for you, then it is answered"
        )
    return begins if stage == "prepare" else ""


@asynccontextmanager
async def _on_pseudo_terminals(job: Job) -> AsyncIterator[tuple[Job, Mapping[str, Wire]]]:
    links = {n: p.transport.link for n, p in resolve_profiles(job, Path()).items()}
    lines = {n: PolledLine(n) if link == "modbus" else Line(n) for n, link in links.items()}
    try:
        yield _with_ports(job, {name: line.open() for name, line in lines.items()}), lines
    except OSError as error:
        raise OutsideError(f"no pseudo-terminal: {error}") from error
    finally:
        for line in lines.values():
            line.close()


@asynccontextmanager
async def _in_the_air(job: Job) -> AsyncIterator[tuple[Job, Mapping[str, Wire]]]:
    radio = Radio()
    try:
        await radio.start()
    except (OSError, TimeoutError) as error:
        raise OutsideError(
            f"the emulated radio does not start: {error}",
            "it needs the program dbus-daemon (Debian: apt install dbus)",
        ) from error
    try:
        native, profiles = _needs_air(job), resolve_profiles(job, Path())
        lines: dict[str, RadioLine | NativeLine] = {}
        for number, name in enumerate(profiles, 1):
            if native:
                lines[name] = NativeLine(radio, name, number, profiles[name])
            else:
                lines[name] = RadioLine(radio, name, number)
        ports = {name: await line.open() for name, line in lines.items()}
        yield _with_ports(job if native else over_the_air(job), ports), lines
    finally:
        await radio.stop()


def _needs_air(job: Job) -> bool:
    """Whether the levels were made for Bluetooth."""
    links = {profile.transport.link for profile in resolve_profiles(job, Path()).values()}
    return bool(links & {"ble-notify", "ble-advert"})


def _with_ports(job: Job, ports: dict[str, str]) -> Job:
    levels = [entry.model_copy(update={"port": ports[entry.name]}) for entry in job.level]
    return job.model_copy(update={"level": levels})


def _kept(entry: LevelEntry, profile: LevelProfile) -> LinkTask:
    return lambda inbox: keep(entry, profile, inbox)


async def _work(hangar: Hangar, wires: Mapping[str, Wire], inbox: Inbox, desk: Counter) -> None:
    """Let the hangar go on with session time, and its person hear and see the Desk."""
    heard_n = 0
    while not hangar.finished:
        heard = desk.since(heard_n)
        heard_n += len(heard)
        for item in hangar.advance(inbox.now(), heard, lambda: desk.view):
            _act(item, wires, inbox, heard_n)
        for wire in wires.values():
            if isinstance(wire, PolledLine):
                wire.answer()
        await asyncio.sleep(STEP_S)
    await asyncio.sleep(CLOSING_S)
    inbox.put(End("the demo's person stopped"))


def _act(item: Chunk | Press | Plug, wires: Mapping[str, Wire], inbox: Inbox, seen: int) -> None:
    if isinstance(item, Chunk):
        wires[item.level].write(item.data)
    elif isinstance(item, Plug):
        wire = wires[item.level]
        wire.pull() if item.state == "down" else wire.put_back()
    else:
        name = f"press-{item.t_ns}-{item.kind}"
        inbox.put(Command(name, "person", seen, item.kind, item.args))
