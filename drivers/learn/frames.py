"""Frames of a recording, their numbers as columns, and how a profile would say where these stand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from drivers.learn.stream import Floats

FEWEST = 20
"""Frames under which nothing is looked for."""
CHECKED = 50
"""Frames under which a checksum is not claimed: its agreement may be chance."""


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One number of every frame.

    Attributes:
        values: in the order of the frames.
        kind: as in a layout ("i16"), "text" for decimal digits, "hex" for others.
        start, size: first byte and bytes of it; of text, which number it is, and 1.
        order: byte order where it matters, else "".
        step: the last digit.
        label: what stands in front of it, "" = nothing.
        unit: what is written behind it, "" = nothing.
    """

    values: Floats
    kind: str
    start: int
    size: int
    order: str = ""
    step: float = 1.0
    label: str = ""
    unit: str = ""

    def overlaps(self, other: "Column") -> bool:
        """They have a byte in common."""
        return self.start < other.start + other.size and other.start < self.start + self.size


class Form(Protocol):
    """How frames of one kind would be written down as `[format]`."""

    def tables(self, fields: Mapping[str, Column]) -> tuple[str, dict[str, Any], dict[str, str]]:
        """Return codec, its options, and the source of each field by role."""
        ...


@dataclass(frozen=True, slots=True)
class Frames:
    """What one way to cut the stream makes of it.

    Attributes:
        raw: the bytes of each frame, ends and checks included.
        checked: frames whose check agreed; 0 where there is no check.
        says: the framing in words.
        part: these are some of frames that are tried whole as well; only where that finds nothing
            does what is found here count.
        on_change: it sends only on a change; what it sent last stands here again at even times.
    """

    times_s: Floats
    raw: Sequence[bytes]
    columns: Sequence[Column]
    form: Form
    says: str
    check: str = ""
    checked: int = 0
    damaged: int = 0
    part: bool = False
    on_change: bool = False
