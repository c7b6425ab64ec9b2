"""What is learned of an invented level, held against the poses it was truly in."""

import math

from daemon.measure.stream.tilts import Tilter
from drivers import codecs, profiles
from drivers.learn.asked import Heard, Mark, Outcome
from simulator.draws import Draws
from simulator.strangers.level import FULL, WALL_AND_FLOOR, Stranger, wedge
from simulator.strangers.level import Heard as Arrived
from simulator.strangers.person import Motion
from simulator.strangers.poses import Pose

_OFF_DEG = 1.0
_ENDS_DEG = (-50.0, -35.0, -20.0, -7.0, 0.0, 7.0, 20.0, 35.0, 50.0)
_SIDES_DEG = (0.0, 35.0)
_REPEATS = 9


def motions(seed: int) -> tuple[tuple[Motion, float | None], ...]:
    """Return what the person does: a quarter have a wedge, a quarter nothing but their hands."""
    draws = Draws(seed, 9)
    if draws.chance(0.25):
        return (*FULL, ("held", 60.0))
    if draws.chance(0.33):
        return (*FULL, *wedge(draws.one_of((20.0, 25.0, 30.0, 45.0))))
    return (*FULL, *WALL_AND_FLOOR)


def given(arrived: Arrived, link: str, baud: int) -> tuple[Heard, list[Mark]]:
    """Return a recording and its marks as the learner takes them."""
    uuid = "7d1c0002-5a2e-4c7b-9b1f-2f6e8d3a4b5c"
    radio = link == "ble-notify"
    heard = Heard(
        arrived.chunks,
        "ble-notify" if radio else "serial",
        baud or 9600,
        uuid if radio else "",
        uuid if radio else "",
    )
    return heard, [Mark(*asked) for asked in arrived.asked]


def wrong(level: Stranger, outcome: Outcome) -> str:
    """Return in words what is wrong with the best candidate, "" where it is right."""
    if not outcome.candidates:
        return outcome.not_found_why
    best = outcome.candidates[0]
    if best.convention != level.meaning.convention:
        return f"convention {best.convention}"
    if not _same_unit(best.unit, level.meaning.unit):
        return f"unit {best.unit}"
    return shown_wrong(level, best.profile)


def _same_unit(one: str, other: str) -> bool:
    """Steps of 0.1 percent and of 1 mm/m are the same bytes; the angle tells the rest."""
    slopes = {"percent", "mm/m"}
    return one == other or {one, other} == slopes


def shown_wrong(level: Stranger, text: str) -> str:
    """Return in which pose the profile shows another angle than the true one, or ""."""
    profile = profiles.read(text, "learned")
    codec, tilter = codecs.make(profile), Tilter(profile)
    poses = [Pose(end, side) for end in _ENDS_DEG for side in _SIDES_DEG]
    times = [(float(at), pose) for at, pose in enumerate(p for p in poses for _ in range(_REPEATS))]
    frames = list(level.frames(times, stream=5))
    codec.feed(0, frames[0])
    late: list[float] = []
    for number, pose in enumerate(poses):
        shown = []
        for frame in frames[number * _REPEATS : (number + 1) * _REPEATS]:
            samples = codec.feed(0, frame)
            tilts = [tilter.tilt(sample.values) for sample in samples]
            shown += [tilt.angle_deg for tilt in tilts if not isinstance(tilt, str)]
        shown = shown or (late[-1:] if level.change else [])
        late = shown[len(shown) // 2 :]
        if not late:
            return f"nothing shown at {pose}"
        expected = expected_deg(level, pose)
        off = (late[len(late) // 2] - expected + 180.0) % 360.0 - 180.0
        if abs(off) > _OFF_DEG + 0.01 * abs(pose.end_deg):
            return f"{late[len(late) // 2]:.2f} shown at {pose}, not {expected:.2f}"
    return ""


def expected_deg(level: Stranger, pose: Pose) -> float:
    """Return the angle of a blade whose leading edge the marked end points to."""
    end, _, top = pose.up()
    if level.meaning.convention == "projection":
        return math.degrees(math.asin(end))
    return math.degrees(math.atan2(-top, end))
