"""How a stranger packs numbers into frames, or into notifications."""

import struct
from dataclasses import dataclass
from typing import Literal

from simulator.draws import Draws
from simulator.strangers.checks import NAMES, check, size
from simulator.strangers.meaning import Meaning

Order = Literal["little", "big"]
_OTHERS = {
    "temperature": ("i16", 0.1),
    "battery": ("u8", 1.0),
    "counter": ("u8", 1.0),
    "clock": ("u32", 1.0),
    "heading": ("u16", 0.1),
    "state": ("u8", 1.0),
    "spare": ("u8", 1.0),
}
_HALF_TURN = 180.0 / 32768.0
_SYNCS = ("aa55", "5501", "fe", "7e", "a5", "b562", "ebeb90", "02", "10024c50")
_FEWEST_WITHOUT_CHECK = 4


@dataclass(frozen=True, slots=True)
class Number:
    """One number of a frame: its type and what one step is worth."""

    name: str
    kind: str
    step: float

    def packed(self, value: float, order: Order) -> bytes:
        """Return its bytes; what does not fit stops at the end of its type."""
        if self.kind in {"f32", "f64"}:
            code = "f" if self.kind == "f32" else "d"
            return struct.pack(("<" if order == "little" else ">") + code, value / self.step)
        bits = int(self.kind[1:])
        whole = round(value / self.step)
        if self.name in {"counter", "clock"}:
            whole %= 1 << bits
        signed = self.kind[0] == "i"
        low, high = (-(1 << bits - 1), (1 << bits - 1) - 1) if signed else (0, (1 << bits) - 1)
        if self.step == _HALF_TURN:
            whole = (whole - low) % (1 << bits) + low
        whole = max(low, min(high, whole))
        return whole.to_bytes(bits // 8, order, signed=signed)


@dataclass(frozen=True, slots=True)
class BinaryForm:
    """One way to pack a sample.

    Attributes:
        sync: what a frame begins with; empty for a bare notification.
        length: what the byte behind the sync counts, "" where there is none.
        check, check_from: which check, and the first byte it covers.
    """

    numbers: tuple[Number, ...]
    order: Order
    sync: bytes = b""
    length: Literal["", "payload", "payload+check", "frame"] = ""
    check: str = ""
    check_from: Literal["sync", "length", "payload"] = "payload"
    check_order: Order = "little"

    def frame(self, values: dict[str, float]) -> bytes:
        """Return the bytes of one sample."""
        payload = b"".join(one.packed(values[one.name], self.order) for one in self.numbers)
        check_size = size(self.check) if self.check else 0
        counts = {
            "payload": len(payload),
            "payload+check": len(payload) + check_size,
            "frame": len(self.sync) + 1 + len(payload) + check_size,
        }
        length = bytes([counts[self.length]]) if self.length else b""
        parts = {"sync": self.sync + length, "length": length, "payload": b""}
        if not self.check:
            return self.sync + length + payload
        value = check(self.check, parts[self.check_from] + payload)
        return self.sync + length + payload + value.to_bytes(check_size, self.check_order)


def _tilt(draws: Draws, meaning: Meaning) -> tuple[str, float]:
    """Draw type and step of the tilt's numbers."""
    unit, turns = meaning.unit, meaning.turns
    if unit == "deg":
        kinds = [("f32", 1.0), ("i32", 0.001), ("i32", 0.01), ("i16", _HALF_TURN), ("i16", 0.1)]
        kinds += [("u16", 0.01), ("u16", 0.1)] if turns else [("i16", 0.01)] * 5
        return draws.one_of(kinds)
    if unit == "rad":
        return draws.one_of([("f32", 1.0), ("i16", 0.001), ("i32", 0.0001)])
    if unit == "percent":
        return draws.one_of([("f32", 1.0), ("i16", 0.1), ("i32", 0.01)])
    if unit == "mm/m":
        return draws.one_of([("f32", 1.0), ("i16", 1.0), ("i32", 0.1)])
    if unit == "mg":
        return draws.one_of([("i16", 1.0), ("i32", 0.1), ("f32", 1.0)])
    if unit == "g":
        return draws.one_of([("i16", 1.0 / 16384.0), ("i16", 1.0 / 4096.0), ("f32", 1.0)])
    return draws.one_of([("f32", 1.0), ("i16", 0.01)])


def drawn(draws: Draws, meaning: Meaning, others: tuple[str, ...], *, framed: bool) -> BinaryForm:
    """Draw how this level packs its samples; framed: with sync and check."""
    kind, step = _tilt(draws, meaning)
    tilt = [Number(name, kind, step) for name in meaning.roles]
    cut = int(draws.unit() * (len(others) + 1))
    beside = [Number(name, *_OTHERS[name]) for name in others]
    numbers = (*beside[:cut], *tilt, *beside[cut:])
    order: Order = draws.one_of(("little", "big"))
    if not framed:
        return BinaryForm(numbers, order)
    sync = bytes.fromhex(draws.one_of(_SYNCS))
    length: Literal["", "payload", "payload+check", "frame"]
    length = draws.one_of(("", "", "payload", "payload+check", "frame"))
    starts: tuple[Literal["sync", "length", "payload"], ...] = ("sync", "payload")
    name = draws.one_of(NAMES)
    if len(sync) >= _FEWEST_WITHOUT_CHECK and draws.chance(0.5):
        name = ""
    return BinaryForm(
        numbers,
        order,
        sync,
        length,
        name,
        draws.one_of((*starts, "length") if length else starts),
        draws.one_of(("little", "big")),
    )
