"""Refer what a level shows to the tilt of the shaft in force: angles of blades, and the tilt."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.both_sides import on_a_level_shaft
from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.geometry import azimuth_deg, blade_angle, blade_angles, phi_deg
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import SWAY, placing_lines, seat_angle_deg
from daemon.measure.angle.reference import Reference, in_force, lean_u_deg, reference_angle
from daemon.measure.angle.suspicion import (
    TILT_FOLD_DEG,
    far_folded,
    fold_deg,
    folded,
    folded_tilt,
    target_folded,
)
from daemon.measure.stream.reading import Reading
from daemon.workflow.ledger import Entry
from daemon.workflow.members import Basis, Carried, Member
from shared.angles import difference_deg
from shared.events import REFERENCE, Half, Sense
from shared.job import Header, Nose

SQRT3 = math.sqrt(3.0)
SECOND: Half = 2
COARSER_FIRST = "For this reading blade 1 may also be turned well coarser, on both sides alike."
Azimuth = tuple[float, float]
"""psi of a blade and its standard uncertainty, from a hub witness."""


class Referred:
    """Knows the levels' profiles, and works out the tilt in force from the reference's readings."""

    def __init__(self, header: Header, reference: Member) -> None:
        self._job = self._blades = header.job
        self._target_deg = header.job.target.angle_deg
        self._profiles = header.profiles
        self._member = reference
        self._nose: Nose = header.job.setup.nose
        self.careless = 0.0
        """Probability that blades are brought to horizontal worse than the job states."""
        self._worked_out: tuple[tuple[int, Basis | None], Reference | None] = ((-1, None), None)

    # --- nose-up or nose-down, which a level of one axis cannot tell on the hub face ---------

    def tell(self, nose: Nose) -> None:
        """A person looked: the shaft points up or down."""
        self._nose = nose

    def forget_nose(self) -> None:
        """No reading counts that what was told or seen went into: it is asked again."""
        self._nose = self._job.setup.nose

    def seen(self, theta_deg: float | None, least_deg: float) -> None:
        """Nobody told: go by the tilt in force, or by what the witness on the hub sees of it.

        least_deg: so far from level what it sees must be, for its sign to be sure.
        """
        if self._nose:
            return
        if self.reference is not None:
            theta_deg, least_deg = self.reference.theta_deg, TILT_FOLD_DEG
        if theta_deg is not None and abs(theta_deg) > least_deg:
            self._nose = "up" if theta_deg > 0.0 else "down"

    def wants_nose(self, level: str) -> bool:
        """Whether a reference read with this level hangs on which way the shaft points."""
        return self._folds(level) and not self._both_sides and not self._nose

    def cannot_tell_tilt(self, level: str, reading: Reading) -> str | None:
        """Return why this reading of the reference stands too near the level's fold, or None."""
        if not self._folds(level):
            return None
        off, setup = 90.0 - abs(reading.mean_deg), self._job.setup
        if not self._both_sides:
            return folded_tilt(off, setup)
        refused = folded((off, -off), fold_deg(setup))
        return refused and f"{refused} {COARSER_FIRST}"

    def cannot_tell(self, angles: Sequence[float], azimuth: Azimuth | None) -> str | None:
        """Return why a reading that these blade angles give cannot be told apart, or None."""
        if len(angles) == 1:
            return None
        theta = self.reference.theta_deg if self.reference else 0.0
        needed = fold_deg(self._job.setup, None if azimuth is None else azimuth[1])
        return (
            target_folded(self._target_deg, phi_deg(theta), needed)
            or folded(angles, needed)
            or far_folded(angles, self._target_deg)
        )

    def cannot_hold(self, levels: Iterable[str]) -> str | None:
        """Return why a blade at its target cannot be held on this shaft with one of the levels."""
        if self.reference is None or not any(self._folds(level) for level in levels):
            return None
        phi = phi_deg(self.reference.theta_deg)
        return target_folded(self._target_deg, phi, fold_deg(self._job.setup))

    def _folds(self, level: str) -> bool:
        return self._profiles[level].convention == "projection"

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
            return Reference(tilt.angle_deg, tilt.budget.u_deg, math.inf, "normal")
        entries = self._member.entries(basis)
        first, profile = entries[0], self._profiles[entries[0].level]
        shown = seat_angle_deg(first.reading.mean_deg, profile, first.sense)
        if self._both_sides:
            shown = -tilt.angle_deg
        return in_force(tilt, profile, first.sense, shown)

    def _on_the_hub(self, readings: Sequence[Reading], level: str, sense: Sense) -> Reference:
        setup = self._job.setup
        askew = (setup.psi_u_deg, setup.skew_u_deg)
        return reference_angle(readings, self._profiles[level], sense, self._nose != "down", askew)

    def swaying(self, entry: Entry, u_deg: float) -> BladeAngle:
        """Return the angle of a reading with what a sway leaves in it, if it leaves u_deg in it."""
        reading = replace(entry.reading, u_sway_deg=u_deg)
        if entry.blade == REFERENCE:
            again = self.of_reference(entry.level, reading, entry.sense, entry.half)
        else:
            again = self.of_blade(entry.level, reading, entry.sense, entry.azimuth)
        return _with_line_of(again, entry.angle, SWAY)

    def suspect_azimuth(self, probability: float) -> None:
        """So likely blades are brought to horizontal worse than the job states."""
        self.careless = probability

    def distrust_azimuth(self, times: float) -> None:
        """The azimuth of blades is so many times less sure than stated, where nothing measures it."""
        setup = self._job.setup
        worse = setup.model_copy(update={"psi_u_deg": times * setup.psi_u_deg})
        self._blades, self.careless = self._job.model_copy(update={"setup": worse}), 1.0

    def askew(self, entry: Entry) -> BladeAngle:
        """Return the angle of a blade's reading with the azimuth as unsure as it is now."""
        again = self.of_blade(entry.level, entry.reading, entry.sense, entry.azimuth)
        return _with_line_of(again, entry.angle, "psi")

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
        one = self._on_the_hub([reading], level, sense)
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
            reading, self._profiles[level], self._blades, sense, self.reference, azimuth
        )

    def live_tilt(self, level: str, angle_deg: float, sense: Sense, half: Half) -> float:
        """Return what to follow on a screen at the reference, as `of_reference` without budget."""
        profile = self._profiles[level]
        beyond = half == SECOND and self._both_sides
        seat = seat_angle_deg(angle_deg, profile, sense, beyond=beyond)
        if self._both_sides:
            side = 180.0 if beyond else 0.0
            return blade_angle(profile.convention, seat, 0.0, side, near_deg=self._target_deg)
        if not self._folds(level):
            return -seat
        return (90.0 - abs(seat)) * (-1.0 if self._nose == "down" else 1.0)

    def live(
        self,
        level: str,
        angle_deg: float,
        span_deg: float | None,
        sense: Sense,
        azimuth: Azimuth | None = None,
    ) -> float:
        """Return the angle to follow on a screen: no budget, otherwise as `of_blade`."""
        both = self.angles(level, angle_deg, span_deg, sense, azimuth)
        return min(both, key=lambda angle: abs(difference_deg(angle, self._target_deg)))

    def angles(
        self,
        level: str,
        angle_deg: float,
        span_deg: float | None,
        sense: Sense,
        azimuth: Azimuth | None = None,
    ) -> tuple[float, ...]:
        """Return every blade angle that gives what a level shows: two where it folds."""
        profile = self._profiles[level]
        seat = seat_angle_deg(angle_deg, profile, sense)
        theta = self.reference.theta_deg if self.reference else 0.0
        psi = azimuth[0] if azimuth else 0.0
        if azimuth is None and span_deg is not None:
            psi = azimuth_deg(span_deg, theta)
        face = self._job.propeller.face_deg
        return blade_angles(profile.convention, seat, theta, psi, face_deg=face)


def _with_line_of(again: BladeAngle, angle: BladeAngle, name: str) -> BladeAngle:
    """Return an angle with one line of its budget worked out again; the angle stays."""
    kept = [line for line in angle.budget.lines if line.name != name]
    new = [line for line in again.budget.lines if line.name == name]
    return BladeAngle(angle.angle_deg, Budget((*kept, *new)))
