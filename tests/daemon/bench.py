"""A bench for tests of the core: jobs, headers, and a level that sends what a test wants.

Everything runs on data time: nothing here waits.
"""

import random
from collections.abc import Iterator
from functools import reduce
from pathlib import Path
from typing import Any

from daemon.core.engine import Engine
from daemon.session.headers import make_header
from shared.events import Answered, Body, Event
from shared.inputs import NS, Bytes, Command, End, Input, Link
from shared.job import Header, Job

PERIOD_NS = NS // 10

LEVEL: dict[str, Any] = {
    "name": "chord",
    "profile": "nmea-xdr",
    "port": "/dev/null",
    "settings": {
        "fields": {"angle": {"source": "BLADE"}},
        "noise": {"sd_deg": 0.02, "n": 1000},
        "seating": {"u_deg": 0.02, "n": 40},
    },
}
PLAN: dict[str, Any] = {"rounds": ["check"], "baseline_placements": 2}


def job(**changes: Any) -> Job:
    """Return a small job: two blades to 20 degrees, one round before tightening."""
    tables: dict[str, Any] = {
        "stillblade_job": 1,
        "name": "bench",
        "propeller": {
            "blades": 2,
            "rotation": "clockwise",
            "layout": "tractor",
            "station": "75 % radius",
        },
        "target": {"angle_deg": 20.0, "tolerance_deg": 0.3, "spread_deg": 0.3},
        "level": [LEVEL],
        **changes,
    }
    tables["plan"] = {**PLAN, **tables.get("plan", {})}
    tables["setup"] = {"capture": "by press", **tables.get("setup", {})}
    return Job.model_validate(tables)


def header(**changes: Any) -> Header:
    """Return the header of a session of that job."""
    return make_header(job(**changes), Path(), session="bench")


def sentence(angle_deg: float, name: str = "BLADE") -> bytes:
    """Return one XDR sentence with its checksum (NMEA 0183: XOR of what lies between $ and *)."""
    body = f"IIXDR,A,{angle_deg:.2f},D,{name}".encode()
    return b"$%s*%02X\r\n" % (body, reduce(lambda a, b: a ^ b, body, 0))


class Person:
    """Lays a level down, lifts it, presses: builds a session input by input.

    Attributes:
        inputs: everything put in so far, stamped.
        events: everything that came out.
    """

    def __init__(self, header_: Header, seed: int = 1, level: str = "chord") -> None:
        self.header = header_
        self.engine = Engine(header_)
        self.level = level
        self.inputs: list[Input] = []
        self.events: list[Event] = []
        self._random = random.Random(seed)
        self._count = 0
        self.t_ns = 0
        self.put(Link(level, "up", "", "bench", t_ns=0))

    def put(self, item: Input) -> list[Event]:
        """Put one stamped input in; return its events."""
        self.inputs.append(item)
        self.t_ns = max(self.t_ns, item.t_ns)
        events = self.engine.feed(item)
        self.events += events
        return events

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        """One sample a tenth of a second after the one before."""
        self.t_ns += PERIOD_NS
        shown = angle_deg + noise_deg * self._random.gauss(0.0, 1.0)
        self.put(Bytes(self.level, 0, sentence(shown), self.t_ns))

    def carry(self, samples: int = 12) -> None:
        """The level is in someone's hand."""
        for _ in range(samples):
            self.send(self._random.uniform(-70.0, 70.0))

    def lay(self, angle_deg: float, samples: int = 30) -> None:
        """The level lies still."""
        for _ in range(samples):
            self.send(angle_deg, 0.02)

    def press(self, kind: Any = "take", seen: int | None = None, **args: Any) -> Answered:
        """Ask for something; return the answer."""
        self._count += 1
        return self.ask(f"press-{self._count}", kind, seen, args)

    def ask(
        self,
        name: str,
        kind: Any,
        seen: int | None = None,
        args: dict[str, Any] | None = None,
        until: int | None = None,
    ) -> Answered:
        """Send one command; return the answer."""
        self.t_ns += 1
        newest = self.events[-1].n if seen is None else seen
        events = self.put(Command(name, "tester", newest, kind, args or {}, until, self.t_ns))
        return next(e.body for e in events if isinstance(e.body, Answered))

    def read(self, angle_deg: float) -> None:
        """Lift, lay down, press: one placement."""
        self.carry()
        self.lay(angle_deg, 14)
        self.press()
        self.lay(angle_deg, 14)

    def round(self, angles: dict[Any, float]) -> None:
        """Read whatever the present round asks for, until it asks for nothing more."""
        stage = self.step()[0]
        for _ in range(40):
            now, blade = self.step()
            if now != stage or now in {"answer", "finished", "tighten"}:
                return
            self.read(angles[blade])
        raise AssertionError(f"the round {stage!r} does not end")

    def end(self) -> None:
        """End the session."""
        self.t_ns += 1
        self.put(End("", self.t_ns))

    def said(self, kind: type[Body] | Any) -> list[Any]:
        """Return the bodies of one kind."""
        return [event.body for event in self.events if isinstance(event.body, kind)]

    def step(self) -> tuple[str, Any]:
        """Return stage and blade of the present step."""
        view = self.engine.view()
        return view.stage, view.blade

    def up_to_round(self, angles: tuple[float, ...] = (20.0, 20.05), tilt_deg: float = 3.0) -> None:
        """Make safe, read the reference, set every blade and take its baseline."""
        self.press("done")
        plan = self.header.job.plan
        for _ in range(plan.reference_placements):
            self.read(-tilt_deg)
        for angle in angles:
            for _ in range(1 + plan.baseline_placements):
                self.read(angle - tilt_deg)


def rechunked(inputs: list[Input], sizes: Iterator[int]) -> Iterator[Input]:
    """Yield the same bytes cut into other chunks, stamped where their last byte was."""
    waiting = b""
    for item in inputs:
        if not isinstance(item, Bytes):
            if waiting:
                yield Bytes("chord", 0, waiting, item.t_ns - 1)
                waiting = b""
            yield item
            continue
        waiting += item.data
        number = 0
        while len(waiting) > (size := next(sizes)):
            yield Bytes(item.level, 0, waiting[:size], item.t_ns + number)
            waiting, number = waiting[size:], number + 1
    if waiting:
        yield Bytes("chord", 0, waiting, inputs[-1].t_ns + 1000)
