"""How a stranger writes numbers into lines of text."""

from dataclasses import dataclass

from simulator.draws import Draws
from simulator.strangers.checks import check, size
from simulator.strangers.meaning import Meaning, Unit

DECIMALS: dict[Unit, tuple[int, ...]] = {
    "deg": (1, 2, 2, 3),
    "rad": (4, 5),
    "percent": (1, 2),
    "mm/m": (0, 1, 2),
    "g": (4,),
    "mg": (0, 1),
    "m/s2": (3,),
}
_UNITS: dict[Unit, tuple[str, ...]] = {
    "deg": ("\N{DEGREE SIGN}", " deg"),
    "rad": (" rad",),
    "percent": ("%",),
    "mm/m": (" mm/m",),
    "g": ("g",),
    "mg": (" mg",),
    "m/s2": (" m/s2",),
}
_OTHER_DECIMALS = {"temperature": 1, "heading": 1}
_LABELS = {
    "angle": ("A", "TILT", "Inc"),
    "second": ("B", "CROSS", "Lat"),
    "roll": ("R", "ROLL", "Qx"),
    "pitch": ("P", "PITCH", "Qy"),
    "ax": ("X", "GX", "ux"),
    "ay": ("Y", "GY", "uy"),
    "az": ("Z", "GZ", "uz"),
    "temperature": ("T", "TEMP", "Tc"),
    "battery": ("V", "BAT", "Bt"),
    "counter": ("N", "SEQ", "No"),
    "clock": ("C", "MS", "Tk"),
    "heading": ("H", "HDG", "Az"),
    "state": ("S", "STAT", "Fl"),
    "spare": ("Q", "SPARE", "Zz"),
}


@dataclass(frozen=True, slots=True)
class TextForm:
    """One way to write lines.

    Attributes:
        names: the numbers, in their order.
        scaled: angles are whole numbers of this many to the unit; 0: with decimals.
        digits: hexadecimal digits of every number, 0: decimal.
    """

    names: tuple[str, ...]
    decimals: int
    separator: str = ","
    end: str = "\r\n"
    begins: str = ""
    labels: int | None = None
    unit: str = ""
    plus: bool = False
    width: int = 0
    comma: bool = False
    check: str = ""
    scaled: int = 0
    digits: int = 0
    chatter: float = 0.0

    def line(self, numbers: dict[str, float], tilt: tuple[str, ...], draws: Draws) -> bytes:
        """Return what is sent for one sample, sometimes with another line in front."""
        body = self.begins + self.separator.join(
            self._item(name, numbers[name], tilts=name in tilt) for name in self.names
        )
        if self.check:
            value = check(self.check, body.lstrip("$").encode("utf-8"))
            body += f"*{value:0{2 * size(self.check)}X}"
        first = f"# on{self.end}" if draws.chance(self.chatter) else ""
        return (first + body + self.end).encode("utf-8")

    def _item(self, name: str, value: float, *, tilts: bool) -> str:
        label = "" if self.labels is None else _LABELS[name][self.labels] + "="
        return label + (self._tilt(value) if tilts else self._other(name, value))

    def _tilt(self, value: float) -> str:
        if self.digits:
            return f"{round(value * self.scaled) & (1 << 4 * self.digits) - 1:0{self.digits}X}"
        if self.scaled:
            return f"{round(value * self.scaled):{'+' if self.plus else ''}d}"
        text = f"{value:{'+' if self.plus else ''}0{self.width or ''}.{self.decimals}f}"
        return (text.replace(".", ",") if self.comma else text) + self.unit

    def _other(self, name: str, value: float) -> str:
        if self.digits:
            whole = round(value * 10.0) if name == "temperature" else round(value)
            return f"{whole & (1 << 4 * self.digits) - 1:0{self.digits}X}"
        text = f"{value:.{_OTHER_DECIMALS.get(name, 0)}f}"
        return text.replace(".", ",") if self.comma else text


def drawn(draws: Draws, meaning: Meaning, others: tuple[str, ...]) -> TextForm:
    """Draw how this level writes its lines."""
    names = _shuffled((*meaning.roles, *others), draws, len(meaning.roles))
    comma = draws.chance(0.15)
    hexadecimal = meaning.unit in {"deg", "mg"} and draws.chance(0.1)
    scaled = 0
    if hexadecimal:
        scaled = 1 if meaning.unit == "mg" else 10 if meaning.turns else 100
    elif meaning.unit == "deg" and draws.chance(0.15):
        scaled = draws.one_of((10, 100, 1000))
    separators = (";", " ", "\t") if comma else (",", ",", ";", " ", "\t")
    plain = not (hexadecimal or scaled)
    return TextForm(
        names=names,
        decimals=draws.one_of(DECIMALS[meaning.unit]),
        separator=draws.one_of(separators),
        end=draws.one_of(("\r\n", "\r\n", "\n", "\r", "|", "\x03")),
        begins=draws.one_of(("", "", "$LVA,", "$ZQ7,", "@")),
        labels=draws.one_of((None, None, 0, 1, 2)),
        unit=draws.one_of(_UNITS[meaning.unit]) if plain and draws.chance(0.25) else "",
        plus=draws.chance(0.3),
        width=draws.one_of((0, 0, 8)),
        comma=comma,
        check=draws.one_of(("xor8", "sum8", "CRC-8/SMBUS", "CRC-16/XMODEM"))
        if draws.chance(0.35)
        else "",
        scaled=scaled,
        digits=4 if hexadecimal else 0,
        chatter=0.01 if draws.chance(0.2) else 0.0,
    )


def _shuffled(names: tuple[str, ...], draws: Draws, together: int) -> tuple[str, ...]:
    """The tilt's numbers stay side by side; what is beside them may come first."""
    tilt, others = names[:together], list(names[together:])
    cut = int(draws.unit() * (len(others) + 1))
    return (*others[:cut], *tilt, *others[cut:])
