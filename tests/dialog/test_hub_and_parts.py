"""A hub and its parts: asked for once, offered when the hub is known, and what is otherwise is said."""

import asyncio
import tomllib

from hypothesis import given
from hypothesis import strategies as st

from daemon.dialog.asking import Talk
from daemon.dialog.hub_and_parts import Recall, nothing_known, parts
from daemon.dialog.written import job_text
from daemon.session.parts import Known
from shared.job import Propeller
from tests.dialog.person import Person
from tests.dialog.test_written import LEVEL, TABLES

TOLD = {"blades": 3, "layout": "tractor", "rotation": "clockwise", "station": "at the mark"}
SERIALS, HALVES = ["Q-1", "Q-2", "Q-3"], ["M-1", "M-2"]
MARKS, SHIMS = ["one dot", "two dots", "three dots"], ["none", "none", "0.1 mm"]
LISTS = {"serials": SERIALS, "halves": HALVES, "match_marks": MARKS, "shims": SHIMS}
TYPED = [", ".join(one) for one in LISTS.values()]


def known(hub: str) -> Known | None:
    then = {**TOLD, **LISTS, "hub": "H-77", "damage": "a nick in blade 2, dressed"}
    return Known(Propeller.model_validate(then), "2031-04-02") if hub == "H-77" else None


def asked(answers: list[str], recall: Recall, **told: object) -> tuple[dict[str, object], Person]:
    person = Person(answers)

    async def conversation(talk: Talk) -> dict[str, object]:
        return await parts(talk, {**TOLD, **told}, recall)

    return asyncio.run(Talk(person).run(conversation)), person


def test_without_a_hub_nothing_more_is_asked() -> None:
    assert asked([""], known)[0] == {}


def test_a_hub_that_nobody_knows_is_asked_about_part_by_part() -> None:
    found, person = asked(["H-1", "Q-1, Q-2", *TYPED, "nothing found"], known)
    assert found == {"hub": "H-1", **LISTS, "damage": "nothing found"}
    assert "That names 2, and there are 3 blades." in person.out.getvalue()


def test_a_hub_that_is_known_is_asked_about_once_and_damage_of_then_is_no_answer_of_today() -> None:
    found, person = asked(["H-77", "yes", ""], known)
    assert found == {"hub": "H-77", **LISTS, "damage": ""}
    said = person.out.getvalue()
    assert "On 2031-04-02 this hub had, blade 1 first:" in said
    assert "shims: none, none, 0.1 mm" in said
    assert "     2031-04-02: a nick in blade 2, dressed" in said


def test_of_a_known_hub_with_other_parts_each_is_asked() -> None:
    found, _ = asked(["H-77", "no", "Q-1, Q-3, Q-2", *TYPED[1:], ""], known)
    assert found["serials"] == ["Q-1", "Q-3", "Q-2"]


def test_enter_at_a_part_of_a_known_hub_says_what_a_session_would_take_over() -> None:
    """Left out of the file it would be filled in from the last session, though nobody had said so."""
    found, person = asked(["H-77", "no", "Q-1, Q-3, Q-2", "", "", "none, none, none", ""], known)
    assert (found["halves"], found["match_marks"]) == (HALVES, MARKS)
    assert found["shims"] == ["none", "none", "none"]
    assert sum("[Enter: as before]" in words for words in person.asked) == 4
    assert "On 2031-04-02: none, none, 0.1 mm" in person.out.getvalue()


def test_as_before_is_offered_for_nothing_that_is_not_known() -> None:
    _, person = asked(["H-1", *TYPED, ""], known)
    _, other = asked(["H-77", "", "", "", "", ""], known, blades=2)
    assert not any("as before" in words for words in [*person.asked, *other.asked])
    found, _ = asked(["H-1", *TYPED[:3], "as before", TYPED[3], ""], nothing_known)
    assert found["shims"] == SHIMS, "it is no answer there: three blades have three"


def test_another_hand_of_rotation_or_number_of_blades_than_last_time_is_said() -> None:
    _, person = asked(["H-77", "yes", ""], known, rotation="anticlockwise")
    assert "hand of rotation: anticlockwise; on 2031-04-02 it was clockwise" in (
        person.out.getvalue()
    )
    found, person = asked(["H-77", "", "", "", "", ""], known, blades=2)
    assert found == {"hub": "H-77", "damage": ""}
    assert "number of blades: 2; on 2031-04-02 it was 3" in person.out.getvalue()


def test_parts_stand_in_the_file_as_they_were_said() -> None:
    found, _ = asked(["H-1", *TYPED, "nothing found"], nothing_known)
    tables = {**TABLES, "propeller": {**TABLES["propeller"], **found}}
    written = tomllib.loads(job_text(tables, LEVEL, [], "2031-05-06"))["propeller"]
    assert {key: written[key] for key in found} == found


@given(st.lists(st.text(max_size=20).map(str.strip), max_size=12))
def test_whatever_is_typed_makes_parts_of_a_propeller_or_is_asked_again(typed: list[str]) -> None:
    try:
        found, _ = asked(["H-77", *typed], known)
    except EOFError:
        return
    Propeller.model_validate({**TOLD, **found})
