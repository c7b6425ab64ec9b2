"""The demo's wiring: the simulated hangar in front of the ordinary engine and service.

This module may import the simulator; nothing else of the daemon does.
"""

import asyncio
import dataclasses
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from daemon.clocks import SessionClock, wall
from daemon.counter import Counter
from daemon.engine import Engine
from daemon.headers import make_header
from daemon.inbox import Inbox
from daemon.service import Link as LinkTask
from daemon.service import Service
from daemon.session.recording import Recording
from daemon.session.store import Store
from drivers.links import keep
from shared.angles import stated
from shared.errors import OutsideError
from shared.events import Event, Summary
from shared.inputs import NS, Bytes, Command, End, Input, Link
from shared.job import Job, LevelEntry
from shared.messages import body_to_dict
from shared.profile import LevelProfile
from simulator import scenario as scenarios
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.line import Line
from simulator.truth import Truth

STEP_NS = NS // 25
"""How often the person in the hangar hears and looks: 25 times a second."""
LONGEST_NS = 3600 * NS
"""No demo takes longer than this."""


@dataclass(slots=True)
class Outcome:
    """What a demo came to."""

    recording: Recording
    truth: Truth

    @property
    def closing(self) -> Summary:
        """The session's summary."""
        body = self.recording.events[-1].body
        assert isinstance(body, Summary)
        return body

    def summary(self) -> dict[str, Any]:
        """Return the summary with the truth beside it."""
        return {**body_to_dict(self.closing), **truth_beside(self.closing, self.truth)}


def truth_beside(summary: Summary, truth: Truth) -> dict[str, Any]:
    """Return what only the simulator knows, for the demo's summary."""
    errors = [
        abs(row["angle_deg"] - true)
        for row, true in zip(summary.blades, truth.angles_deg, strict=True)
        if row["angle_deg"] is not None
    ]
    return {
        "true_deg": [stated(angle) for angle in truth.angles_deg],
        "largest_error_deg": stated(max(errors, default=0.0)),
        "truth_moved": truth.moved_blades(),
    }


def fast(name: str, seed: int, told: Callable[[list[Event]], None] = lambda _: None) -> Outcome:
    """Run a scenario on data time: the same bytes, the same engine, no pseudo-terminal.

    told: called with the events of every step, oldest first.

    Raises:
        BadInputError: there is no such scenario.
    """
    hangar = Hangar(scenarios.load(name), seed)
    header = make_header(hangar.job, Path(), session=f"demo-{name}-{seed}")
    engine, recording = Engine(header), Recording(header)
    stamp = _Stamp(recording.inputs)
    heard: list[Event] = []
    for level in hangar.job.level:
        heard += engine.feed(stamp(Link(level.name, "up", "", f"simulated {level.name}"), 0))
    recording.events += heard
    while not engine.finished and not hangar.finished and hangar.now_ns < LONGEST_NS:
        told(heard)
        made = hangar.advance(hangar.now_ns + STEP_NS, heard, engine.view())
        heard = []
        seen = recording.events[-1].n if recording.events else 0
        for item in _inputs(made, seen):
            heard += engine.feed(stamp(item[1], item[0]))
        heard += engine.advance(hangar.now_ns)
        recording.events += heard
    if not engine.finished:
        heard += (last := engine.feed(stamp(End("the demo's person stopped"), hangar.now_ns)))
        recording.events += last
    told(heard)
    recording.reach_ns = max(hangar.now_ns, recording.inputs[-1].t_ns)
    return Outcome(recording, hangar.truth())


async def live(
    name: str,
    seed: int,
    face: Callable[[Counter, Callable[[Summary], dict[str, Any]]], Awaitable[None]],
    *,
    path: Path,
    pace: float = 1.0,
) -> Service:
    """Run a scenario through pseudo-terminals and the ordinary service.

    Args:
        name: the scenario.
        seed: what is drawn in it.
        face: given the Desk, and what adds the truth to a summary.
        path: session file to record to.
        pace: simulated seconds a real second.

    Raises:
        BadInputError: there is no such scenario.
        OutsideError: the system gives no pseudo-terminal, or the disk fails.
    """
    hangar = Hangar(scenarios.load(name), seed)
    lines = {entry.name: Line(entry.name) for entry in hangar.job.level}
    try:
        job = _with_ports(hangar.job, {name: line.open() for name, line in lines.items()})
        header = make_header(job, Path(), started=wall())
        store = Store.create(path, header)
        service = Service(Engine(header), store, SessionClock(0, pace))
        links = [
            (entry.name, _kept(entry, header.profiles[entry.name])) for entry in header.job.level
        ]
        links.append(("hangar", lambda inbox: _live_hangar(hangar, lines, inbox, service.desk)))
        await service.run(links, lambda desk: face(desk, lambda s: truth_beside(s, hangar.truth())))
    except OSError as error:
        raise OutsideError(f"no pseudo-terminal: {error}") from error
    finally:
        for line in lines.values():
            line.close()
    return service


def _kept(entry: LevelEntry, profile: LevelProfile) -> LinkTask:
    return lambda inbox: keep(entry, profile, inbox)


def _with_ports(job: Job, ports: dict[str, str]) -> Job:
    levels = [entry.model_copy(update={"port": ports[entry.name]}) for entry in job.level]
    return job.model_copy(update={"level": levels})


async def _live_hangar(hangar: Hangar, lines: dict[str, Line], inbox: Inbox, desk: Counter) -> None:
    """Let the hangar go on with session time, and its person hear and see the Desk."""
    heard_n = 0
    while not hangar.finished:
        heard = desk.since(heard_n)
        heard_n += len(heard)
        for item in hangar.advance(inbox.now(), heard, desk.view):
            _act(item, lines, inbox, heard_n)
        await asyncio.sleep(0.02)
    await asyncio.sleep(2.0)
    inbox.put(End("the demo's person stopped"))


def _act(item: Chunk | Press | Plug, lines: dict[str, Line], inbox: Inbox, seen: int) -> None:
    if isinstance(item, Chunk):
        lines[item.level].write(item.data)
    elif isinstance(item, Plug):
        line = lines[item.level]
        line.pull() if item.state == "down" else line.put_back()
    else:
        name = f"press-{item.t_ns}-{item.kind}"
        inbox.put(Command(name, "person", seen, item.kind, item.args))


class _Stamp:
    """Stamps inputs on data time as the Inbox does on real time, and keeps them."""

    def __init__(self, kept: list[Input]) -> None:
        self._kept = kept
        self._last = -1

    def __call__(self, item: Input, t_ns: int) -> Input:
        self._last = max(t_ns, self._last + 1)
        stamped = stamp(item, self._last)
        self._kept.append(stamped)
        return stamped


def stamp(item: Input, t_ns: int) -> Input:
    """Return the input with its session time."""
    return dataclasses.replace(item, t_ns=t_ns)


def _inputs(made: list[Chunk | Press | Plug], seen: int) -> Iterator[tuple[int, Input]]:
    for number, item in enumerate(made):
        if isinstance(item, Chunk):
            yield item.t_ns, Bytes(item.level, item.channel, item.data)
        elif isinstance(item, Plug):
            yield item.t_ns, Link(item.level, item.state, item.reason, f"simulated {item.level}")
        else:
            name = f"press-{item.t_ns}-{number}"
            yield item.t_ns, Command(name, "person", seen, item.kind, item.args)
