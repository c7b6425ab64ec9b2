"""Torque: units, and what to dial on a wrench that carries an adapter.

Units: NIST SP 811 (2008), appendix B.8: one pound-force inch is 0.112 984 829 027 616 7 newton
metre exactly (0.0254 m times 0.453 592 37 kg times 9.806 65 m/s2), one pound-force foot is twelve
of them. Adapter: FAA AC 43.13-1B, paragraph 7-40 and figure 7-2. What a wrench really put into a
bolt nobody can know from its setting: friction decides.
"""

import math
from typing import Literal

Unit = Literal["N.m", "lbf.in", "lbf.ft"]
LBF_IN_NM = 0.0254 * 0.45359237 * 9.80665
NEWTON_METRES: dict[Unit, float] = {"N.m": 1.0, "lbf.in": LBF_IN_NM, "lbf.ft": 12.0 * LBF_IN_NM}
"""One of each unit in newton metres."""
SAID: dict[Unit, str] = {"N.m": "N·m", "lbf.in": "lbf·in", "lbf.ft": "lbf·ft"}
"""How each unit is written for people."""


def converted(value: float, unit: Unit, into: Unit) -> float:
    """Return a torque in another unit."""
    return value if unit == into else value * NEWTON_METRES[unit] / NEWTON_METRES[into]


def reach(length: float, adapter: float, angle_deg: float) -> float:
    """Return how far the bolt is from the wrench's grip, along the wrench: L + A cos(alpha).

    length: of the wrench from its drive to the mark on its grip; adapter: from the drive to the
    bolt, in the same unit; angle_deg: of the adapter against the wrench, 0 in line and pointing
    away from the grip, 180 pointing back.
    """
    return length + adapter * _cos(angle_deg)


def dialled(at_bolt: float, length: float, adapter: float, angle_deg: float = 0.0) -> float:
    """Return the setting of the wrench that puts a torque into the bolt: T L / (L + A cos(alpha)).

    The torque keeps its unit; lengths as in `reach`. An adapter square to the wrench changes
    nothing.

    Raises:
        ValueError: the adapter points back as far as the grip, so no setting gives this torque.
    """
    arm = reach(length, adapter, angle_deg)
    if not arm > 0.0:
        raise ValueError("the adapter points back as far as the grip or farther")
    return at_bolt * length / arm


def _cos(angle_deg: float) -> float:
    """Cosine that is 0 at a right angle, where an adapter must change nothing at all."""
    return 0.0 if angle_deg % 180.0 == 90.0 else math.cos(math.radians(angle_deg))
