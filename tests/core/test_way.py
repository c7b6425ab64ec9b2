"""From what a level tells to the next step: what counts for nothing, and whose word is whose."""

from functools import reduce
from typing import Any

from shared.events import Asked, Captured
from shared.inputs import Bytes, Link
from tests.daemon.bench import LEVEL, PERIOD_NS, header
from tests.workflow.jobs import HUB, ONE_EACH, Crew, of_the_hub

BUTTONED: dict[str, Any] = {
    **LEVEL,
    "settings": {
        **LEVEL["settings"],
        "fields": {"angle": {"source": "BLADE"}, "button": {"source": "KEY", "unit": "1"}},
    },
}


def press_its_button(crew: Crew, angle_deg: float) -> None:
    """One sample in which the level says that its own button was pressed."""
    crew.t_ns += PERIOD_NS
    body = f"IIXDR,A,{angle_deg:.2f},D,BLADE,U,1,,KEY".encode()
    check = reduce(lambda a, b: a ^ b, body, 0)
    crew.put(Bytes("chord", 0, b"$%s*%02X\r\n" % (body, check), crew.t_ns))


def at_the_bolts(**tables: Any) -> Crew:
    """Return a crew that is asked to snug the bolts."""
    crew = Crew(header(plan={**ONE_EACH, "rounds": ["check", "snug"]}, **tables))
    crew.up_to_round()
    crew.on_blade(1)
    crew.on_blade(2, 20.05)
    assert crew.step() == ("tighten", None)
    return crew


def test_the_levels_own_button_takes_a_reading_where_one_is_wanted_and_none_at_the_bolts() -> None:
    crew = at_the_bolts(level=[BUTTONED])
    before = len(crew.said(Captured))
    crew.lay(17.0, 60)
    press_its_button(crew, 17.0)
    crew.lay(17.0, 20)
    assert len(crew.said(Captured)) == before
    assert crew.step() == ("tighten", None)
    crew.press("done")
    crew.carry(30)
    crew.lay(-3.0, 60)
    press_its_button(crew, -3.0)
    assert [one.by for one in crew.said(Captured)[before:]] == ["button"]


def test_a_blade_named_out_of_turn_is_so_for_one_reading() -> None:
    crew = Crew(header(plan={**ONE_EACH, "rounds": ["check", "snug"]}))
    crew.up_to_round()
    assert crew.press("name", blade=2).result == "done"
    assert crew.step() == ("check", 2)
    crew.on_blade(2, 20.05)
    assert crew.step() == ("check", 1)
    crew.on_blade(1)
    assert crew.press("done").result == "done"
    crew.on_hub_face()
    assert crew.step() == ("snug", 1)


def with_a_witness(**plan: Any) -> Crew:
    """Return a crew after the reference, with a level taped to the hub."""
    crew = Crew(header(level=[LEVEL, HUB], plan={**ONE_EACH, **plan}))
    crew.put(Link("hub", "up", t_ns=crew.t_ns + 1))
    crew.beside["hub"] = lambda: of_the_hub(crew)
    crew.press("done")
    crew.on_hub_face()
    return crew


def test_while_blades_are_set_a_witness_sends_nobody_back_to_one_that_is_set() -> None:
    """What stands there is held: to read it again is no answer to the step, and is asked about."""
    crew = with_a_witness()
    for _ in range(2):
        crew.on_blade(1)
    assert crew.step() == ("set", 2)
    before = len(crew.said(Captured))
    crew.on_blade(1)
    assert len(crew.said(Captured)) == before
    assert crew.step() == ("set", 2)
    assert [one.blade for one in crew.said(Asked)] == [2]
