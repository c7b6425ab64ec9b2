"""A level that sends lines of text, in the many ways people have written them."""

from dataclasses import dataclass

from shared.samples import Role


@dataclass(frozen=True, slots=True)
class TextStyle:
    """How a level writes a line.

    template: with `{role}` for each number, e.g. "X={roll}, Y={pitch}".
    """

    template: str = "{angle}"
    digits: int = 2
    plus: bool = False
    decimal_comma: bool = False
    end: str = "\r\n"
    encoding: str = "utf-8"


class TextLine:
    """Writes one line a sample, on channel 0."""

    def __init__(self, style: TextStyle) -> None:
        self._style = style

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the line of one sample."""
        numbers = {role: self._number(value) for role, value in values.items()}
        line = self._style.template.format(**numbers) + self._style.end
        return [(0, line.encode(self._style.encoding))]

    def _number(self, value: float) -> str:
        sign = "+" if self._style.plus else "-"
        text = f"{value:{sign}.{self._style.digits}f}"
        return text.replace(".", ",") if self._style.decimal_comma else text
