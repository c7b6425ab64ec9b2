"""What a codec makes of bytes: samples, named by the role of each number."""

from collections import Counter
from dataclasses import dataclass
from typing import Literal, Protocol

Role = Literal[
    "angle",  # planar or projection levels: the one angle, degrees
    "roll",
    "pitch",  # roll-pitch levels, degrees
    "ax",
    "ay",
    "az",  # vector levels, in units of standard gravity
    "temperature",  # degrees Celsius
    "battery",  # percent
    "signal",  # received signal strength, dBm
    "sequence",  # the sender's own counter
    "button",  # 1 when the level's own button was pressed
    "mode",  # the level's own mode number: relative, held, ...
]


@dataclass(slots=True)
class Sample:
    """One complete message of a level.

    Attributes:
        values: number by role, already scaled to the unit of the role. Never NaN or infinite.
    """

    values: dict[str, float]


class Codec(Protocol):
    """Bytes in, samples out, nothing else: no clock, no wait, no I/O.

    Any chunking of the same bytes on a channel gives the same samples in the same order.
    """

    refused: Counter[str]
    """How many frames were not turned into samples, by reason ("checksum", "format", ...)."""

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one transport chunk; return the samples it completed, oldest first.

        Never raises for any bytes: what cannot be read is counted in `refused`.
        """
        ...

    def reset(self) -> None:
        """Forget half-received frames (the link went down). Counts are kept."""
        ...
