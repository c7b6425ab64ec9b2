"""What each kind of incident does to the hangar."""

from collections.abc import Callable
from typing import Protocol

from simulator.propeller import TICK_NS
from simulator.scene import Cable, Scene

NS = 1_000_000_000
IN_HAND = frozenset({"handle", "reversed", "order", "unsaid", "mixed", "distracted", "unlifted"})
"""Slips of the person's own hand: the person acts them out."""


class Drawn(Protocol):
    """What a happening reads of its incident."""

    blade: int
    level: str
    size_deg: float
    each: list[float]
    seconds: float


def knock(scene: Scene, one: Drawn) -> None:
    """Someone bumps a blade."""
    scene.propeller.change(one.blade, one.size_deg, "knock")


def tighten(scene: Scene, one: Drawn) -> None:
    """The bolts draw the blades round."""
    for blade, size_deg in enumerate(one.each, start=1):
        if size_deg:
            scene.propeller.change(blade, size_deg, "tighten")


def rock(scene: Scene, one: Drawn) -> None:
    """The aircraft is leaned on."""
    scene.propeller.rock(one.size_deg)


def settle(scene: Scene, one: Drawn) -> None:
    """A tyre gives."""
    scene.propeller.sink(one.size_deg, one.seconds, "settle")


def aboard(scene: Scene, one: Drawn) -> None:
    """Someone climbs in, and stays."""
    scene.propeller.rock(0.5 * one.size_deg)
    scene.propeller.sink(one.size_deg, max(one.seconds, 1.0), "aboard")


def visit(scene: Scene, one: Drawn) -> None:
    """Someone climbs in, and out again."""
    scene.propeller.visit(one.size_deg, one.seconds)


def zero(scene: Scene, one: Drawn) -> None:
    """The level's zero jumps."""
    scene.levels[one.level].zero_deg += one.size_deg
    scene.propeller.note_level(one.size_deg, "zero")


def swapped(scene: Scene, one: Drawn) -> None:
    """Another level of the kind is taken into the hand: link down, link up, another zero."""
    scene.levels[one.level].zero_deg += one.size_deg
    scene.propeller.note_level(one.size_deg, "swapped")
    _pull(scene, one, "another level")


def mode(scene: Scene, one: Drawn) -> None:
    """A key is pressed by mistake: from now on the level shows the change from here."""
    scene.levels[one.level].relative_to = float("nan")
    scene.propeller.note_level(one.size_deg, "mode")


def dropped(scene: Scene, one: Drawn) -> None:
    """The level falls off, to the floor."""
    level = scene.levels[one.level]
    level.lift()
    level.zero_deg += one.size_deg
    scene.propeller.note_level(one.size_deg, "dropped")


def blows(scene: Scene, one: Drawn) -> None:
    """A wrench strikes the hub."""
    scene.levels[one.level].blow(one.size_deg)


def fan(scene: Scene, one: Drawn) -> None:
    """Something shakes everything, until somebody switches it off."""
    level = scene.levels[one.level]
    level.shaking_deg += one.size_deg

    def off() -> None:
        level.shaking_deg -= one.size_deg

    scene.later.append((scene.t_ns + _ticks(one.seconds), off))


def warmup(scene: Scene, one: Drawn) -> None:
    """The level's zero begins to drift, as when it was switched on cold."""
    scene.levels[one.level].warm_up(one.size_deg)
    scene.propeller.note_level(one.size_deg, "warmup")


def creep(scene: Scene, one: Drawn) -> None:
    """A blade turns by itself, slowly."""
    scene.propeller.drift(one.blade, one.size_deg, one.seconds, "creep")


def flip(scene: Scene, one: Drawn) -> None:
    """A blade falls to the other end of its play."""
    scene.propeller.flip(one.blade)


def gaps(scene: Scene, one: Drawn) -> None:
    """The battery fails for a while, without a word."""
    scene.levels[one.level].on = False
    until = scene.t_ns + _ticks(one.seconds)
    scene.cables.append(Cable(one.level, -1, until, "gap"))


def unplug(scene: Scene, one: Drawn) -> None:
    """The line is pulled and put back."""
    _pull(scene, one, "line pulled")


def _pull(scene: Scene, one: Drawn, reason: str) -> None:
    until = scene.t_ns + _ticks(one.seconds)
    scene.cables.append(Cable(one.level, scene.t_ns, until, reason))


def _ticks(seconds: float) -> int:
    return int(seconds * NS) // TICK_NS * TICK_NS


HAPPENINGS: dict[str, Callable[[Scene, Drawn], None]] = {
    "knock": knock,
    "tighten": tighten,
    "rock": rock,
    "settle": settle,
    "aboard": aboard,
    "visit": visit,
    "zero": zero,
    "swapped": swapped,
    "mode": mode,
    "dropped": dropped,
    "blows": blows,
    "fan": fan,
    "warmup": warmup,
    "creep": creep,
    "flip": flip,
    "gaps": gaps,
    "unplug": unplug,
}
