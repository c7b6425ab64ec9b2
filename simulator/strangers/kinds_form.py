"""How a stranger sends frames or lines of several kinds in one stream: the tilt in one of them."""

from dataclasses import dataclass, replace

from simulator.draws import Draws
from simulator.strangers.binary_form import BinaryForm, Number
from simulator.strangers.checks import check, size

_KIND_OF = {"temperature": "TMP", "battery": "BAT", "counter": "CNT", "clock": "CLK"}


@dataclass(frozen=True, slots=True)
class LineKinds:
    """A line for the tilt, and one for each other number; each begins with its kind.

    Attributes:
        begins: of the tilt's lines.
    """

    begins: str
    tilt: tuple[str, ...]
    others: tuple[str, ...]
    decimals: int
    check: str = ""

    def frame(self, numbers: dict[str, float]) -> bytes:
        """Return the lines of one sample."""
        tilt = ",".join(f"{numbers[name]:.{self.decimals}f}" for name in self.tilt)
        lines = [f"{self.begins}{tilt}"]
        lines += [f"${_KIND_OF[name]},{numbers[name]:.0f}" for name in self.others]
        return "".join(self._whole(line) for line in lines).encode("ascii")

    def _whole(self, line: str) -> str:
        if not self.check:
            return f"{line}\r\n"
        value = check(self.check, line.lstrip("$").encode("ascii"))
        return f"{line}*{value:0{2 * size(self.check)}X}\r\n"


@dataclass(frozen=True, slots=True)
class FrameKinds:
    """A frame for the tilt, and one for the other numbers; behind sync and length stands the kind.

    Attributes:
        form: of the tilt's frame.
        other: of the other frame, in which nothing changes.
        kinds: the byte of the tilt's, and of the other.
    """

    form: BinaryForm
    other: BinaryForm
    kinds: tuple[int, int]

    def frame(self, numbers: dict[str, float]) -> bytes:
        """Return the frames of one sample."""
        beside = {one.name: 20.0 + place for place, one in enumerate(self.other.numbers)}
        first, second = ({"kind": float(kind)} for kind in self.kinds)
        return self.form.frame(numbers | first) + self.other.frame(beside | second)


def lines(draws: Draws, tilt: tuple[str, ...], decimals: int) -> LineKinds:
    """Draw lines of two to four kinds."""
    others = tuple(name for name in _KIND_OF if draws.chance(0.5))
    return LineKinds(
        draws.one_of(("$TIL,", "$LVL,", "A:")),
        tilt,
        others or ("battery",),
        max(1, decimals),
        draws.one_of(("", "xor8", "CRC-16/XMODEM")),
    )


def frames(draws: Draws, form: BinaryForm) -> FrameKinds:
    """Draw a frame beside that of a form: as long, or of another length where a length is sent."""
    kind = Number("kind", "u8", 1.0)
    checked = replace(
        form,
        numbers=(kind, *form.numbers),
        check=form.check or "CRC-16/KERMIT",
        length=draws.one_of(("payload", "payload+check", "frame")) if draws.chance(0.7) else "",
    )
    if not checked.length and checked.check_from == "length":
        checked = replace(checked, check_from="payload")
    packed = len(form.frame({one.name: 0.0 for one in form.numbers}))
    bare = packed - len(form.sync) - bool(form.length) - (size(form.check) if form.check else 0)
    beside = ("u8",) * (bare if not checked.length else draws.one_of((1, 3, 6)))
    spare = tuple(Number(f"spare{place}", each, 1.0) for place, each in enumerate(beside))
    first = draws.one_of((1, 0x21, 0x53, 0xA0))
    return FrameKinds(checked, replace(checked, numbers=(kind, *spare)), (first, first + 1))
