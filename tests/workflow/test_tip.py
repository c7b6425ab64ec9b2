"""Where the level knows how far the blade's tip stands from horizontal, the person is told, until within 1."""

import math
import re
from functools import reduce

import pytest

from shared.events import Asked
from shared.inputs import Bytes, Link
from tests.daemon.bench import LEVEL, PERIOD_NS, Person, header
from tests.workflow.jobs import HUB, Crew, of_the_hub

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
    [
        (1.8, "tip 1.8 high"),
        (-1.8, "tip 1.8 low"),
        (1.2, "tip 1.2 high"),
        (28.0, "tip 28.0 high"),
        (33.0, ""),
        (0.6, ""),
        (-0.9, ""),
    ],
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


def test_how_far_the_tip_stands_comes_after_how_far_the_angle_is_off() -> None:
    person = Tilted(header(level=[VECTOR], plan=PLAN))
    person.press("done")
    person.read(-3.0)
    person.carry()
    person.up_deg = 1.8
    person.lay(15.0, 14)
    assert re.match(r"2\.0.*; tip 1\.8 high$", person.engine.view().live.words)


@pytest.mark.parametrize(("up_deg", "said"), [(-2.0, "tip 2.0 high"), (2.0, "tip 2.0 low")])
def test_a_level_turned_end_for_end_sees_the_tip_on_its_other_side(
    up_deg: float, said: str
) -> None:
    person = Tilted(header(level=[VECTOR], plan=PLAN))
    person.press("done")
    person.read(-3.0)
    person.read(-17.0)  # it lies the other way round
    question = person.said(Asked)[-1]
    person.press("confirm", id=question.id, sense="reversed")
    person.carry()
    person.up_deg = up_deg
    person.lay(-17.0, 14)
    assert person.engine.view().live.words.endswith(said)


@pytest.mark.parametrize("sense", ["normal", "reversed"])
@pytest.mark.parametrize(("psi", "said"), [(3.0, "tip 3.0 high"), (-3.0, "tip 3.0 low")])
def test_a_witness_sees_the_tip_whichever_way_the_level_lies(
    sense: str, psi: float, said: str
) -> None:
    crew = Crew(header(level=[LEVEL, HUB], plan=PLAN))
    crew.put(Link("hub", "up", t_ns=crew.t_ns + 1))
    crew.beside["hub"] = lambda: of_the_hub(crew)
    crew.press("done")
    crew.on_hub_face()
    shown = 17.0
    if sense == "reversed":
        shown = -17.0
        crew.read(shown)
        crew.press("confirm", id=crew.said(Asked)[-1].id, sense="reversed")
    else:
        crew.read(shown)
    crew.turned = psi
    crew.carry(20)
    crew.lay(shown, 30)
    assert crew.step()[1] == 1
    assert crew.engine.view().live.words.endswith(said)


def test_nothing_is_told_of_the_hub_face_nor_in_a_hand_nor_once_it_is_taken() -> None:
    person = Tilted(header(level=[VECTOR], plan=PLAN))
    person.press("done")
    person.up_deg = 5.0
    person.carry()
    assert "tip" not in person.engine.view().live.words
    person.lay(-3.0, 14)
    assert "tip" not in person.engine.view().live.words
