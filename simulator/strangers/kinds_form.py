"""How a stranger sends lines of several kinds in one stream: the tilt in one of them."""

from dataclasses import dataclass

from simulator.draws import Draws
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
