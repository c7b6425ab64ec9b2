"""A level that talks NMEA 0183: transducer measurements (XDR), among what else it says.

Sentence form and checksum (exclusive or of all between $ and *) as NMEA 0183 has them.
"""

import math

from shared.samples import Role
from simulator.draws import Draws

TYPES: dict[Role, tuple[str, str]] = {
    "angle": ("A", "D"),
    "roll": ("A", "D"),
    "pitch": ("A", "D"),
    "temperature": ("C", "C"),
    "battery": ("U", "P"),
}
"""XDR transducer type and unit by role; all else is generic (G, no unit)."""


def sentence(body: str) -> bytes:
    """Frame a sentence's body: $body*hh and line end."""
    checksum = 0
    for byte in body.encode("ascii"):
        checksum ^= byte
    return f"${body}*{checksum:02X}\r\n".encode("ascii")


class NmeaXdr:
    """Writes one XDR sentence a sample; other groups and sentences are mixed in at times.

    Args:
        sources: transducer name by role, as the profile's fields have them.
        resolution_deg: step of the numbers sent; sets the digits after the point.
        draws: chance, for what is mixed in.
    """

    def __init__(self, sources: dict[Role, str], resolution_deg: float, draws: Draws) -> None:
        self._sources = sources
        self._digits = max(0, math.ceil(-math.log10(resolution_deg) - 1e-9))
        self._draws = draws

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the sentences of one sample, all on channel 0."""
        groups = [self._group(role, value) for role, value in values.items()]
        if self._draws.chance(0.04):
            groups.insert(0, "C,21.5,C,CASE")
        if self._draws.chance(0.02):
            groups.append("A,,D,SPARE")
        lines = [sentence("IIXDR," + ",".join(groups))]
        if self._draws.chance(0.03):
            lines.insert(0, sentence("IITXT,01,01,02,LEVEL ALIVE"))
        return [(0, line) for line in lines]

    def _group(self, role: Role, value: float) -> str:
        kind, unit = TYPES.get(role, ("G", ""))
        digits = self._digits if kind == "A" else 5
        return f"{kind},{value:.{digits}f},{unit},{self._sources[role]}"
