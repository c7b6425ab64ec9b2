"""What the hands do: turn the propeller, lay the level down and lift it, nudge a blade."""

from shared.events import BladeId, StepChanged
from simulator.body import Act, Body
from simulator.instrument import Seat

REACTION_TICKS = 25


class Hands(Body):
    """Two busy hands."""

    def fell(self) -> bool:
        """Return whether the level lies on no seat."""
        return self.scene.level.seat in {"hand", "bench"}

    def approach(self, seat: BladeId, half: int = 0) -> Act:
        """Level off, the propeller turned until the blade is horizontal.

        half: of a reference in two: the second wants blade 1 on the other side.
        """
        if not self.fell():
            yield from self.lift()
        propeller, beyond = self.scene.propeller, half == 2
        blade = self._horizontal(seat, half)
        if blade is None or abs(propeller.way_to(blade, beyond=beyond)) < 3.0:
            yield from self.pause(0.5, 1.0)
            return
        self.lay_down(always=False)
        self._by_handle()
        seconds = propeller.turn_to(blade, beyond=beyond)
        yield from self.pause(seconds + 0.3, seconds + 0.9, hurry=False)
        self.scene.level.lift()

    def _horizontal(self, seat: BladeId, half: int) -> int | None:
        """Which blade has to be horizontal; None: it makes no difference, and nobody turns."""
        if isinstance(seat, int):
            return seat
        return 1 if half or self.scene.propeller.table.lean_deg else None

    def _by_handle(self) -> None:
        slip = self.incidents.claim("handle", self.scene)
        if slip is not None:
            self.scene.propeller.change(slip.blade, slip.size_deg, "handle")

    def lay_down(self, *, always: bool) -> None:
        """Lay the level on the bench: always, or as the person is used to."""
        if always or self.draws.chance(self.table.bench):
            self.scene.level.put("bench")

    def put(self, seat: BladeId) -> Act:
        """Lay the level on a blade or the hub face; at times end for end."""
        yield from self.pause(0.6, 1.2)
        level = self.scene.level
        level.reversed = self.incidents.claim("reversed", self.scene) is not None
        if level.reversed:
            self.scene.propeller.note_level(0.0, "reversed", lasting=False)
        where: Seat = seat if isinstance(seat, int) else self.scene.reference_seat
        level.put(where, self.scene.propeller.table.wobble_deg if where == "hub" else 0.0)

    def lift(self) -> Act:
        """Take the level off, which may turn a loose blade a little."""
        yield from self.pause(0.2, 0.5)
        propeller, seat = self.scene.propeller, self.scene.level.seat
        if isinstance(seat, int) and not self.scene.tight:
            propeller.slip(seat, self.draws.normal(propeller.table.lift_sd_deg))
        self.scene.level.lift()
        yield from self.pause(0.4, 0.8)

    def nudge(self, step: StepChanged, blade: int) -> Act:
        """Follow the number with the blade, a quarter of a second behind it."""
        calm = 0
        for _ in range(60):
            error = self._seen_error()
            if self.memory.step is not step or self.memory.asked or self.fell():
                return
            if error is None or abs(error) > 30.0:
                calm += 1  # nothing to follow, or nonsense: wait for words
            elif abs(error) <= self.tolerance_deg / 3.0:
                calm += 1
            else:
                calm = 0
                yield from self._turn_blade(blade, -error)
            if calm >= (3 if error is not None else 30):
                return
            for _ in range(REACTION_TICKS):
                yield

    def _seen_error(self) -> float | None:
        return None if self.view is None else self.view.live.error_deg

    def _turn_blade(self, blade: int, wish_deg: float) -> Act:
        """Turn a blade by hand: it sticks, slips and overshoots; large ways take longer."""
        miss = 0.05 + 0.25 * (1.0 - self.table.skill)
        wish = max(-4.0, min(4.0, wish_deg)) * (1.0 + self.draws.normal(miss))
        breakaway = self.draws.between(0.02, 0.10)
        if abs(wish) < breakaway and self.draws.chance(0.5):
            wish = 0.0  # stuck
        elif abs(wish) < 0.5:
            wish += self.draws.normal(0.04 * (1.3 - self.table.skill))
        ticks = 15 + int(abs(wish) * 15.0)
        for _ in range(ticks):
            self.scene.propeller.change(blade, wish / ticks)
            yield

    def let_go(self, blade: int) -> None:
        """The blade creeps back a little within two seconds of letting go."""
        propeller = self.scene.propeller
        propeller.drift(blade, self.draws.normal(propeller.table.relax_sd_deg), 1.2)
