"""From averaged readings to the shaft's tilt and to blade angles with their budgets.

Signs, with a level whose zero error is z (it shows z too much):

* Sense normal: a planar level shows beta - phi + z on a blade and -theta + z on a surface
  in the plane of rotation. Reference and blade in the same sense: z cancels.
* Sense reversed, the level turned end for end: it shows 180 - (beta - phi) + z, or
  -(beta - phi) + z where it folds at 90; on the surface theta + z. Both are the negative
  up to half a turn, so -reading is taken within (-90, 90]. Again z cancels; with a reference
  in the other sense 2 z goes into the blade angle.
* A projection level shows asin(c.z) + z, turned end for end -asin(c.z) + z. On a surface in
  the plane of rotation that is 90 - |theta|: the sign of theta must be told.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from daemon.measure.angle.budget import Budget, Common, Line
from daemon.measure.angle.geometry import azimuth_deg, blade_angles_at
from daemon.measure.angle.means import NEGLIGIBLE_DEG, BladeAngle
from daemon.measure.angle.placement import placing_lines, seat_angle_deg
from daemon.measure.angle.reference import Reference
from daemon.measure.stream.reading import Reading
from shared.angles import difference_deg, differences_deg, wrap_deg
from shared.events import Sense
from shared.job import Job
from shared.profile import LevelProfile

SQRT3 = math.sqrt(3.0)
NO_REFERENCE_U_DEG = 5.0
"""Standard uncertainty of the shaft's tilt where nobody measured it."""


@dataclass(frozen=True, slots=True)
class _Input:
    """One uncertain input of the model: estimate and standard uncertainty."""

    name: str
    value: float
    u: float
    common: Common
    dof: float = math.inf


Model = Callable[[Sequence[Sequence[float]]], list[float]]
"""The model at many points at once."""
Moves = tuple[tuple[int, int], ...]
"""Which inputs are moved by a step, and which way."""
STEP_DEG = 0.05


def _second_order(model: Model, inputs: Sequence[_Input]) -> tuple[float, list[float]]:
    """Mean of the model and the standard uncertainty each input causes.

    Taylor series to second order for independent normal inputs (JCGM 100, 5.1.2 note): the
    mean moves by f_ii u^2 / 2, and the variance gains (f_ii u^2)^2 / 2 and (f_ij u_i u_j)^2.
    The cross terms are booked to the later input of the pair.
    """
    at, h = _at_the_stencil(model, [each.value for each in inputs]), STEP_DEG
    mean, variances = at[()], []
    for i, each in enumerate(inputs):
        up, down = at[(i, 1),], at[(i, -1),]
        slope, bend = (up - down) / (2 * h), (up - 2 * at[()] + down) / (h * h)
        mean += 0.5 * bend * each.u**2
        variance = (slope * each.u) ** 2 + 0.5 * (bend * each.u**2) ** 2
        for j in range(i):
            same = at[(i, 1), (j, 1)] + at[(i, -1), (j, -1)]
            other = at[(i, 1), (j, -1)] + at[(i, -1), (j, 1)]
            variance += ((same - other) / (4 * h * h) * each.u * inputs[j].u) ** 2
        variances.append(variance)
    return mean, [math.sqrt(variance) for variance in variances]


def _at_the_stencil(model: Model, x: Sequence[float]) -> dict[Moves, float]:
    """Return the model at x, a step to either side in each input, and in each pair of them."""
    alone: list[Moves] = [((i, s),) for i in range(len(x)) for s in (1, -1)]
    pairs = [(*one, *other) for one in alone for other in alone if one[0][0] > other[0][0]]
    stencil: list[Moves] = [(), *alone, *pairs]
    return dict(zip(stencil, model([_moved(x, moves) for moves in stencil]), strict=True))


def _moved(x: Sequence[float], moves: Moves) -> list[float]:
    moved = list(x)
    for index, way in moves:
        moved[index] += way * STEP_DEG
    return moved


def _psi(
    reading: Reading,
    profile: LevelProfile,
    job: Job,
    theta_deg: float,
    told: tuple[float, float] | None,
) -> tuple[float, float]:
    if told is not None:
        return told
    if reading.psi_deg is None:
        return 0.0, job.setup.psi_u_deg
    psi = azimuth_deg(reading.psi_deg, theta_deg)
    return psi, math.hypot(reading.u_psi_deg or 0.0, profile.accuracy.zero_deg / SQRT3)


def _station_line(job: Job, angle_deg: float) -> Line | None:
    propeller = job.propeller
    twist = propeller.twist_deg_per_mm
    if twist is None and propeller.radius_m is not None:
        beta = math.radians(angle_deg)
        per_m = math.degrees(math.sin(beta) * math.cos(beta) / propeller.radius_m)
        twist = per_m / 1000.0
    if twist is None:
        return None
    return Line("station", "B", abs(twist) * propeller.station_u_mm)


def _level_lines(
    profile: LevelProfile, span_deg: float, psi: tuple[float, float], gain: float, zero: float
) -> list[Line]:
    """The maker's statement, as it acts on the blade angle."""
    accuracy = profile.accuracy
    off = math.degrees(math.asin(math.sin(math.radians(psi[0]))))
    tipped = math.degrees(math.sin(math.radians(math.hypot(off, psi[1]))))
    parts: list[tuple[str, float, Common, float]] = [
        ("zero", accuracy.zero_deg, "zero", zero),
        ("gain", accuracy.gain_percent / 100.0 * abs(span_deg), "gain", gain),
        ("cross-axis", accuracy.cross_axis_percent / 100.0 * tipped, "cross-axis", gain),
        (
            "temperature",
            accuracy.temperature_deg_per_k * accuracy.temperature_span_k,
            "temperature",
            gain,
        ),
    ]
    return [
        Line(
            name,
            "B",
            abs(factor) * half / SQRT3,
            common=common,
            sign=-1 if factor < 0.0 else 1,
            shape="rectangular",
        )
        for name, half, common, factor in parts
        if half * abs(factor) > 1e-9
    ]


def blade_reading(
    reading: Reading,
    profile: LevelProfile,
    job: Job,
    sense: Sense,
    reference: Reference | None,
    psi: tuple[float, float] | None = None,
    *,
    play: bool = True,
) -> BladeAngle:
    """Blade angle and budget of one placement.

    Leading edge up, unless the azimuth says that the blade stands on the other side. Of a
    projection level's two solutions the one nearer the job's target.

    Args:
        reading: the averaged reading.
        profile: the level it came from.
        job: propeller and set-up: face, skew, psi, station, play.
        sense: which way the level pointed.
        reference: the shaft's tilt; None takes it as 0 with a large uncertainty.
        psi: azimuth of the blade and its standard uncertainty from a hub witness.
        play: whether the blade is still loose enough for its play to count.
    """
    theta = reference.theta_deg if reference else 0.0
    azimuth = _psi(reading, profile, job, theta, psi)
    beyond = abs(azimuth[0]) > 90.0
    seat = seat_angle_deg(reading.mean_deg, profile, sense, beyond=beyond)
    inputs = _inputs(reference, azimuth, job)
    angle, slope, sizes = _propagated(profile, seat, inputs, job.target.angle_deg)
    turned = slope if sense == "normal" else -slope
    zero = turned + (reference.zero if reference else 0.0)
    lines = [
        replace(line, u_deg=line.u_deg * abs(slope)) for line in placing_lines(reading, profile)
    ]
    lines += _level_lines(
        profile, seat - (reference.reading_deg if reference else 0.0), azimuth, slope, zero
    )
    lines += [
        Line(each.name, "B", size, each.dof, each.common)
        for each, size in zip(inputs, sizes, strict=True)
    ]
    station = _station_line(job, angle)
    lines += [station] if station else []
    if play:
        half = job.setup.play_deg / 2.0
        lines.append(Line("play", "B", half / SQRT3, common="blade", shape="rectangular"))
    return BladeAngle(angle, Budget(tuple(line for line in lines if line.u_deg > NEGLIGIBLE_DEG)))


def _inputs(reference: Reference | None, psi: tuple[float, float], job: Job) -> list[_Input]:
    theta_u = reference.u_deg if reference else NO_REFERENCE_U_DEG
    theta = reference.theta_deg if reference else 0.0
    dof = reference.dof if reference else math.inf
    return [
        _Input("reference", theta, theta_u, "reference", dof),
        _Input("face", job.propeller.face_deg, job.propeller.face_u_deg, "face"),
        _Input("psi", psi[0], psi[1], "blade"),
        _Input("skew", 0.0, job.setup.skew_u_deg, "none"),
    ]


def _propagated(
    profile: LevelProfile, seat_deg: float, inputs: Sequence[_Input], near_deg: float
) -> tuple[float, float, list[float]]:
    """Blade angle, its slope in the reading, and the uncertainty from each model input."""
    convention, h = profile.convention, STEP_DEG
    here = [each.value for each in inputs]
    middle, up, down = blade_angles_at(
        convention, [(seat_deg, here), (seat_deg + h, here), (seat_deg - h, here)], near_deg
    )

    def model(points: Sequence[Sequence[float]]) -> list[float]:
        at = blade_angles_at(convention, [(seat_deg, point) for point in points], near_deg)
        return differences_deg(at, middle)

    mean, sizes = _second_order(model, inputs)
    slope = difference_deg(up, down) / (2.0 * h)
    return wrap_deg(middle + mean), slope, sizes
