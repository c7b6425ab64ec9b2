"""The propeller on its aircraft: a loose hub, true blade angles, a shaft that is not level.

Angles in degrees. World z up, shaft nose-up by theta, a blade's span psi above horizontal.
"""

import math
from dataclasses import dataclass
from typing import Literal

from shared.angles import wrap_deg
from shared.inputs import NS
from shared.job import Job
from simulator.draws import Draws
from simulator.scenario import HangarTable
from simulator.truth import Move, Shift

TICK_S = 0.01
FAR_DEG = 30.0
"""Further than this is another blade."""
TICK_NS = 10_000_000


@dataclass(frozen=True, slots=True)
class Up:
    """The upward direction in the axes of a level on its seat: chord, span, normal."""

    chord: float
    span: float
    normal: float


@dataclass(slots=True)
class _Drift:
    """A change that comes about over time: `rate` a second until `until_s` or for ever."""

    blade: int
    rate: float
    left_s: float


class Propeller:
    """True angles and what turns them."""

    def __init__(self, job: Job, table: HangarTable, draws: Draws) -> None:
        blades = job.propeller.blades
        self.table = table
        self._turning_deg_s = table.turning_deg_s
        self.t_ns = 0
        self.stage = ""
        self.moves: list[Move] = []
        self.shifts: list[Shift] = []
        self._draws = draws
        self._angles = [
            job.target.angle_deg + draws.between(*table.start_deg) for _ in range(blades)
        ]
        self._ends = [draws.sign() for _ in range(blades)]
        self.past: list[list[tuple[int, float]]] = [[(0, self.angle(b + 1))] for b in range(blades)]
        even = [360.0 * b / blades for b in range(blades)]
        self._sockets = job.propeller.azimuths_deg or even
        self.hand = -1.0 if job.propeller.rotation == "clockwise" else 1.0
        """Chord, span, normal (forward) of a blade are a right-handed set only anticlockwise."""
        self._face_deg = job.propeller.face_deg
        self.azimuth_deg = 40.0
        self._azimuth_goal_deg = 40.0
        self._lean_phase_deg = draws.between(0.0, 360.0) if table.lean_deg else 0.0
        self._theta = table.theta_deg
        sways = table.sway_deg > 0.0
        self._sway_hz = draws.between(*table.sway_hz) if sways else 0.0
        self._sway_phase = draws.between(0.0, 2.0 * math.pi) if sways else 0.0
        self._rock_deg = 0.0
        self._rock_s = 0.0
        self._drifts: list[_Drift] = []
        self._sinking: list[list[float]] = []

    @property
    def blades(self) -> int:
        """Number of blades."""
        return len(self._angles)

    @property
    def theta_deg(self) -> float:
        """Tilt of the shaft now, nose-up positive."""
        rocking = self._rock_deg * math.exp(-self._rock_s / 1.5)
        turns = 2.0 * math.pi * self._sway_hz * self.t_ns / NS
        sway = self.table.sway_deg * math.sin(turns + self._sway_phase)
        return self._theta + sway + rocking * math.sin(2.0 * math.pi * 0.8 * self._rock_s)

    def angle(self, blade: int) -> float:
        """Return a blade's true angle now: where it rests in its play."""
        return self._angles[blade - 1] + 0.5 * self.table.play_deg * self._ends[blade - 1]

    def psi(self, blade: int) -> float:
        """Return how far a blade's span is above horizontal, on the reading side."""
        return wrap_deg(self.azimuth_deg + self._sockets[blade - 1])

    def way_to(self, blade: int, *, beyond: bool = False) -> float:
        """Return how far the blade is from the horizontal, on the reading or the other side."""
        return wrap_deg(self.psi(blade) - (180.0 if beyond else 0.0))

    def turn_to(self, blade: int, *, beyond: bool = False) -> float:
        """Begin turning the propeller until the blade is about horizontal; return seconds."""
        way = self.way_to(blade, beyond=beyond)
        goal = self.azimuth_deg - way + self._draws.normal(self.table.psi_sd_deg)
        self._azimuth_goal_deg = goal
        if self.table.turning_s is not None and abs(way) > FAR_DEG:
            self._turning_deg_s = abs(way) / self._draws.between(*self.table.turning_s)
        return abs(goal - self.azimuth_deg) / self._turning_deg_s

    def change(self, blade: int, by_deg: float, cause: str = "") -> None:
        """Turn a blade to the end of its play and on; with a cause it is noted as a mishap."""
        self._angles[blade - 1] += by_deg
        if by_deg:
            self._ends[blade - 1] = math.copysign(1.0, by_deg)
        self._remember(blade, 0.0)
        if cause:
            self.moves.append(Move(self.t_ns, blade, by_deg, self.stage, cause))

    def slip(self, blade: int, by_deg: float) -> None:
        """Turn a blade a little as the level is lifted; it stays at its end of the play."""
        self._angles[blade - 1] += by_deg
        self._remember(blade, 0.0)

    def flip(self, blade: int) -> None:
        """Let a blade fall to the other end of its play."""
        before = self.angle(blade)
        self._ends[blade - 1] = -self._ends[blade - 1]
        self._remember(blade, 0.0)
        size = self.angle(blade) - before
        self.moves.append(Move(self.t_ns, blade, size, self.stage, "flip"))

    def drift(self, blade: int, by_deg: float, seconds: float, cause: str = "") -> None:
        """Turn a blade slowly and evenly."""
        self._drifts.append(_Drift(blade, by_deg / seconds, seconds))
        if cause:
            self.moves.append(Move(self.t_ns, blade, by_deg, self.stage, cause))

    def rock(self, size_deg: float) -> None:
        """Rock the aircraft; it comes back within some seconds."""
        self._rock_deg, self._rock_s = size_deg, 0.0
        self._note_shift(size_deg, "rock", lasting=False)

    def sink(self, size_deg: float, seconds: float, cause: str) -> None:
        """Tilt the aircraft for good, over some seconds."""
        seconds = max(1, round(seconds / TICK_S)) * TICK_S
        self._sinking.append([size_deg / seconds, seconds, 0.0])
        self._note_shift(size_deg, cause, lasting=True)

    def visit(self, size_deg: float, seconds: float) -> None:
        """Tilt the aircraft within a second, and back again after some."""
        self._sinking += [[size_deg, 1.0, 0.0], [-size_deg, 1.0, max(seconds, 1.0)]]
        self._note_shift(size_deg, "visit", lasting=False)

    def _note_shift(
        self,
        size_deg: float,
        cause: str,
        lasting: bool,
        what: Literal["aircraft", "level"] = "aircraft",
    ) -> None:
        self.shifts.append(Shift(self.t_ns, what, size_deg, self.stage, cause, lasting))

    def note_level(self, size_deg: float, cause: str, lasting: bool = True) -> None:
        """Write down that a level, not the aircraft, shifts readings."""
        self._note_shift(size_deg, cause, lasting, "level")

    def tick(self) -> None:
        """Let 10 ms pass."""
        self._rock_s += TICK_S
        self._turn()
        for drift in self._drifts:
            self._angles[drift.blade - 1] += drift.rate * TICK_S
            drift.left_s -= TICK_S
            self._remember(drift.blade, 0.002)
        for sinking in self._sinking:
            self._sink(sinking)
        self._drifts = [drift for drift in self._drifts if drift.left_s > TICK_S / 2]
        self._sinking = [sinking for sinking in self._sinking if sinking[1] > TICK_S / 2]

    def _sink(self, sinking: list[float]) -> None:
        """Take one step of a tilt: rate, seconds left, seconds until it begins."""
        if sinking[2] > TICK_S / 2:
            sinking[2] -= TICK_S
            return
        self._theta += sinking[0] * TICK_S
        sinking[1] -= TICK_S

    def _turn(self) -> None:
        left = self._azimuth_goal_deg - self.azimuth_deg
        most = self._turning_deg_s * TICK_S
        self.azimuth_deg += max(-most, min(most, left))

    def _remember(self, blade: int, at_least: float) -> None:
        past, angle = self.past[blade - 1], self.angle(blade)
        if abs(angle - past[-1][1]) >= at_least:
            past.append((self.t_ns, angle))

    def up_on_blade(self, blade: int, skew_deg: float = 0.0) -> Up:
        """Return the upward direction for a level squarely across a blade's chord.

        A face inclined to the span by `face_deg` and a level skewed on it are rotations about
        the chord and about the normal.
        """
        up = up_at(self.angle(blade), self.theta_deg, self.psi(blade))
        return _skewed(_inclined(up, self._face_deg), skew_deg)

    def up_on_hub(self) -> Up:
        """Return the upward direction for a level on the hub face, chord axis upwards.

        A face that leans goes round with the hub: it adds to the tilt by how the hub stands.
        """
        turned = math.radians(self.azimuth_deg + self._lean_phase_deg)
        return up_at(0.0, self.theta_deg + self.table.lean_deg * math.cos(turned), 0.0)

    def up_on_cowling(self) -> Up:
        """Return it for a level that stays with the aircraft, chord axis upwards."""
        return up_at(0.0, self.theta_deg, 0.0)

    def up_taped(self) -> Up:
        """Return it for a level that turns with the hub, its span axis along blade 1."""
        return up_at(0.0, self.theta_deg, wrap_deg(self.azimuth_deg + self._sockets[0]))


def up_at(beta_deg: float, theta_deg: float, psi_deg: float) -> Up:
    """Return world z in the axes chord, span and normal of a blade (all unit vectors)."""
    beta, theta, psi = (math.radians(angle) for angle in (beta_deg, theta_deg, psi_deg))
    along = math.cos(theta) * math.cos(psi)
    return Up(
        chord=math.cos(beta) * along + math.sin(beta) * math.sin(theta),
        span=math.cos(theta) * math.sin(psi),
        normal=-math.sin(beta) * along + math.cos(beta) * math.sin(theta),
    )


def _inclined(up: Up, face_deg: float) -> Up:
    cos, sin = math.cos(math.radians(face_deg)), math.sin(math.radians(face_deg))
    return Up(up.chord, up.span * cos - up.normal * sin, up.normal * cos + up.span * sin)


def _skewed(up: Up, skew_deg: float) -> Up:
    cos, sin = math.cos(math.radians(skew_deg)), math.sin(math.radians(skew_deg))
    return Up(up.chord * cos + up.span * sin, up.span * cos - up.chord * sin, up.normal)
