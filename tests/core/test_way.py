"""From what a level tells to the next step: what counts for nothing, and whose word is whose."""

import math
from dataclasses import replace
from functools import reduce
from typing import Any

import pytest

from daemon.core.way import Way
from daemon.measure.stream.facts import Crept, InHand, Rested, Still
from daemon.workflow.agreement import own_u
from daemon.workflow.ledger import Entry
from daemon.workflow.takings import Taking
from shared.events import Asked, Body, Captured, Noted
from shared.inputs import NS, Bytes, Link
from tests.daemon.bench import LEVEL, PERIOD_NS, header
from tests.workflow.jobs import HUB, ON_CHANGE, ONE_EACH, Crew, of_the_hub

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


def test_in_a_round_the_blade_is_read_that_a_witness_sees_level() -> None:
    """Whatever the step was of, with the press that was meant for what lies there."""
    crew = with_a_witness()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    crew.on_hub_face()
    assert crew.step() == ("check", 1)
    before = len(crew.said(Captured))
    crew.on_blade(2)
    assert [(one.blade, one.by) for one in crew.said(Captured)[before:]] == [(2, "press")]
    assert crew.said(Asked) == []
    assert crew.step() == ("check", 1)


def test_a_press_before_the_level_rests_holds_for_the_blade_that_a_witness_sees_level() -> None:
    crew = with_a_witness()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    crew.on_hub_face()
    before = len(crew.said(Captured))
    crew.turned = 180.0
    crew.carry(30)
    crew.press("take")
    assert crew.step() == ("check", 1)
    crew.lay(17.05, 14)
    assert [(one.blade, one.by) for one in crew.said(Captured)[before:]] == [(2, "press")]


def test_a_witness_sends_to_whatever_the_step_lacks_of_the_blade_it_sees_level() -> None:
    """One more placement that was asked for; a blade that is to be set; and of neither none twice."""
    crew = with_a_witness(rounds=["check"])
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    crew.on_hub_face()
    crew.on_blade(2)
    for blade in (2, 1):
        assert crew.press("again", blade=blade).result == "done"
    assert crew.step() == ("check", 1)
    before = len(crew.said(Captured))
    crew.on_blade(2)
    assert [one.blade for one in crew.said(Captured)[before:]] == [2]
    for blade in (1, 2):
        assert crew.press("set", blade=blade).result == "done"
    assert crew.step() == ("set", 1)
    crew.on_blade(2)
    assert [(one.blade, one.stage) for one in crew.said(Captured)[before + 1 :]] == [(2, "set")]
    assert crew.step() == ("baseline", 2)
    crew.on_blade(1)
    assert [(one.blade, one.reading_deg) for one in crew.said(Asked)] == [(2, 0.0)]
    assert crew.step() == ("baseline", 2)


def test_as_found_a_witness_sends_nobody_back_to_a_blade_that_was_read() -> None:
    """As found each is read once; which blade stands level it knows since the first."""
    crew = with_a_witness(as_found=True)
    crew.on_blade(1)
    assert crew.step() == ("found", 2)
    before = len(crew.said(Captured))
    crew.on_blade(1)
    assert len(crew.said(Captured)) == before
    assert [one.blade for one in crew.said(Asked)] == [2]
    crew.on_blade(2)
    assert [one.blade for one in crew.said(Captured)[before:]] == [2]
    assert crew.step() == ("set", 1)


def after_a_gap(after_s: float, **changes: Any) -> Taking:
    """The level of a crew that set blade 1, and heard nothing of it for a while."""
    head = header(plan=ONE_EACH).model_copy(update=changes)
    crew = Crew(head)
    crew.press("done")
    crew.on_hub_face()
    crew.on_blade(1)
    assert crew.step() == ("baseline", 1)
    way, now_ns = crew.engine._way, crew.t_ns + 10**9
    taking = way.case.takings.get("chord")
    assert taking is not None
    way.hear(InHand("chord", unseen=True), now_ns)
    way.hear(Rested("chord", taking.taken + 1, after_s), now_ns)
    return taking


@pytest.mark.parametrize(("rules", "fresh"), [(8, True), (9, False)])
def test_since_rules_9_a_gap_is_no_lift(rules: int, fresh: bool) -> None:
    assert after_a_gap(1.0, rules=rules).free == fresh


@pytest.mark.parametrize(("after_s", "fresh"), [(1.75, False), (1.76, True), (math.inf, True)])
def test_what_rests_as_soon_as_it_is_heard_again_lay_there_all_the_while(
    after_s: float, fresh: bool
) -> None:
    """It is known to rest after 1 to 1.5 s: nobody lifted it and laid it down again in a quarter."""
    assert after_a_gap(after_s).free == fresh


def test_a_step_is_as_old_as_what_brought_it_about() -> None:
    """Nothing was heard for long: what is read first after a break is asked for now."""
    crew = at_the_bolts()
    crew.t_ns += 45 * 60 * NS
    assert crew.press("note", text="back again").result == "done"
    assert crew.step()[0] == "look"
    assert crew.engine.view().step_ns == crew.t_ns


@pytest.mark.parametrize(("rules", "first"), [(5, "set"), (6, "look")])
def test_since_rules_6_what_is_held_is_read_first_after_a_break(rules: int, first: str) -> None:
    crew = Crew(header(plan=ONE_EACH).model_copy(update={"rules": rules}))
    crew.press("done")
    crew.on_hub_face()
    for _ in range(2):
        crew.on_blade(1)
    assert crew.step() == ("set", 2)
    crew.t_ns += 45 * 60 * NS
    crew.press("note", text="back again")
    assert crew.step()[0] == first


def test_what_has_lain_there_over_a_break_gives_no_reading_after_it() -> None:
    """Nobody knows what was done to it meanwhile: it is laid there anew."""
    crew = at_the_bolts()
    crew.carry(30)
    crew.lay(-3.0, 30)
    crew.t_ns += 45 * 60 * NS
    answer = crew.press("done")
    assert (answer.result, crew.step()) == ("stale", ("look", "reference"))
    before = len(crew.said(Captured))
    refused = crew.press("take")
    assert (refused.result, len(crew.said(Captured))) == ("refused", before)
    crew.on_hub_face()
    assert [one.blade for one in crew.said(Captured)[before:]] == ["reference"]


def test_a_press_after_a_break_takes_nothing_that_has_lain_there_since_before() -> None:
    """A level that speaks only when its number changes has said nothing meanwhile."""
    crew = Crew(header(level=[ON_CHANGE], plan=ONE_EACH), only_changes=True)
    crew.press("done")
    crew.on_hub_face()
    for _ in range(2):
        crew.on_blade(1)
    crew.carry()
    crew.lay(-3.0, 14)
    crew.t_ns += 45 * 60 * NS
    assert crew.press("take").result == "stale"
    assert crew.step() == ("look", "reference")
    before = len(crew.said(Captured))
    refused = crew.press("take")
    assert (refused.result, "already taken" in refused.say) == ("refused", True)
    assert len(crew.said(Captured)) == before
    crew.on_hub_face()
    assert [one.blade for one in crew.said(Captured)[before:]] == ["reference"]


def test_what_lies_there_is_taken_by_the_press_itself_and_not_by_the_next_sample() -> None:
    """Nor does an answer wait for one: the level may have nothing more to say."""
    crew = Crew(header(plan=ONE_EACH))
    crew.press("done")
    crew.carry()
    crew.lay(-3.0, 20)
    crew.press("take")
    assert [one.blade for one in crew.said(Captured)] == ["reference"]
    crew.carry()
    crew.lay(-20.0, 20)
    crew.press("take")
    assert len(crew.said(Captured)) == 1
    (asked,) = crew.said(Asked)
    crew.press("confirm", id=asked.id)
    assert len(crew.said(Captured)) == 2


def lies_on(readings: int = 2) -> tuple[Way, Taking, Entry]:
    """The level lies on blade 1, of which it just gave the last of so many readings."""
    crew = Crew(header(plan=ONE_EACH))
    crew.press("done")
    crew.on_hub_face()
    for _ in range(readings):
        crew.on_blade(1)
    way = crew.engine._way
    taking = way.case.takings.get("chord")
    assert taking is not None
    entry = way.case.ledger.entry(taking.lies_on)
    assert entry is not None
    assert entry.blade == 1
    return way, taking, entry


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(
    ("u_deg", "resolution_deg", "limit_deg"),
    [(0.0, 0.0, 0.1), (0.1, 0.01, 0.6), (0.01, 0.1, 0.2)],
    ids=["a tenth", "six uncertainties", "two steps of its display"],
)
def test_a_level_that_lies_on_was_turned_where_it_shows_more_than_it_can_by_itself(
    u_deg: float, resolution_deg: float, limit_deg: float, sign: float
) -> None:
    """Its reading is void then: the step comes up again."""
    for factor, void in ((0.97, False), (1.03, True)):
        way, taking, entry = lies_on()
        u = math.hypot(u_deg, entry.reading.u_deg)
        assert u == pytest.approx(u_deg, abs=0.02)
        now = replace(
            entry.reading,
            mean_deg=entry.reading.mean_deg + sign * factor * max(limit_deg, 6.0 * u),
            u_deg=u_deg,
            resolution_deg=resolution_deg,
        )
        way.hear(Still("chord", taking.placement, False, now), entry.t_ns + NS)
        withdrawn = way.case.ledger.entries[entry.id - 1].withdrawn
        assert (withdrawn, way.case.step.stage) == (void, "baseline" if void else "set")


def listening_to(way: Way) -> list[Body]:
    """What is said from now on."""
    said: list[Body] = []

    def say(body: Body) -> int:
        said.append(body)
        return len(said)

    way.case.say = say
    return said


def test_while_a_blade_is_set_that_it_was_turned_under_the_level_is_said_once() -> None:
    way, taking, entry = lies_on(1)
    said = listening_to(way)
    now = replace(entry.reading, mean_deg=entry.reading.mean_deg + 0.5)
    for _ in range(3):
        way.hear(Still("chord", taking.placement, False, now), entry.t_ns + NS)
    assert [type(one) for one in said] == [Noted]
    assert not way.case.ledger.entries[entry.id - 1].withdrawn


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_creep_is_said_once_from_two_uncertainties_of_its_reading_on(sign: float) -> None:
    way, taking, entry = lies_on()
    said, limit_deg = listening_to(way), 2.0 * own_u(entry.angle.budget)
    for factor, count in ((0.97, 0), (1.03, 1), (2.0, 1)):
        at_deg = entry.reading.mean_deg + sign * factor * limit_deg
        way.hear(Crept("chord", taking.placement, at_deg), entry.t_ns + NS)
        assert len(said) == count, factor
    way.hear(Crept("chord", taking.placement + 1, entry.reading.mean_deg + 1.0), entry.t_ns + NS)
    assert len(said) == 1, "that is no placement of which anything was read"


def test_where_nothing_is_held_a_break_changes_nothing() -> None:
    crew = Crew(header(plan=ONE_EACH))
    crew.press("done")
    crew.t_ns += 45 * 60 * NS
    assert crew.press("back").result == "done", "it means what it meant before"
    assert crew.step() == ("prepare", None)


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
