"""What the person does about alarms, questions, refusals and silence."""

from functools import cache
from itertools import pairwise
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.events import (
    Alarm,
    Answered,
    Asked,
    Body,
    Captured,
    Cleared,
    Event,
    Held,
    StepChanged,
)
from shared.inputs import NS
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.scenario import load, parse
from tests.simulator.foreman import Foreman

TICK_NS = 50_000_000


@cache
def job_done(name: str, seed: int) -> Foreman:
    return Foreman(Hangar(load(name), seed)).run()


def presses(foreman: Foreman, kind: str) -> list[Press]:
    return [out for out in foreman.outs if isinstance(out, Press) and out.kind == kind]


def test_a_moved_blade_is_set_again_by_name() -> None:
    foreman = job_done("knock-while-setting", 3)
    (answer,) = presses(foreman, "acknowledge")
    assert answer.args["then"] == "set-again"
    assert answer.args["by"] == "Ada Merrow"
    sets = [
        e.body.blade
        for e in foreman.said(StepChanged)
        if isinstance(e.body, StepChanged) and e.body.stage == "set"
    ]
    assert sets == [1, 2, 3, 1]
    assert foreman.hangar.truth().angles_deg[0] == pytest.approx(21.0, abs=0.3)


def test_the_first_alarm_stands_for_whoever_watches_and_only_the_first() -> None:
    """Twelve seconds more than the person would have taken; then the job goes on to its end."""

    def waited(lets_look_s: float) -> list[float]:
        foreman = Foreman(Hangar(load("default"), 2, lets_look_s)).run()
        assert foreman.hangar.truth().stuck == ""
        alarms = foreman.said(Alarm)
        answers = presses(foreman, "acknowledge")
        return [(b.t_ns - a.t_ns) / NS for a, b in zip(alarms, answers, strict=True)]

    assert waited(12.0)[0] == pytest.approx(waited(0.0)[0] + 12.0, abs=0.1)


def test_a_shift_is_accepted_with_a_reason() -> None:
    settles = """
        like = "tyre"
        title = "while the reference is read"
        [[incident]]
        kind = "settle"
        size_deg = 0.5
        seconds = [0.5, 0.9]
        when = { stage = "check", blade = "reference", after_s = [0.0, 0.1] }
    """
    foreman = Foreman(Hangar(parse("mine", settles), 3)).run()
    (answer,) = presses(foreman, "acknowledge")
    assert answer.args["then"] == "accept"
    assert answer.args["reason"]
    assert foreman.hangar.truth().stuck == ""


def test_a_question_makes_the_person_turn_the_level_round() -> None:
    foreman = job_done("reversed", 3)
    (asked,) = foreman.said(Asked)
    (again,) = presses(foreman, "again")
    assert isinstance(asked.body, Asked)
    assert asked.body.reading_deg == pytest.approx(-18.0, abs=1.0)
    assert 1.0 * NS < again.t_ns - asked.t_ns < 7.0 * NS
    assert not foreman.hangar._scene.level.reversed
    assert presses(foreman, "confirm") == []


def test_an_idle_question_is_confirmed() -> None:
    hangar = Hangar(load("quiet"), 1)
    step = StepChanged(1, "check", 1, "red", 1, 1, "read blade 1")
    hangar.advance(TICK_NS, [Event(1, 0, step)], None)
    outs = hangar.advance(2 * TICK_NS, [Event(2, 0, Asked(7, 1, 18.0, "look"))], None)
    outs += hangar.advance(12 * NS, [], None)
    confirmed = [out for out in outs if isinstance(out, Press) and out.kind == "confirm"]
    assert [press.args for press in confirmed] == [{"id": 7}]


def test_a_blade_that_never_comes_right_is_accepted_in_the_end() -> None:
    hangar = Hangar(load("quiet"), 1)
    n, t_ns, then = 0, 0, []
    for number in range(1, 5):
        events = [
            Event(n + 1, t_ns, Alarm(number, 2, "moved", 21.0, "moved")),
            Event(n + 2, t_ns, StepChanged(number, "answer", 2, "white", 1, 1, "answer")),
        ]
        n += 2
        outs = hangar.advance(t_ns := t_ns + TICK_NS, events, None)
        outs += hangar.advance(t_ns := t_ns + 5 * NS, [], None)
        (press,) = [out for out in outs if isinstance(out, Press)]
        then.append(press.args["then"])
        how: Literal["accept", "set-again"] = (
            "accept" if press.args["then"] == "accept" else "set-again"
        )
        hangar.advance(
            t_ns := t_ns + TICK_NS, [Event(n := n + 1, t_ns, Cleared(number, how, "Ada"))], None
        )
    assert then == ["set-again", "set-again", "accept", "accept"]


def test_a_refused_press_is_made_again_soon() -> None:
    hangar = Hangar(load("quiet"), 1)
    step = StepChanged(1, "reference", "reference", "reference", 1, 2, "on the hub face")
    outs = hangar.advance(TICK_NS, [Event(1, 0, step)], None)
    t_ns, taken, n = TICK_NS, [], 1
    while t_ns < 20 * NS:
        t_ns += TICK_NS
        new = [out for out in outs if isinstance(out, Press)]
        taken += new
        heard = [Event(n := n + 1, t_ns, Answered("x", "p", "refused", "not still")) for _ in new]
        outs = hangar.advance(t_ns, heard, None)
    gaps = [(b.t_ns - a.t_ns) / NS for a, b in pairwise(taken)]
    assert len(taken) >= 4
    assert min(gaps) >= 1.0  # never a held pedal
    assert sorted(gaps)[len(gaps) // 2] < 3.0


def test_without_an_answer_the_person_waits_twelve_seconds() -> None:
    hangar = Hangar(load("quiet"), 1)
    step = StepChanged(1, "reference", "reference", "reference", 1, 2, "on the hub face")
    outs = hangar.advance(40 * NS, [Event(1, 0, step)], None)
    taken = [out for out in outs if isinstance(out, Press)]
    assert len(taken) >= 2
    assert 12.0 < (taken[1].t_ns - taken[0].t_ns) / NS < 14.5


def test_after_a_minute_the_step_is_begun_over_with_the_level_lifted() -> None:
    hangar = Hangar(load("quiet"), 1)
    step = StepChanged(1, "reference", "reference", "reference", 1, 2, "on the hub face")
    hangar.advance(59 * NS, [Event(1, 0, step)], None)
    seats = [hangar._scene.level.seat]
    for t_ns in (60 * NS + 500_000_000, 64 * NS):
        hangar.advance(t_ns, [], None)
        seats.append(hangar._scene.level.seat)
    assert seats == ["hub", "hand", "hub"]


def test_the_person_stands_idle_when_the_script_says_so() -> None:
    times = [t_ns for t_ns, _ in job_done("distracted", 3).bodies(StepChanged)]
    spent = [(after - before) / NS for before, after in pairwise(times)]
    assert len([seconds for seconds in spent if seconds > 34.0]) == 2


def test_the_person_asks_again_without_lifting_when_the_script_says_so() -> None:
    hangar = Hangar(load("unlifted"), 1)
    hangar.advance(TICK_NS, [Event(1, 0, StepChanged(1, "check", 1, "red", 1, 1, ""))], None)
    hangar.advance(10 * NS, [], None)
    assert hangar._scene.level.seat == 1
    taken = Captured(
        1, 1, "check", 21.0, 0.1, 20, "chord", 18.0, 0.0, "in", "normal", 1, "press"
    )  # fmt: skip
    after = StepChanged(2, "check", 2, "white", 1, 1, "")
    outs = hangar.advance(14 * NS, [Event(2, 0, taken), Event(3, 0, after)], None)
    again = [out for out in outs if isinstance(out, Press)]
    assert [press.kind for press in again] == ["take", "take", "take"]
    assert hangar._scene.level.seat == 1


def test_two_blades_are_read_for_each_other_once() -> None:
    foreman = job_done("labels-exchanged", 3)
    truth = foreman.hangar.truth()
    swapped = {1: 3, 2: 2, 3: 1}
    seen = 0
    for t_ns, body in foreman.bodies(Captured):
        if body.stage not in {"check", "snug"} or not isinstance(body.blade, int):
            continue
        truly = swapped[body.blade] if body.stage == "check" else body.blade
        assert body.angle_deg == pytest.approx(truth.angle_at(truly, t_ns), abs=0.16)
        seen += 1
    assert seen == 6


blades = st.sampled_from([None, "reference", 1, 2, 3])
stages = st.sampled_from(
    ["prepare", "reference", "set", "baseline", "tighten", "check", "final", "answer", "unheard of"]
)
heard = st.one_of(
    st.builds(
        StepChanged,
        st.integers(1, 9),
        stages,
        blades,
        st.just(""),
        st.integers(1, 3),
        st.just(3),
        st.just(""),
    ),
    st.builds(Asked, st.integers(1, 3), blades, st.just(18.0), st.just("")),
    st.builds(
        Alarm,
        st.integers(1, 3),
        st.sampled_from(["reference", 1, 2, 3]),
        st.sampled_from(["moved", "shifted", "exchanged", "out", "level"]),
        st.none(),
        st.just(""),
    ),
    st.builds(Cleared, st.integers(1, 3), st.sampled_from(["set-again", "accept"]), st.just("")),
    st.builds(
        Answered,
        st.just(""),
        st.just(""),
        st.sampled_from(["done", "stale", "refused"]),
    ),
    st.builds(Held, st.integers(1, 3), st.just(21.0), st.just(0.1), st.just(0.0), st.just("in")),
)


confused = st.lists(st.tuples(st.integers(1, 3000), heard), max_size=12)
names = st.sampled_from(
    ["default", "labels-exchanged", "mode", "unplug", "play-flip", "own-button", "watch-blade"]
)


def worked(hangar: Hangar, said: list[tuple[int, Body]]) -> list[Chunk | Press | Plug]:
    """Tell the person these things after so many milliseconds each."""
    t_ns = 0
    outs: list[Chunk | Press | Plug] = []
    for n, (wait_ms, body) in enumerate(said, start=1):
        t_ns += wait_ms * 1_000_000
        outs += hangar.advance(t_ns, [Event(n, t_ns, body)], None)
    return outs


@settings(max_examples=40, deadline=None)
@given(confused, names, st.integers(0, 50))
def test_no_program_however_confused_breaks_the_hangar(
    said: list[tuple[int, Body]], name: str, seed: int
) -> None:
    outs = worked(Hangar(load(name), seed), said)
    times = [out.t_ns for out in outs]
    assert times == sorted(times)
    pedal = [out.t_ns for out in outs if isinstance(out, Press)]
    assert all(after - before >= 200_000_000 for before, after in pairwise(pedal))


@pytest.mark.long
@settings(max_examples=40, deadline=None)
@given(confused, names, st.integers(0, 50))
def test_no_program_however_confused_hangs_the_person(
    said: list[tuple[int, Body]], name: str, seed: int
) -> None:
    hangar = Hangar(load(name), seed)
    worked(hangar, said)
    hangar.advance(hangar.now_ns + 602 * NS, [], None)
    assert hangar.finished
    assert hangar.truth().stuck
