"""One level: where it lies, what it does wrong, and what it sends.

Angles in degrees. A planar level shows atan2(-normal.z, chord.z); a projection level
asin(chord.z); a vector level all three axes in units of gravity.
"""

import math
from typing import Literal

from shared.angles import wrap_deg
from shared.samples import Role
from simulator.draws import Draws
from simulator.propeller import TICK_S, Propeller, Up
from simulator.scenario import LevelTable
from simulator.wire import Wire
from simulator.wire.noise import Noise

Seat = int | Literal["hand", "bench", "hub", "tape", "cowling"]
"""A blade by its number; `tape` is fixed to the hub and turns with it."""


TURNED_OVER_S = 2.7
"""Held, over in 0.4 s, held for 0.7 s, back as fast, held again."""


class Instrument:
    """A level in the hangar."""

    def __init__(
        self, name: str, table: LevelTable, wire: Wire, draws: Draws, *, whole: bool = False
    ) -> None:
        self.name = name
        self.table = table
        self.wire = wire
        self.seat: Seat = "hand"
        self.reversed = False
        self.relative_to: float | None = None
        self.zero_deg = draws.between(*table.zero_deg)
        self.shaking_deg = 0.0
        self.on = True
        self.up = True
        self._draws = draws
        self._whole = whole
        self._spoiler = Noise(table.spoilt_share, draws) if table.spoilt_share else None
        self._seating = 0.0
        self._settling = 0.0
        self._settle_s = 0.2
        self._seated_s = 0.0
        self._noise = 0.0
        self._hand = draws.normal(30.0)
        self._lean = 20.0
        self._blow = 0.0
        self._over_s = -1.0
        self._on_s = 0.0
        self._drift_deg = 0.0
        self._drift_from_s = 0.0
        self._due = draws.unit() / table.rate_hz
        self._pending: list[tuple[int, bytes]] = []
        self._sent: dict[Role, float] = {}
        self._button = False

    def put(self, seat: Seat, wobble_deg: float = 0.0) -> None:
        """Lay the level on a seat: a new seating error, and some settling."""
        self.seat = seat
        self._seating = self._draws.normal(self.table.seating_sd_deg)
        self._seating += self._draws.normal(wobble_deg)
        self._settling = self._draws.normal(1.5)
        self._settle_s = self._draws.between(0.06, 0.16)
        self._seated_s = 0.0
        if seat == "bench":
            self._lean = self._draws.between(-8.0, 30.0)

    def lift(self) -> None:
        """Take the level into the hand."""
        self.seat = "hand"

    def turn_over(self) -> None:
        """Begin to turn the level over in the hand, and back: `TURNED_OVER_S` from now it is done."""
        self._over_s = 0.0

    def press(self) -> None:
        """Press the level's own button: it goes out with the next sample."""
        self._button = True

    def blow(self, size_deg: float) -> None:
        """Shake the level once; it rings for a moment."""
        self._blow = size_deg

    def warm_up(self, size_deg: float) -> None:
        """Let the zero begin to drift, by so much in the end."""
        self._drift_deg, self._drift_from_s = size_deg, self._on_s

    def tick(self, propeller: Propeller, line: Draws) -> list[tuple[int, bytes]]:
        """Let 10 ms pass; return what leaves the line now: channel and bytes, ragged."""
        self._seated_s += TICK_S
        self._on_s += TICK_S
        self._due -= TICK_S
        if self._due <= 0.0:
            self._due += 1.0 / self.table.rate_hz
            self._send(self._values(propeller))
        return self._leaving(line)

    def _send(self, values: dict[Role, float]) -> None:
        if self.table.reports == "on-change" and values == self._sent:
            return
        self._sent = values
        sent = self.wire.write(values)
        if self.on and self.up:
            self._pending += sent

    def cut(self) -> None:
        """Lose what has not left yet: the line was pulled."""
        self._pending.clear()

    def _leaving(self, line: Draws) -> list[tuple[int, bytes]]:
        if not self._pending or line.chance(0.4):
            return []
        channel, data = self._pending.pop(0)
        if self._whole:
            return [(channel, data)]
        while self._pending and self._pending[0][0] == channel and line.chance(0.7):
            data += self._pending.pop(0)[1]
        if channel == 0 and len(data) > 1 and line.chance(0.4):
            cut = 1 + int(line.unit() * (len(data) - 1))
            self._pending.insert(0, (channel, data[cut:]))
            data = data[:cut]
        return [(channel, data if self._spoiler is None else self._spoiler.spoil(data))]

    def _values(self, propeller: Propeller) -> dict[Role, float]:
        values = self._tilt(propeller)
        if self.table.battery_percent is not None:
            values["battery"] = max(1.0, self.table.battery_percent - self._on_s / 60.0)
        if self.table.own_button:
            values["button"] = float(self._button)
            self._button = False
        return values

    def _tilt(self, propeller: Propeller) -> dict[Role, float]:
        error = self._error()
        up = self._up(propeller)
        planar = math.degrees(math.atan2(-up.normal, up.chord))
        if self.table.convention == "planar":
            return {"angle": self._shown(-planar if self.reversed else planar, error)}
        if self.table.convention == "projection":
            chord = -up.chord if self.reversed else up.chord
            return {"angle": _folded(self._shown(math.degrees(math.asin(_unit(chord))), error))}
        if self.table.convention == "roll-pitch":
            return self._roll_pitch(up, error)
        return self._axes(up, error, propeller.hand)

    def _shown(self, tilt: float, error: float) -> float:
        shown = tilt * (1.0 + self.table.gain_percent / 100.0) + error
        if self.relative_to is not None:
            if math.isnan(self.relative_to):
                self.relative_to = shown
            shown -= self.relative_to
        step = self.table.resolution_deg
        return round(wrap_deg(shown) / step) * step

    def _roll_pitch(self, up: Up, error: float) -> dict[Role, float]:
        """Roll about the span axis, from (ay, az) of a level that has x along the span."""
        roll = math.degrees(math.atan2(-up.normal, up.chord))
        pitch = math.degrees(math.atan2(-up.span, math.hypot(up.chord, up.normal)))
        return {
            "roll": self._shown(-roll if self.reversed else roll, error),
            "pitch": self._shown(pitch, self._draws.normal(self.table.noise_sd_deg)),
        }

    def _axes(self, up: Up, error: float, hand: float) -> dict[Role, float]:
        """Give x along the chord, z along the normal, y so that the set is right-handed."""
        size = math.hypot(up.chord, up.normal)
        tilt = math.atan2(-up.normal, up.chord) + math.radians(error)
        end = -1.0 if self.reversed else 1.0
        span = up.span + math.radians(self._draws.normal(self.table.noise_sd_deg))
        return {
            "ax": end * size * math.cos(tilt),
            "ay": end * hand * span,
            "az": -size * math.sin(tilt),
        }

    def _error(self) -> float:
        """Zero, warming up, seating, settling, shaking and noise together."""
        table = self.table
        seated = isinstance(self.seat, int) or self.seat in {"hub", "cowling"}
        spread = math.sqrt(1.0 - table.lag1**2)
        noise = self._draws.normal(table.noise_sd_deg)
        self._noise = table.lag1 * self._noise + spread * noise
        warm = table.warmup_deg * math.exp(-self._on_s / table.warmup_s)
        since_s = self._on_s - self._drift_from_s
        warm += self._drift_deg * (1.0 - math.exp(-since_s / table.warmup_s))
        error = self.zero_deg + warm + self._noise + self._shake()
        if seated:
            ring = math.cos(20.0 * self._seated_s) * math.exp(-self._seated_s / self._settle_s)
            error += self._seating + self._settling * ring
        return error

    def _shake(self) -> float:
        shake = self._draws.normal(1.0) * (self.shaking_deg + self._blow)
        self._blow *= 0.5
        return shake

    def _up(self, propeller: Propeller) -> Up:
        if isinstance(self.seat, int):
            return propeller.up_on_blade(self.seat)
        if self.seat == "hub":
            return propeller.up_on_hub()
        if self.seat == "cowling":
            return propeller.up_on_cowling()
        if self.seat == "tape":
            return propeller.up_taped()
        return self._loose()

    def _loose(self) -> Up:
        """In hand: swinging and trembling. On the bench: at rest at some angle."""
        if self.seat == "bench":
            tilt = math.radians(self._lean)
            return Up(math.cos(tilt), 0.0, -math.sin(tilt))
        if self._over_s >= 0.0:
            return self._turning_over()
        fade = math.exp(-1.0 / (0.5 * self.table.rate_hz))
        self._hand = fade * self._hand + self._draws.normal(40.0 * math.sqrt(1.0 - fade * fade))
        tilt = math.radians(self._hand + self._draws.normal(0.8))
        roll = math.radians(self._hand * 0.4)
        return Up(math.cos(tilt) * math.cos(roll), math.sin(roll), -math.sin(tilt) * math.cos(roll))

    def _turning_over(self) -> Up:
        """Held, turned about the span axis, held the other way up, turned back, held; with a tremble."""
        self._over_s += 1.0 / self.table.rate_hz
        way = 180.0 * _share(self._over_s - 0.6, 0.4) * (1.0 - _share(self._over_s - 1.7, 0.4))
        tilt = math.radians(20.0 + way + self._draws.normal(2.0))
        if self._over_s > TURNED_OVER_S:
            self._over_s, self._hand = -1.0, 20.0
        return Up(math.cos(tilt), 0.0, -math.sin(tilt))


def _share(since_s: float, of_s: float) -> float:
    return max(0.0, min(1.0, since_s / of_s))


def _folded(slope_deg: float) -> float:
    """An arc sine comes back from 90."""
    return math.copysign(180.0, slope_deg) - slope_deg if abs(slope_deg) > 90.0 else slope_deg


def _unit(value: float) -> float:
    return max(-1.0, min(1.0, value))
