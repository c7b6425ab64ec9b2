"""Six short jobs, each made of one thing that surrounds the measuring, built input by input.

hub            a witness on the hub; blades out of order, and the aircraft tilts while setting
watch          a level left on a held blade sees it change
watch only     nothing but that
two levels     both talk all the time; blade 2 is read with the second
on change      a level that sends only when its number changes; a moved blade, set again
halves         the reference half a turn apart; a level turned end for end, a wrong reading
"""

import math
from collections.abc import Callable
from functools import cache, reduce
from typing import Any

from shared.events import Alarm, Asked, Event
from shared.inputs import NS, Bytes, Input, Link
from shared.job import Header
from tests.daemon.bench import LEVEL, PERIOD_NS, Person, header, sentence

ONE_EACH = {"rounds": ["check"], "reference_placements": 1, "baseline_placements": 1}
TILT = 3.0


def _level(name: str, **changes: Any) -> dict[str, Any]:
    settings = {**LEVEL["settings"], "fields": {"angle": {"source": name.upper()}}}
    return {"name": name, "profile": "nmea-xdr", "settings": settings, **changes}


WATCH = _level("left", role="watch", watches=1)
SECOND = _level("second")
HUB: dict[str, Any] = {
    "name": "hub",
    "profile": "nmea-xdr",
    "role": "hub",
    "settings": {
        "convention": "vector",
        "mounting": {"span": "-y"},
        "fields": {role: {"source": role.upper(), "unit": "g"} for role in ("ax", "ay", "az")},
    },
}
ON_CHANGE: dict[str, Any] = {
    **LEVEL,
    "settings": {**LEVEL["settings"], "reporting": {"mode": "on-change", "rate_hz": 10.0}},
}


class Crew(Person):
    """A person with further levels that talk all the time.

    Attributes:
        beside: what each of them sends, by name.
        theta: true tilt of the shaft.
        turned: where the hub stands.
        only_changes: the level in hand sends only what differs from what it sent last.
    """

    def __init__(
        self, header_: Header, level: str = "chord", *, only_changes: bool = False
    ) -> None:
        self.beside: dict[str, Callable[[], bytes]] = {}
        self.theta, self.turned = TILT, 0.0
        self.only_changes = only_changes
        self._sent = b""
        super().__init__(header_, level=level)

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        """One sample of every level."""
        self.t_ns += PERIOD_NS
        shown = angle_deg + noise_deg * self._random.gauss(0.0, 1.0)
        data = sentence(shown, self._source())
        if not (self.only_changes and data == self._sent):
            self.put(Bytes(self.level, 0, data, self.t_ns))
        self._sent = data
        for number, (name, says) in enumerate(self.beside.items(), 1):
            self.put(Bytes(name, 0, says(), self.t_ns + number))

    def turn_over(self) -> None:
        """Lift the level, turn it over in the hand, and back."""
        self.carry(5)
        for angle, samples in ((20.0, 5), (110.0, 2), (-160.0, 6), (110.0, 2), (20.0, 6)):
            for _ in range(samples):
                self.send(angle, 1.0)

    def _source(self) -> str:
        return "BLADE" if self.level == "chord" else self.level.upper()

    def lies(self, name: str, angle_deg: float) -> None:
        """Another level lies somewhere and talks from now on."""
        source = "BLADE" if name == "chord" else name.upper()
        if name not in self.beside:
            self.t_ns += 1
            self.put(Link(name, "up", "", f"bench {name}", t_ns=self.t_ns))
        self.beside[name] = lambda: sentence(angle_deg + 0.02 * self._random.gauss(0, 1), source)

    def on_hub_face(self) -> None:
        """Read the reference."""
        self.turned = 0.0
        self.read(-self.theta)

    def on_blade(self, blade: int, truly: float = 20.0) -> None:
        """Turn the propeller and read a blade."""
        self.turned = 180.0 * (blade - 1)
        self.read(truly - self.theta)


def of_the_hub(crew: Crew) -> bytes:
    up, psi = math.radians(crew.theta), math.radians(crew.turned)
    axes = {
        "AX": math.cos(up) * math.cos(psi),
        "AY": -math.cos(up) * math.sin(psi),
        "AZ": math.sin(up),
    }
    body = "IIXDR," + ",".join(f"G,{value:.5f},G,{name}" for name, value in axes.items())
    return b"$%s*%02X\r\n" % (body.encode(), reduce(lambda a, b: a ^ b, body.encode(), 0))


def hub() -> Crew:
    crew = Crew(header(level=[LEVEL, HUB], plan=ONE_EACH))
    crew.put(Link("hub", "up", t_ns=crew.t_ns + 1))
    crew.beside["hub"] = lambda: of_the_hub(crew)
    crew.press("done")
    crew.on_hub_face()
    crew.on_blade(1)
    crew.on_blade(1)
    crew.on_blade(2, 20.05)
    crew.theta += 0.6
    crew.lay(20.05 - crew.theta, 80)
    crew.on_hub_face()
    crew.on_blade(2, 20.05)
    crew.on_hub_face()
    crew.on_blade(2, 20.05)  # the step asks for blade 1: the witness knows better
    crew.on_blade(2, 20.05)
    crew.on_blade(1)
    crew.press("done")
    return crew


def watch() -> Crew:
    crew = Crew(header(level=[LEVEL, WATCH], plan=ONE_EACH))
    crew.lies("left", 17.0)
    crew.up_to_round()
    crew.carry(100)
    crew.lies("left", 17.6)
    crew.carry(120)
    crew.on_hub_face()
    crew.on_blade(1, 20.6)
    crew.on_blade(2, 20.05)
    for _ in range(4):
        if crew.step()[0] != "check":
            break
        crew.read({"reference": -TILT, 1: 17.6, 2: 17.05}[crew.step()[1]])
    for alarm in crew.engine.view().alarms:
        crew.press("acknowledge", id=alarm.id, then="accept", by="Ada", reason="as found")
    crew.press("done")
    return crew


def watch_only() -> Crew:
    head = header(level=[WATCH]).model_copy(update={"procedure": "watch"})
    crew = Crew(head, level="left")
    crew.lay(17.0, 150)
    crew.lay(16.2, 150)
    crew.press("acknowledge", id=crew.said(Alarm)[-1].id, then="accept", by="Ada", reason="seen")
    crew.t_ns += 3 * NS
    crew.lay(16.2, 40)
    crew.press("done")
    return crew


def two_levels() -> Crew:
    crew = Crew(header(level=[LEVEL, SECOND], plan=ONE_EACH))
    crew.press("done")
    crew.on_hub_face()
    crew.put(Link("second", "up", "", "bench second", t_ns=crew.t_ns + 1))
    crew.on_blade(1)
    crew.on_blade(1)
    crew.carry(4)
    crew.beside["chord"] = lambda: sentence(crew._random.uniform(-70.0, 70.0))  # in a pocket
    crew.level = "second"
    crew.on_blade(2, 20.05)
    crew.on_blade(2, 20.05)
    crew.on_hub_face()
    crew.on_blade(1)
    crew.on_blade(2, 20.05)
    crew.press("done")
    return crew


def on_change() -> Crew:
    crew = Crew(header(level=[ON_CHANGE], plan=ONE_EACH), only_changes=True)
    crew.press("done")
    crew.on_hub_face()
    crew.on_blade(1)
    crew.on_blade(1)
    crew.on_blade(2, 20.05)
    crew.t_ns += 30 * NS
    crew.on_blade(2, 20.05)
    crew.round({"reference": -TILT, 1: 18.1, 2: 17.05})
    crew.press("acknowledge", id=crew.said(Alarm)[-1].id, then="set-again")
    crew.on_blade(1)
    crew.on_blade(1)
    crew.press("back")
    crew.on_blade(1)
    crew.round({"reference": -TILT, 1: 17.0, 2: 17.05})
    crew.press("done")
    return crew


def halves() -> Crew:
    setup = {"reference": "half-turn"}
    crew = Crew(header(level=[LEVEL], plan=ONE_EACH, setup=setup))
    crew.press("done")
    crew.read(-TILT - 0.25)
    crew.read(-TILT + 0.25)
    crew.read(-17.2)  # the wrong way round, asked about, and lifted
    crew.carry()
    crew.lay(12.0, 20)
    for step in range(40):
        crew.send(12.0 + 0.125 * step, 0.02)  # turned under the level until it is right
    crew.lay(17.0)
    crew.read(-17.05)
    crew.press("confirm", id=crew.said(Asked)[-1].id, sense="reversed")
    crew.lay(-17.05, 5)
    crew.read(-17.05)
    crew.press("withdraw", id=5, reason="dropped")
    crew.read(-17.05)
    crew.read(-17.05)
    crew.press("name", blade=2)
    crew.t_ns += 3 * NS
    crew.read(-17.05)
    crew.read(TILT + 0.25)
    crew.read(TILT - 0.25)
    crew.press("again")
    crew.read(TILT - 0.25)
    crew.read(-17.0)
    crew.press("assign", id=8, blade=1)
    crew.press("note", text="tools counted")
    crew.press("done")
    crew.press("abandon", by="Ada", reason="dusk")
    return crew


JOBS: dict[str, Callable[[], Crew]] = {
    "hub": hub,
    "watch": watch,
    "watch-only": watch_only,
    "two-levels": two_levels,
    "on-change": on_change,
    "halves": halves,
}


@cache
def played(name: str) -> tuple[Header, tuple[Input, ...], tuple[Event, ...]]:
    """Return header, inputs and events of a job."""
    crew = JOBS[name]()
    return crew.header, tuple(crew.inputs), tuple(crew.events)
