"""What random walks found, each by itself: what must not be again."""

from typing import Any

from shared.events import REFERENCE, Captured, Verdict
from tests.daemon.bench import header
from tests.daemon.test_reference_ways import begun, on_blade, set_all
from tests.workflow.jobs import TILT, Crew


def crew_of(plan: dict[str, Any], **setup: Any) -> Crew:
    one = {"reference_placements": 1, "baseline_placements": 1}
    crew = Crew(header(plan={**one, **plan}, setup=setup))
    crew.press("done")
    return crew


def test_the_reference_alone_is_looked_at_from_both_sides_while_no_blade_is_held() -> None:
    person = begun("both-sides")
    person.read(on_blade(18.0))
    person.read(on_blade(18.0, 180.0))
    assert person.press("look").result == "done"
    person.read(on_blade(18.0))
    person.read(on_blade(18.0, 180.0))
    assert [(v.blade, v.state) for v in person.said(Verdict)] == [(REFERENCE, "steady")]
    set_all(person)
    assert person.step() == ("check", REFERENCE)


def test_half_a_reference_that_a_round_wanted_beside_its_clamp_is_read_to_the_end() -> None:
    """What it wanted was forgotten when another reading of the reference was withdrawn."""
    plan = {
        "rounds": ["snug", "nip", "final"],
        "clamps": [[1], [2]],
        "order": "clamp by clamp",
    }
    crew = crew_of(plan, reference="half-turn")
    lean = {1: -0.2, 2: 0.2}

    def reference() -> None:
        crew.read(-TILT + lean[crew.engine._case.step.half])

    reference()
    reference()
    for _ in range(2):
        crew.on_blade(1)
    while crew.step()[0] == "tighten":
        crew.press("done")
    crew.on_blade(1, 20.25)
    assert crew.step() == ("nip 1", REFERENCE)
    reference()
    crew.press("withdraw", id=1, reason="the hub was not at its place")
    assert crew.step() == ("reference", REFERENCE)
    reference()
    assert crew.step() == ("nip 1", REFERENCE)
    reference()
    assert [one.blade for one in crew.said(Captured)][-3:] == [REFERENCE] * 3
    assert crew.step() == ("nip 1", 1), "a blade is looked at again before it is called"
