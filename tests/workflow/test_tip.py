"""Where the level knows how far the blade's tip stands from horizontal, the person is told, until within 1."""

import math
from functools import reduce

import pytest

from shared.inputs import Bytes
from tests.daemon.bench import LEVEL, PERIOD_NS, Person, header

VECTOR = {
    **LEVEL,
    "settings": {
        "convention": "vector",
        "fields": {role: {"source": role.upper(), "unit": "g"} for role in ("ax", "ay", "az")},
        "noise": {"sd_deg": 0.02, "n": 1000},
        "seating": {"u_deg": 0.02, "n": 40},
    },
}
PLAN = {"rounds": ["check"], "reference_placements": 1, "baseline_placements": 1}


class Tilted(Person):
    """A level of three axes; the span rises towards the tip by `up_deg`."""

    up_deg = 0.0

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        self.t_ns += PERIOD_NS
        tilt = math.radians(angle_deg + noise_deg * self._random.gauss(0.0, 1.0))
        up = math.radians(self.up_deg)
        axes = {
            "AX": math.cos(up) * math.cos(tilt),
            "AY": math.sin(up),
            "AZ": -math.cos(up) * math.sin(tilt),
        }
        body = "IIXDR," + ",".join(f"G,{value:.6f},G,{name}" for name, value in axes.items())
        check = reduce(lambda a, b: a ^ b, body.encode(), 0)
        self.put(Bytes("chord", 0, b"$%s*%02X\r\n" % (body.encode(), check), self.t_ns))


@pytest.mark.parametrize(
    ("up_deg", "said"),
    [(1.8, "tip 1.8 high"), (-1.8, "tip 1.8 low"), (0.6, ""), (-0.9, "")],
)
def test_a_tip_that_stands_high_or_low_is_told(up_deg: float, said: str) -> None:
    person = Tilted(header(level=[VECTOR], plan=PLAN))
    person.press("done")
    person.read(-3.0)
    assert person.step() == ("set", 1)
    person.carry()
    person.up_deg = up_deg
    person.lay(15.0, 14)
    words = person.engine.view().live.words
    assert words.partition("; ")[2] == said
    assert words.startswith("2.0")


def test_nothing_is_told_of_the_hub_face_nor_in_a_hand_nor_once_it_is_taken() -> None:
    person = Tilted(header(level=[VECTOR], plan=PLAN))
    person.press("done")
    person.up_deg = 5.0
    person.carry()
    assert "tip" not in person.engine.view().live.words
    person.lay(-3.0, 14)
    assert "tip" not in person.engine.view().live.words
