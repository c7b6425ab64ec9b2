"""The contract of the core: time, ticks, views, chunks, commands."""

import itertools
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.core.engine import Engine
from daemon.core.pipe import Pipe
from shared.events import (
    Answered,
    Captured,
    Event,
    Held,
    Linked,
    Noted,
    Opened,
    StepChanged,
    Summary,
    Verdict,
)
from shared.inputs import NS, Bytes, Clock, Command, Input, Link
from tests.daemon.bench import Person, header, rechunked, sentence


@pytest.fixture(scope="module")
def whole() -> Person:
    """A whole small job with a gap in the stream, a moved blade and its setting again."""
    person = Person(header())
    person.up_to_round()
    person.t_ns += 3 * NS
    person.round({"reference": -3.0, 1: 18.1, 2: 17.05})
    person.press("acknowledge", id=1, then="set-again")
    for _ in range(3):
        person.read(17.0)
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    person.press("done")
    return person


def outputs(inputs: list[Input], ticks: list[int] = [], *, look: bool = False) -> list[Event]:  # noqa: B006
    engine, events, times = Engine(header()), [], iter(sorted(ticks))
    tick = next(times, None)
    for item in inputs:
        while tick is not None and tick < item.t_ns:
            events += engine.advance(tick)
            tick = next(times, None)
        events += engine.feed(item)
        if look:
            engine.view(item.t_ns + 7)
            engine.view()
    return events


def test_the_whole_job_comes_out(whole: Person) -> None:
    summary = whole.said(Summary)[-1]
    assert summary.state == "finished"
    assert summary.called_moved == [1]
    assert [row["state"] for row in summary.blades] == ["steady", "steady"]
    assert [v.state for v in whole.said(Verdict)][:3] == ["steady", "moved", "steady"]
    assert [linked.state for linked in whole.said(Linked)].count("silent") >= 1
    assert whole.said(Opened)[0].blades == 2
    assert len(whole.said(Held)) == 3


def test_events_are_numbered_without_gaps_and_never_go_back(whole: Person) -> None:
    assert [event.n for event in whole.events] == list(range(1, len(whole.events) + 1))
    times = [event.t_ns for event in whole.events]
    assert times == sorted(times)


@given(ticks=st.lists(st.integers(0, 200 * NS), max_size=60))
@settings(max_examples=25, deadline=None)
def test_ticks_change_nothing(whole: Person, ticks: list[int]) -> None:
    assert outputs(whole.inputs, ticks) == whole.events


def test_a_tick_before_every_input_changes_nothing(whole: Person) -> None:
    ticks = [item.t_ns - 1 for item in whole.inputs if item.t_ns > 0]
    assert outputs(whole.inputs, ticks) == whole.events


def test_an_angle_is_given_of_the_blades_that_were_read_and_of_no_other() -> None:
    person = Person(header())
    person.press("done")
    assert person.engine.angles() == {}
    for _ in range(person.header.job.plan.reference_placements):
        person.read(-3.0)
    person.read(17.0)
    assert [*person.engine.angles()] == [1]
    assert person.engine.angles()[1].angle_deg == pytest.approx(20.0, abs=0.1)


def test_looking_changes_nothing(whole: Person) -> None:
    assert outputs(whole.inputs, look=True) == whole.events
    engine = Engine(header())
    assert engine.view() == engine.view()


def tilts(inputs: list[Input]) -> list[float]:
    head = header()
    entry = head.job.level[0].model_copy(update={"role": "watch"})
    pipe = Pipe(entry, head.profiles["chord"], 8.0)
    found = []
    for item in inputs:
        if isinstance(item, Bytes):
            facts = pipe.feed(item.t_ns, item.channel, item.data)
            found += [fact.tilt.angle_deg for fact in facts if hasattr(fact, "tilt")]
    return found


@pytest.fixture(scope="module")
def as_it_came(whole: Person) -> list[float]:
    return tilts(whole.inputs[:400])


@given(sizes=st.lists(st.integers(1, 97), min_size=1, max_size=40))
@settings(max_examples=25)
def test_any_chunking_gives_the_same_tilts(
    whole: Person, as_it_came: list[float], sizes: list[int]
) -> None:
    inputs = whole.inputs[:400]
    assert tilts(list(rechunked(inputs, itertools.cycle(sizes)))) == as_it_came
    assert len(as_it_came) > 300


def test_an_input_from_the_past_is_refused(whole: Person) -> None:
    engine = Engine(header())
    engine.feed(Link("chord", "up", t_ns=500))
    with pytest.raises(ValueError, match="after 500"):
        engine.feed(Link("chord", "down", t_ns=499))
    with pytest.raises(ValueError, match="which the job does not have"):
        engine.feed(Link("another", "up", t_ns=501))


def test_silence_is_said_at_its_due_time_and_not_when_noticed() -> None:
    person = Person(header())
    person.lay(10.0, 20)
    last = person.t_ns
    events = person.engine.advance(last + 60 * NS)
    silent = [e for e in events if isinstance(e.body, Linked) and e.body.state == "silent"]
    assert [e.t_ns for e in silent] == [last + NS]


def test_a_gap_ends_the_placement() -> None:
    person = Person(header())
    person.press("done")
    person.carry()
    person.lay(-3.0, 20)
    person.t_ns += 4 * NS
    person.send(-3.0, 0.02)
    assert person.press().result == "done"
    assert not person.said(Captured)
    person.lay(-3.0, 20)
    assert len(person.said(Captured)) == 1


# --- commands ---------------------------------------------------------------------------


def test_a_stale_command_does_nothing() -> None:
    person = Person(header())
    seen = person.events[-1].n
    person.press("done")
    assert person.step() == ("reference", "reference")
    answer = person.press("done", seen=seen)
    assert answer.result == "stale"
    assert person.step() == ("reference", "reference")


def test_two_people_press_and_the_job_advances_once() -> None:
    person = Person(header())
    person.press("done")
    person.carry()
    person.lay(-3.0, 30)
    seen = person.events[-1].n
    first = person.press("take", seen=seen)
    second = person.press("take", seen=seen)
    assert (first.result, second.result) == ("done", "stale")
    assert len(person.said(Captured)) == 1


def test_a_repeated_command_gets_the_same_answer_and_does_nothing() -> None:
    person = Person(header())
    first = person.ask("once", "done")
    steps = len(person.said(StepChanged))
    again = person.ask("once", "done")
    assert again == first
    assert len(person.said(StepChanged)) == steps


def test_a_late_command_is_not_executed() -> None:
    person = Person(header())
    person.t_ns = 9 * NS
    answer = person.ask("late", "done", until=8 * NS)
    assert answer.result == "late"
    assert person.step()[0] == "prepare"


def test_a_command_with_nonsense_in_it_is_refused_in_words() -> None:
    person = Person(header())
    person.press("done")
    asked: list[tuple[str, dict[str, Any]]] = [
        ("withdraw", {"id": "seven"}),
        ("withdraw", {"id": float("inf")}),
        ("acknowledge", {"id": "seven", "then": "accept"}),
        ("withdraw", {"id": 99}),
        ("name", {"blade": "left"}),
        ("name", {"blade": 3}),
        ("acknowledge", {"id": 1, "then": "accept"}),
        ("confirm", {}),
        ("note", {"text": "  "}),
        ("abandon", {"by": "", "reason": ""}),
        ("abandon", {"by": "Ada", "reason": " "}),
        ("abandon", {"by": " ", "reason": "dusk"}),
        ("end", {"by": "", "reason": ""}),
        ("end", {"by": "Ada", "reason": " "}),
        ("end", {"by": " ", "reason": "dusk"}),
        ("again", {}),
        ("back", {}),
    ]
    for kind, args in asked:
        answer = person.press(kind, **args)
        assert (kind, answer.result) in {(kind, "refused"), ("back", "done")}
        assert answer.say
        assert "int()" not in answer.say


def test_a_clock_change_is_on_record() -> None:
    person = Person(header())
    person.put(Clock("2031-05-04T10:00:00+00:00", "boot", "suspend", t_ns=5))
    noted = person.said(Noted)[-1]
    assert (noted.kind, "suspend" in noted.say) == ("clock", True)


@pytest.mark.parametrize("reason", ["suspend", "step", "resume"])
def test_a_reading_is_not_taken_from_what_lay_in_a_buffer_meanwhile(reason: Any) -> None:
    """The program stood still for 14 s; then the bytes of before and a press come all at once."""
    person = Person(header())
    person.press("done")
    person.carry()
    person.lay(-3.0, 14)
    person.t_ns += 14 * NS
    person.put(Clock("2031-05-04T10:00:00+00:00", "boot", reason, t_ns=person.t_ns))
    for number in range(140):
        person.t_ns += NS // 1000
        shown = -3.0 + 0.02 * (number % 3 - 1)
        person.put(Bytes("chord", 0, sentence(shown), person.t_ns))
    person.press("take")
    assert person.said(Captured) == []


def test_nothing_follows_the_summary() -> None:
    person = Person(header())
    person.lay(-3.0, 5)  # from here on its silence is due
    person.end()
    assert isinstance(person.events[-1].body, Summary)
    assert person.events[-1].body.state == "ended early"
    person.t_ns += 1
    assert person.put(Link("chord", "down", t_ns=person.t_ns)) == []
    assert person.engine.advance(person.t_ns + 100 * NS) == []


def test_every_command_is_answered_exactly_once(whole: Person) -> None:
    asked = [item.id for item in whole.inputs if isinstance(item, Command)]
    assert [answer.command for answer in whole.said(Answered)] == asked


def test_the_header_alone_decides(tmp_path: Path) -> None:
    head = header()
    again = type(head).model_validate_json(head.model_dump_json())
    assert again == head
