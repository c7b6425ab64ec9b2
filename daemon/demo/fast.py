"""The demo's wiring: the simulated hangar in front of the ordinary engine and service.

This module may import the simulator; nothing else of the daemon does.
"""

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from daemon.core.engine import Engine
from daemon.session.headers import make_header
from daemon.session.learned import Known
from daemon.session.recording import Recording
from shared.angles import stated
from shared.events import Event, Summary
from shared.inputs import NS, Bytes, Command, End, Input, Link
from shared.messages import body_to_dict
from simulator import scenario as scenarios
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.scenario import Scenario
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
    return played(scenarios.load(name), f"demo-{name}-{seed}", seed, told)


def played(
    scenario: Scenario,
    session: str,
    seed: int,
    told: Callable[[list[Event]], None] = lambda _: None,
    levels: Known | None = None,
) -> Outcome:
    """Run any scenario on data time; see `fast`. levels: what is known of its levels."""
    hangar = Hangar(scenario, seed)
    header = make_header(hangar.job, Path(), session=session, levels=levels)
    kept: list[Input] = []
    engine, recording, stamp = Engine(header), Recording(header, kept), _Stamp(kept)
    heard: list[Event] = []
    for level in hangar.job.level:
        heard += engine.feed(stamp(Link(level.name, "up", "", f"simulated {level.name}"), 0))
    recording.events += heard
    made: list[Chunk | Press | Plug] = []
    while not engine.finished and not hangar.finished and hangar.now_ns < LONGEST_NS:
        told(heard)
        made = hangar.advance(hangar.now_ns + STEP_NS, heard, engine.view)
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
    recording.reach_ns = max(hangar.now_ns, kept[-1].t_ns)
    return Outcome(recording, hangar.truth())


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
