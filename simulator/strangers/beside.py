"""What levels send beside the tilt: temperature, battery, counters, a clock, a compass, a state."""

import math
from dataclasses import dataclass, field
from typing import Literal

from simulator.draws import Draws
from simulator.strangers.poses import Pose

Beside = Literal["temperature", "battery", "counter", "clock", "heading", "state", "spare"]


@dataclass(slots=True)
class Others:
    """The numbers beside the tilt of one level, by name.

    temperature in degrees Celsius, battery in percent, clock in milliseconds, heading in degrees.
    """

    names: tuple[Beside, ...]
    draws: Draws
    count: int = 0
    first: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Draw where they begin."""
        self.first = {
            "temperature": self.draws.between(12.0, 31.0),
            "battery": float(int(self.draws.between(30.0, 100.0))),
            "counter": float(int(self.draws.between(0.0, 200.0))),
            "clock": float(int(self.draws.between(0.0, 5e6))),
            "state": float(int(self.draws.between(0.0, 8.0))),
        }

    def numbers(self, t_s: float, pose: Pose) -> dict[str, float]:
        """Return them now."""
        self.count += 1
        now = {
            "temperature": self.first["temperature"]
            + 0.6 * (1.0 - math.exp(-t_s / 90.0))
            + self.draws.normal(0.03),
            "battery": self.first["battery"] - (t_s > 50.0),
            "counter": self.first["counter"] + self.count,
            "clock": self.first["clock"] + round(1000.0 * t_s),
            "heading": (pose.heading_deg + 73.0 + self.draws.normal(0.5)) % 360.0,
            "state": self.first["state"],
            "spare": 0.0,
        }
        return {name: now[name] for name in self.names}
