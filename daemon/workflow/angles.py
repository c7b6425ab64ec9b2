"""From a level's average to the angle of a blade, with the job's reference behind it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from daemon.measure.angle import BladeAngle, mean_of
from daemon.measure.blade import blade_reading
from daemon.measure.both_sides import on_a_level_shaft, reference_of
from daemon.measure.budget import Budget, Line
from daemon.measure.geometry import azimuth_deg, blade_angle
from daemon.measure.reference import Reference, half_turn, lean_u_deg, reference_angle
from daemon.measure.stream.reading import Reading, seat_angle_deg
from daemon.measure.suspect import question
from shared.angles import difference_deg
from shared.events import Half, Sense
from shared.job import Header

if TYPE_CHECKING:
    from daemon.workflow.ledger import Entry

STEEPEST_SHAFT_DEG = 25.0
"""No parked aircraft has its shaft further from level; more is a wrong face or mode."""
TIPPED_DEG = 5.0
"""No aircraft tilts so far while its blades are set, unless somebody raises its tail."""
FLIP_WITHIN_DEG = 0.7
"""So near minus the reference in force a tilt looks like a level put on end for end."""
SQRT3 = math.sqrt(3.0)
SECOND: Half = 2


class Angles:
    """Knows the levels' profiles and the reference in force.

    azimuth: (psi, u) of the blade being read now, for the number that is followed.
    """

    def __init__(self, header: Header) -> None:
        self._job = header.job
        self._profiles = header.profiles
        self.reference: Reference | None = None
        self.azimuth: tuple[float, float] | None = None

    def of_reference(
        self, level: str, reading: Reading, sense: Sense, half: Half = 0
    ) -> BladeAngle:
        """Return the shaft's tilt from one placement on the plane of rotation.

        From both sides of a blade it takes two: one gives the blade angle on a level shaft.
        """
        profile = self._profiles[level]
        if self._both_sides:
            return on_a_level_shaft(reading, profile, self._job, sense, beyond=half == SECOND)
        one = reference_angle([reading], profile, sense)
        zero = Line(
            "zero",
            "B",
            profile.accuracy.zero_deg / SQRT3,
            common="zero",
            sign=-1 if one.zero < 0 else 1,
            shape="rectangular",
        )
        placing = Line("placing", "A", one.u_deg, one.dof)
        return BladeAngle(one.theta_deg, Budget((placing, zero, *self._wobble())))

    def _wobble(self) -> tuple[Line, ...]:
        """What one hub position leaves open: the same in every reading of the reference."""
        lean = self._job.setup.wobble_deg
        if not lean or self._job.setup.reference != "hub-face":
            return ()
        u = lean_u_deg(lean)
        return (Line("wobble", "B", u, common="reference", shape="rectangular"),)

    @property
    def _both_sides(self) -> bool:
        return self._job.setup.reference == "both-sides"

    def of_blade(
        self,
        level: str,
        reading: Reading,
        sense: Sense,
        azimuth: tuple[float, float] | None = None,
    ) -> BladeAngle:
        """Return a blade's angle from one placement; azimuth: (psi, u) from a hub witness."""
        return blade_reading(
            reading, self._profiles[level], self._job, sense, self.reference, azimuth
        )

    def live_tilt(self, level: str, angle_deg: float, sense: Sense, half: Half) -> float:
        """Return what to follow on a screen at the reference, as `of_reference` without budget."""
        profile = self._profiles[level]
        beyond = half == SECOND and self._both_sides
        seat = seat_angle_deg(angle_deg, profile, sense, beyond=beyond)
        if self._both_sides:
            return blade_angle(profile.convention, seat, 0.0, 180.0 if beyond else 0.0)
        return -seat if profile.convention != "projection" else 90.0 - abs(seat)

    def live(self, level: str, angle_deg: float, span_deg: float | None, sense: Sense) -> float:
        """Return the angle to follow on a screen: no budget, otherwise as `of_blade`."""
        profile = self._profiles[level]
        seat = seat_angle_deg(angle_deg, profile, sense)
        theta = self.reference.theta_deg if self.reference else 0.0
        psi = self.azimuth[0] if self.azimuth else 0.0
        if self.azimuth is None and span_deg is not None:
            psi = azimuth_deg(span_deg, theta)
        face = self._job.propeller.face_deg
        return blade_angle(profile.convention, seat, theta, psi, face_deg=face)

    def adopt(self, entries: Sequence["Entry"], apart_u: float = 0.0) -> None:
        """Take the mean of these reference readings as the reference from now on.

        apart_u: standard uncertainty that placements which disagree leave besides.
        Both senses in one reference cancel the level's zero error in it.
        """
        first = [entry for entry in entries if entry.half != SECOND]
        second = [entry for entry in entries if entry.half == SECOND]
        if self._both_sides:
            up, down = (mean_of([entry.angle for entry in half]) for half in (first, second))
            profile, sense = self._profiles[first[0].level], first[0].sense
            tilt = reference_of(up, down, profile, sense, len(entries))
        elif second:
            setup = self._job.setup
            tilt = half_turn(
                self._surface(first), self._surface(second), setup.psi_u_deg, setup.wobble_deg
            )
        else:
            tilt = self._surface(first)
        lean_u = math.hypot(*(line.u_deg for line in self._wobble()))
        self.reference = replace(tilt, u_deg=math.hypot(tilt.u_deg, apart_u, lean_u))

    def _surface(self, entries: Sequence["Entry"]) -> Reference:
        """Return the tilt from placements on the hub face in one position of the hub."""
        by_sense: dict[Sense, list[Entry]] = {}
        for entry in entries:
            by_sense.setdefault(entry.sense, []).append(entry)
        parts = [
            reference_angle([e.reading for e in group], self._profiles[group[0].level], sense)
            for sense, group in by_sense.items()
        ]
        return parts[0] if len(parts) == 1 else _mean(parts)

    def carry(self, values: Mapping[str, float]) -> None:
        """Take over a reference from the session before."""
        self.reference = Reference(
            values["theta_deg"], values["u_deg"], math.inf, "normal", int(values["n"])
        )

    def blade_question(
        self, level: str, reading: Reading, sense: Sense, angle: BladeAngle
    ) -> str | None:
        """Return what to look at before this blade angle is believed, or None when plausible.

        A level turned round, in another mode or on another face changes what it shows, so
        its reading is compared with what it ought to show, the shaft's tilt left in.
        """
        profile, target = self._profiles[level], self._job.target.angle_deg
        if profile.convention == "projection":
            return question(angle.angle_deg, target)
        theta = self.reference.theta_deg if self.reference else 0.0
        return question(seat_angle_deg(reading.mean_deg, profile, sense), target - theta)

    def side_question(self, angle: BladeAngle, first: BladeAngle | None) -> str | None:
        """Return what to look at before one side of a blade is believed as a reference.

        first: the mean of the first side, when this is the second.
        """
        if first is None:
            return question(angle.angle_deg, self._job.target.angle_deg)
        if abs(difference_deg(angle.angle_deg, first.angle_deg)) <= 2.0 * STEEPEST_SHAFT_DEG:
            return None
        return (
            f"this side reads {angle.angle_deg:.2f}, the first {first.angle_deg:.2f}: no shaft "
            "tilts that far. Look: is it the same blade, and the level on the same end of it?"
        )

    def reference_question(self, angle: BladeAngle) -> str | None:
        """Return what to look at before this tilt is believed, or None when plausible."""
        before = self.reference.theta_deg if self.reference else 0.0
        flipped = abs(angle.angle_deg + before) < FLIP_WITHIN_DEG < abs(before)
        far = self.reference is not None and abs(angle.angle_deg - before) > TIPPED_DEG
        if abs(angle.angle_deg) <= STEEPEST_SHAFT_DEG and not flipped and not far:
            return None
        if flipped:
            return (
                f"the shaft's tilt reads {angle.angle_deg:.2f}, before it was {before:.2f}: the "
                "same with its sign turned. Look: does the level point the way it did?"
            )
        was = f", before it was {before:.2f}" if far else ""
        return (
            f"the shaft's tilt reads {angle.angle_deg:.2f}{was}. Look: is the level on the hub face, "
            "in the plane of rotation, in degrees, in its normal mode?"
        )


def _mean(parts: Sequence[Reference]) -> Reference:
    n = len(parts)
    return Reference(
        math.fsum(p.theta_deg for p in parts) / n,
        math.sqrt(math.fsum(p.u_deg**2 for p in parts)) / n,
        min(p.dof for p in parts),
        parts[0].sense,
        sum(p.n for p in parts),
        math.fsum(p.zero for p in parts) / n,
        parts[0].reading_deg,
    )
