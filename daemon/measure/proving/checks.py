"""What a check of a level came to: its zero error, its proof on a standard, a blade's play."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from daemon.measure.angle.blade import SQRT3, blade_reading
from daemon.measure.angle.reference import reference_angle
from daemon.measure.proving.play import advice, play_test
from daemon.measure.proving.seats import Seats, seats_of
from daemon.measure.proving.zero import Standard, proven, reversal
from daemon.measure.quantiles import t95
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.tilts import Tilter
from shared.angles import difference_deg
from shared.job import Job
from shared.profile import LevelProfile, Mounting, Noise, Seating
from shared.samples import Role

FAR = 3.0
"""A zero error this many times the stated one is rather a level that was not turned."""
HIDDEN = 0.3
"""A noise under this share of a level's step seldom shows: most samples are the same."""
UNIT = {"deg": 1.0, "rad": math.pi / 180.0}
"""Units of a field to which a zero error in degrees can be added as an offset."""
BARE = Job.model_validate(
    {
        "stillblade_job": 1,
        "name": "none",
        "propeller": {
            "blades": 2,
            "rotation": "clockwise",
            "layout": "tractor",
            "station": "none",
        },
        "target": {"angle_deg": 45.0, "tolerance_deg": 360.0, "spread_deg": 360.0},
        "level": [{"name": "none", "profile": "none"}],
    }
)
"""Stands in for the job where none is given: a difference of angles needs of it only which of a
projection level's two solutions is meant."""


@dataclass(frozen=True, slots=True)
class Found:
    """Lines for the person, and the answer: whether it is yes.

    Attributes:
        seating, noise: to be remembered of the level; None: nothing is.
        settings: tables to lay over its profile, which take out what was found.
    """

    good: bool
    lines: tuple[str, ...]
    seating: Seating | None = None
    noise: Noise | None = None
    settings: Mapping[str, Any] = field(default_factory=dict)


def off_the_blade(profile: LevelProfile) -> LevelProfile:
    """Return the profile for a level that lies on no blade: it is read as it shows itself.

    A level of one number keeps its own zero and sign; one of two or three keeps the mounting,
    because nothing else says which of its axes lies along the slope.
    """
    if profile.convention in {"roll-pitch", "vector"}:
        return profile
    return profile.model_copy(update={"mounting": Mounting()})


def slope_deg(angle_deg: float, profile: LevelProfile) -> float:
    """Return the slope that an angle of such a level means, up where the level points.

    A level of several axes counts from the vertical through its chord, a slope from the
    horizontal.
    """
    if profile.convention in {"roll-pitch", "vector"}:
        return 90.0 - abs(angle_deg)
    return angle_deg


def zero_found(first: Reading, second: Reading, profile: LevelProfile, where: str) -> Found:
    """Two-face reversal: zero error of the level and angle of the surface it lay on.

    The zero error is half the sum of both readings, so its uncertainty is that of their mean:
    averaging, seating and resolution of both placements.

    Args:
        first: the level as it was laid down.
        second: turned end for end on the same place.
        profile: of a level `off_the_blade`.
        where: where a correction is to be written, in words; "": nobody has to write it.
    """
    zero, angle = reversal(first.mean_deg, second.mean_deg)
    mean = reference_angle([first, second], profile, "normal")
    u95, stated = t95(mean.dof) * mean.u_deg, profile.accuracy.zero_deg
    good = abs(zero) <= stated
    lines = [
        f"zero error {zero:+.3f} +- {u95:.3f} degrees (95 %): the level shows so much too much",
        f"the surface {slope_deg(angle, profile):+.3f} +- {u95:.3f} degrees, as first laid",
        _against(zero, u95, stated),
    ]
    if abs(zero) > FAR * stated + u95:
        lines.append(_turned(first, second, u95))
    settings = _taking_out(zero, u95, profile)
    said = _to_write(settings, where) if where else []
    return Found(good, (*lines, *said), settings=settings)


def _against(zero: float, u95: float, stated: float) -> str:
    side = "within" if abs(zero) <= stated else "outside"
    near = abs(abs(zero) - stated) < u95
    sure = ", but nearer to the limit than can be told: do it again" if near else ""
    return f"{side} the {stated:.2f} that accuracy.zero_deg states{sure}"


def _turned(first: Reading, second: Reading, u95: float) -> str:
    same = abs(difference_deg(first.mean_deg, second.mean_deg)) <= 2.0 * u95
    seen = "both readings are the same" if same else "that is far more than stated"
    return f"{seen}: was it turned end for end, and laid on the same place? If not, do it again"


def _taking_out(zero: float, u95: float, profile: LevelProfile) -> dict[str, Any]:
    """Return tables that take the zero error out, or state it; none where it cannot be told."""
    if abs(zero) <= u95:
        return {}
    field = _corrected(zero, profile)
    if field is None:
        return {"accuracy": {"zero_deg": math.ceil(1000.0 * (abs(zero) + u95)) / 1000.0}}
    left = math.ceil(1000.0 * u95) / 1000.0
    return {
        "fields": {field[0]: {"offset": float(f"{field[1]:.5g}")}},
        "accuracy": {"zero_deg": left},
    }


def _to_write(settings: Mapping[str, Any], where: str) -> list[str]:
    """Lines of TOML for a person to write."""
    if not settings:
        return ["it cannot be told from none: there is nothing to write"]
    accuracy = f"  accuracy = {{ zero_deg = {settings['accuracy']['zero_deg']:.3f} }}"
    if "fields" not in settings:
        return [f"to state it, write in {where}:", accuracy]
    ((role, table),) = settings["fields"].items()
    field = f"  fields = {{ {role} = {{ offset = {table['offset']:.5g} }} }}"
    return [f"to correct it, write in {where}:", field, accuracy]


def _corrected(zero: float, profile: LevelProfile) -> tuple[Role, float] | None:
    """Return the field and its offset without the zero error; None where none can be told."""
    for role in ("angle", "roll", "pitch"):
        field = profile.fields.get(role)
        slope = _slope(role, profile) if field is not None else 0.0
        if field is not None and abs(abs(slope) - 1.0) < 0.01 and field.unit in UNIT:
            return role, field.offset - slope * zero * UNIT[field.unit] + 0.0
    return None


def _slope(role: Role, profile: LevelProfile) -> float:
    """How the tilt follows one of the level's numbers, lying flat on its base."""
    if profile.convention == "vector":
        return 0.0
    tilter = Tilter(profile)
    flat: dict[str, float] = dict.fromkeys([*profile.fields], 0.0)
    ends = [tilter.tilt(flat | {role: value}) for value in (-0.5, 0.5)]
    low, high = (0.0 if isinstance(end, str) else end.angle_deg for end in ends)
    return difference_deg(high, low)


def standard_found(reading: Reading, profile: LevelProfile, standard: Standard) -> Found:
    """Compare one placement on a standard with its angle.

    What the maker states of the level counts as uncertainty of the reading: proven is a level
    that shows the standard as well as it is stated to.

    Args:
        reading: of a level `off_the_blade`.
        profile: that level.
        standard: wedge or sine bar.
    """
    shown = slope_deg(reading.mean_deg, profile)
    accuracy, placed = profile.accuracy, reference_angle([reading], profile, "normal")
    maker = (
        accuracy.zero_deg,
        accuracy.gain_percent / 100.0 * abs(shown),
        accuracy.temperature_deg_per_k * accuracy.temperature_span_k,
    )
    u = math.hypot(placed.u_deg, *(half / SQRT3 for half in maker))
    off, words = proven(shown, u, standard)
    lines = (
        f"reading {shown:.3f} +- {2.0 * u:.3f} degrees (95 %, what the level's maker states included)",
        f"standard {standard.angle_deg:.3f} +- {2.0 * standard.u_deg:.3f} degrees (95 %)",
        f"not proven: {words}" if words else f"proven: {off:+.3f} degrees off, within both",
    )
    return Found(not words, lines)


def play_found(coarse: Reading, fine: Reading, profile: LevelProfile, job: Job | None) -> Found:
    """Full play of a loose blade from one reading at each stop; the answer is always yes.

    Args:
        coarse: the level on the blade that is held at its coarse stop.
        fine: not lifted since, the blade at its fine stop.
        profile: the level as it is mounted on the blade.
        job: for face, skew, azimuth and the tolerance; a difference needs little of it.
    """
    known = job or BARE
    angles = [
        blade_reading(reading, profile, known, "normal", None, play=False)
        for reading in (coarse, fine)
    ]
    back = play_test(angles[1], angles[0])
    play = back if back.found else play_test(angles[0], angles[1])
    size = play.full_deg if play.found else 0.0
    lines = [f"play {play.full_deg:.3f} +- {2.0 * play.u_deg:.3f} degrees (95 %), stop to stop"]
    if back.found:
        lines.append(
            "the angle was smaller towards coarse: fine came first, or the level points the "
            "other way; the play is the same"
        )
    said = advice(play, known.target.tolerance_deg)
    lines.append(said or "That is no play that can be told from none.")
    return Found(True, (*lines, "for the job file:", "  [setup]", f"  play_deg = {size:.2f}"))


def seating_found(readings: Sequence[Reading], profile: LevelProfile) -> Found:
    """Scatter of several placements on one place, as one standard uncertainty with its range.

    The answer is no where one placement lies apart from the others: then nothing is remembered.

    Args:
        readings: of a level `off_the_blade`, lifted between them; at least three.
        profile: that level.
    """
    seats = seats_of(readings)
    stated = profile.seating
    between = f"between {seats.low_deg:.3f} and {seats.high_deg:.3f} (95 %)"
    lines = [
        f"seating {seats.u_deg:.3f} degrees: the standard uncertainty of one placement",
        f"{len(readings)} placements know it no better than this: it lies {between}",
    ]
    if seats.apart is not None:
        number, off = seats.apart
        lines.append(
            f"placement {number} lies {off:+.3f} from the others, which chance does once in a "
            "hundred times: was it laid elsewhere? Nothing is remembered: do it again"
        )
        return Found(False, tuple(lines))
    lines.append(_beside_assumed(seats, stated))
    return Found(
        True, tuple(lines), Seating(u_deg=min(round(seats.u_deg, 6), 90.0), n=len(readings))
    )


def _beside_assumed(seats: Seats, stated: Seating) -> str:
    known = "measured" if stated.n else "assumed"
    words = f"the {stated.u_deg:.3f} that was {known} so far"
    if stated.u_deg < seats.low_deg:
        return f"that is more than {words}"
    if stated.u_deg > seats.high_deg:
        return f"that is less than {words}"
    return f"{words} is in that range"


def noise_found(noise: Noise | None, rate_hz: float, profile: LevelProfile) -> Found:
    """What a level that was left alone showed of its noise; the answer is no where it was too little."""
    if noise is None:
        return Found(False, ("it did not lie still for long enough to say how it scatters",))
    stated = profile.noise
    known = "measured" if stated.n else "assumed"
    lines = [
        f"noise {noise.sd_deg:.3f} degrees a sample, from {noise.n} of them at {rate_hz:.1f} a second",
        f"it was {known} as {stated.sd_deg:.3f} so far",
    ]
    if noise.sd_deg < HIDDEN * profile.resolution_deg:
        lines.append(
            f"its step of {profile.resolution_deg:g} degrees hides most of what scatter it has"
        )
    if noise.lag1 > 0.5:
        lines.append(
            f"neighbours hang together by {noise.lag1:.2f}: it smooths by itself, and each average takes longer"
        )
    return Found(True, tuple(lines), noise=noise)
