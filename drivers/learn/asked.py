"""What goes into learning a format, and what comes out."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Motion = Literal["still", "tilt", "turned", "side", "known", "held"]
"""What a person was asked to do with the level, one end of which is marked:

- still: it lies flat and is not touched
- tilt: the marked end is raised slowly by about `deg`, and lowered again; negative: the other end
- turned: it is laid end for end on the same place
- side: the marked end is raised by about 30, then the level is rolled onto its right side (the
  marked end pointing away), held there, rolled back and laid down
- known: it lies on a surface that is known to slope by `deg`, the marked end up
- held: it is held by hand at about `deg`, by eye: it proves no scale
"""

Link = Literal["serial", "ble-notify"]


@dataclass(frozen=True, slots=True)
class Mark:
    """One motion: nanoseconds from when to when it was asked, which, and how far (degrees)."""

    start_ns: int
    end_ns: int
    motion: Motion
    deg: float | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """A recording of an unknown level: nanoseconds and bytes as they arrived, and by which way.

    baud: of a serial line, as it was found. service_uuid, characteristic_uuid: of notifications.
    """

    chunks: Sequence[tuple[int, bytes]]
    link: Link = "serial"
    baud: int = 9600
    service_uuid: str = ""
    characteristic_uuid: str = ""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One explanation of the bytes.

    Attributes:
        profile: a whole profile as commented TOML.
        says: what it takes the bytes for, in a line.
        convention, unit, scale: as the profile has them.
        unverified: what of it was not proven, in sentences.
        noise_deg: standard deviation of one sample at rest.
        rate_hz: samples a second; 0 of a level that sends only on a change, whose noise is not known.
        resolution_deg: smallest step it sends.
        fit: logarithm of how likely it is, for ranking; only differences mean anything.
    """

    profile: str
    says: str
    convention: str
    unit: str
    scale: float
    unverified: tuple[str, ...]
    noise_deg: float
    rate_hz: float
    resolution_deg: float
    fit: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was learned.

    Attributes:
        candidates: best first; more than one where several explanations still fit.
        certain: one explanation is left, and nothing of it is unverified.
        ask: the one motion that tells more; None where none would.
        not_found_why: why there is no candidate, "" where there is one.
    """

    candidates: tuple[Candidate, ...]
    certain: bool
    ask: Mark | None
    not_found_why: str = ""


def asking(motion: Motion, deg: float | None = None) -> Mark:
    """Return a motion that is still to be made."""
    return Mark(0, 0, motion, deg)
