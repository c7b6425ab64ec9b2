"""Refer what a level shows to the tilt of the shaft in force: angles of blades, and the tilt."""

import math
from collections.abc import Sequence
from dataclasses import replace

from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.both_sides import on_a_level_shaft, reference_of
from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.geometry import azimuth_deg, blade_angle
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import placing_lines, seat_angle_deg
from daemon.measure.angle.reference import Reference, half_turn, lean_u_deg, reference_angle
from daemon.measure.stream.reading import Reading
from daemon.workflow.ledger import Entry, by_sense, mean_over_senses
from daemon.workflow.members import Basis, Carried, Member
from shared.events import Half, Sense
from shared.job import Header

SQRT3 = math.sqrt(3.0)
SECOND: Half = 2
Azimuth = tuple[float, float]
"""psi of a blade and its standard uncertainty, from a hub witness."""


class Referred:
    """Knows the levels' profiles, and works out the tilt in force from the reference's readings."""

    def __init__(self, header: Header, reference: Member) -> None:
        self._job = header.job
        self._profiles = header.profiles
        self._member = reference
        self._worked_out: tuple[tuple[int, Basis | None], Reference | None] = ((-1, None), None)

    # --- the shaft's tilt, which exists once --------------------------------------------

    @property
    def reference(self) -> Reference | None:
        """The tilt in force: of the reference's newest basis; None where nobody measured it."""
        basis = self._member.standing
        now = (self._member.ledger.version, basis)
        if self._worked_out[0] != now:
            self._worked_out = (now, None if basis is None else self._reference(basis))
        return self._worked_out[1]

    def _reference(self, basis: Basis) -> Reference | None:
        tilt = self._member.mean(basis)
        if tilt is None:
            return None
        if isinstance(basis, Carried):
            return Reference(tilt.angle_deg, tilt.budget.u_deg, math.inf, "normal", 0)
        entries = self._member.entries(basis)
        one = self._from(entries)
        # the level's zero may cancel in a blade angle; all else hangs on every one of them
        rest = Budget(tuple(line for line in tilt.budget.lines if line.common != "zero"))
        return replace(one, theta_deg=tilt.angle_deg, u_deg=rest.u_deg, dof=rest.dof)

    def _from(self, entries: Sequence[Entry]) -> Reference:
        first = [entry for entry in entries if entry.half != SECOND]
        second = [entry for entry in entries if entry.half == SECOND]
        if self._both_sides:
            up, down = mean_over_senses(first), mean_over_senses(second)
            profile, sense = self._profiles[first[0].level], first[0].sense
            return reference_of(up, down, profile, sense, len(entries))
        if not second:
            return self._surface(first)
        setup = self._job.setup
        return half_turn(
            self._surface(first), self._surface(second), setup.psi_u_deg, setup.wobble_deg
        )

    def _surface(self, entries: Sequence[Entry]) -> Reference:
        """Return the tilt from placements on the hub face in one position of the hub."""
        parts = [
            reference_angle(
                [e.reading for e in group], self._profiles[group[0].level], group[0].sense
            )
            for group in by_sense(entries)
        ]
        return parts[0] if len(parts) == 1 else _mean(parts)

    # --- one placement --------------------------------------------------------------------

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
        lines = (*placing_lines(reading, profile), zero, *self._wobble())
        return BladeAngle(one.theta_deg, Budget(lines))

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
        azimuth: Azimuth | None = None,
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

    def live(
        self,
        level: str,
        angle_deg: float,
        span_deg: float | None,
        sense: Sense,
        azimuth: Azimuth | None = None,
    ) -> float:
        """Return the angle to follow on a screen: no budget, otherwise as `of_blade`."""
        profile = self._profiles[level]
        seat = seat_angle_deg(angle_deg, profile, sense)
        theta = self.reference.theta_deg if self.reference else 0.0
        psi = azimuth[0] if azimuth else 0.0
        if azimuth is None and span_deg is not None:
            psi = azimuth_deg(span_deg, theta)
        face = self._job.propeller.face_deg
        return blade_angle(profile.convention, seat, theta, psi, face_deg=face)


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
