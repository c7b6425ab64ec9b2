"""What must hold of any view, whatever is on record: against the events, and against trying it.

A key that is offered is pressed on a copy of the engine, one that is not offered too.
"""

import io
import math
import pickle
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from types import FunctionType
from typing import Any, get_args

import pytest

from daemon.core.engine import Engine
from shared.angles import stated
from shared.events import (
    REFERENCE,
    Alarm,
    Answered,
    Asked,
    Assigned,
    BladeId,
    Captured,
    Cleared,
    Event,
    Refused,
    StepChanged,
    Summary,
    Verdict,
    Withdrawn,
)
from shared.inputs import NS, Bytes, Command, CommandKind, Input
from shared.job import Header
from shared.model import Written
from shared.view import View
from tests.daemon.bench import PERIOD_NS, sentence
from tests.workflow.jobs import JOBS
from tests.workflow.view_record import LOOKS, source

NAMES = [*JOBS, "golden"]


@dataclass
class Told:
    """What the events say by themselves, followed without any of the program's rules."""

    events: list[Event] = field(default_factory=list)
    step: StepChanged | None = None
    read: dict[int, tuple[BladeId | None, int]] = field(default_factory=dict)
    """What counts: blade and session time by the number of the reading."""
    alarms: dict[int, Alarm] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    verdicts: dict[BladeId, Verdict] = field(default_factory=dict)

    def hear(self, events: list[Event]) -> None:
        for event in events:
            self.events.append(event)
            match event.body:
                case StepChanged() as step:
                    self.step = step
                case Captured() as one:
                    self.read[one.id] = (one.blade, event.t_ns)
                case Withdrawn(number):
                    del self.read[number]
                case Assigned(number, blade):
                    self.read[number] = (blade, self.read[number][1])
                case Alarm() as alarm:
                    self.alarms[alarm.id] = alarm
                case Cleared(number):
                    del self.alarms[number]
                case Asked() as asked:
                    self.asked.append(asked)
                case Verdict() as verdict:
                    self.verdicts[verdict.blade] = verdict

    def read_ns(self, blade: BladeId) -> int | None:
        mine = {number: t_ns for number, (of, t_ns) in self.read.items() if of == blade}
        return mine[max(mine)] if mine else None


@dataclass(frozen=True)
class Instant:
    """What is shown, beside what was told and what was put in."""

    header: Header
    engine: Engine
    view: View
    told: Told
    item: Input
    heard: dict[str, int]
    """When each level last sent; on the bench every chunk is one whole sample."""
    before: View | None

    @cached_property
    def pickled(self) -> bytes:
        """The engine as it is now."""
        return pickled(self.engine)


def walked(name: str) -> Iterator[Instant]:
    """Yield every instant of a job with an event, and every fourth besides."""
    head, inputs = source(name)
    engine, told, before = Engine(head), Told(), None
    heard: dict[str, int] = {}
    for number, item in enumerate(inputs):
        events = engine.feed(item)
        told.hear(events)
        if isinstance(item, Bytes):
            heard[item.level] = item.t_ns
        if events or number % LOOKS == 0:
            view = engine.view()
            yield Instant(head, engine, view, told, item, heard, before)
            before = view


def turns(name: str) -> Iterator[Instant]:
    """Yield where the keys, or what a press does, are as they never were before in this job."""
    seen = set()
    for now in walked(name):
        view, live = now.view, now.view.live
        keys = (view.stage, view.press, view.offers, view.question is None, len(view.alarms))
        does = (live.motion, live.may_take, live.taken)
        if (keys, does) not in seen:
            seen.add((keys, does))
            yield now


KEPT: dict[int, Any] = {}
"""What no engine changes, by its identity."""


class Pickler(pickle.Pickler):
    """Leaves frozen models and the functions of a codec as they are: every copy has the same ones."""

    def reducer_override(self, of: Any) -> Any:
        nameless = isinstance(of, FunctionType) and "<" in of.__qualname__
        if not nameless and not isinstance(of, Written):
            return NotImplemented
        KEPT[id(of)] = of
        return kept, (id(of),)


def kept(number: int) -> Any:
    return KEPT[number]


def pickled(engine: Engine) -> bytes:
    file = io.BytesIO()
    Pickler(file).dump(engine)
    return file.getvalue()


def twin_of(engine: bytes) -> Engine:
    """Return a copy that goes its own way."""
    twin = pickle.loads(engine)
    assert isinstance(twin, Engine)
    return twin


def tried(now: Instant, kind: CommandKind, args: dict[str, Any]) -> tuple[Engine, Answered]:
    """Send a command to a copy of the engine; return the copy and its answer."""
    twin = twin_of(now.pickled)
    view = twin.view()
    events = twin.feed(Command("try", "t", view.seen, kind, args, None, view.t_ns + 1))
    return twin, next(e.body for e in events if isinstance(e.body, Answered))


# --- against the events -----------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_what_is_shown_is_so(name: str) -> None:
    stages, now = set(), None
    for now in walked(name):
        says_what_the_events_say(now)
        the_table_is_of_the_readings_that_count(now)
        a_budget_adds_up(now)
        a_verdict_is_shown_until_it_is_set_again(now)
        the_target_is_hidden_where_a_blade_is_only_read(now)
        ages_count_from_the_last_sample(now)
        progress_is_whole_when_ready(now)
        what_was_taken_is_not_taken_again(now)
        stages.add(now.view.stage)
    assert now is not None
    the_last_view_agrees_with_the_summary(now)
    assert name == "watch-only" or {"set", "check"} <= stages


def says_what_the_events_say(now: Instant) -> None:
    view, told, step = now.view, now.told, now.told.step
    assert (view.seen, view.t_ns) == (told.events[-1].n, now.item.t_ns)
    assert step is not None
    announced = (step.step, step.stage, step.blade, step.label, step.placement, step.say)
    shown = (view.step, view.stage, view.blade, view.label, view.placement, view.say)
    assert shown == announced
    assert (view.placements, view.finished) == (step.placements, step.stage == "finished")
    alarms = [(a.id, a.blade, a.kind, a.say, a.last_good_deg) for a in view.alarms]
    called = told.alarms.values()
    assert alarms == [(a.id, a.blade, a.kind, a.say, a.last_good_deg) for a in called]
    if view.question is not None:
        newest = told.asked[-1]
        assert (view.question.id, view.question.say) == (newest.id, newest.say)


def the_table_is_of_the_readings_that_count(now: Instant) -> None:
    view, told, target = now.view, now.told, now.header.job.target
    assert [row.blade for row in view.blades] == [REFERENCE, *range(1, len(view.blades))]
    for row in view.blades:
        assert row.read_ns == told.read_ns(row.blade)
        assert row.working == (row.blade == view.blade)
        assert row.alarm == any(a.blade == row.blade for a in told.alarms.values())
        assert (row.angle_deg is None) == (row.u95_deg is None) == (not row.budget)
        if row.blade == REFERENCE or row.angle_deg is None or row.u95_deg is None:
            assert (row.error_deg, row.tolerance, row.settles) == (None, "", "")
            continue
        error = row.angle_deg - target.angle_deg
        assert row.error_deg == pytest.approx(error, abs=1e-9)
        surely_in = abs(error) + row.u95_deg <= target.tolerance_deg
        surely_out = abs(error) - row.u95_deg > target.tolerance_deg
        # guarded acceptance and rejection, JCGM 106:2012
        judged = "in" if surely_in else "out" if surely_out else "too close to say"
        assert row.tolerance == judged
        assert bool(row.settles) == (judged == "too close to say")
    angles = [row.angle_deg for row in view.blades[1:]]
    known = [angle for angle in angles if angle is not None]
    assert view.spread_deg == (max(known) - min(known) if len(known) == len(angles) else None)


def a_budget_adds_up(now: Instant) -> None:
    for row in now.view.blades:
        parts = [line.u_deg for line in row.budget]
        assert parts == sorted(parts, reverse=True)
        if row.u95_deg is not None:
            u = math.sqrt(sum(part * part for part in parts))
            # from a rectangle (0.95 of its half-width) to Student's t with one degree of freedom
            assert 1.6 * u < row.u95_deg < 13.0 * u


def a_verdict_is_shown_until_it_is_set_again(now: Instant) -> None:
    for row in now.view.blades:
        verdict = now.told.verdicts.get(row.blade)
        if row.change_deg is not None:
            assert verdict is not None
            assert row.change_deg == verdict.change_deg
            assert row.could_hide_deg == verdict.could_hide_deg
        elif verdict is not None:
            assert row.state in {
                "not set",
                "setting",
                "provisional",
                "held",
                "may have turned",
                "read elsewhere",
            }


def the_target_is_hidden_where_a_blade_is_only_read(now: Instant) -> None:
    live, target = now.view.live, now.header.job.target.angle_deg
    setting = now.view.stage == "set"
    assert live.target_deg == (target if setting else None)
    if setting and live.angle_deg is not None:
        assert live.error_deg == live.angle_deg - target
    else:
        assert live.error_deg is None
    if not setting:
        assert not {"finer", "coarser", "fine:", "coarse:"} & set(live.words.split())


def ages_count_from_the_last_sample(now: Instant) -> None:
    view, job = now.view, now.header.job
    later = now.engine.view(view.t_ns + 2 * NS)
    assert now.engine.view(view.t_ns - 5) == view
    refused = {e.body.level: e.body.count for e in now.told.events if isinstance(e.body, Refused)}
    for one, then, entry in zip(view.levels, later.levels, job.level, strict=True):
        assert (one.name, one.role) == (entry.name, entry.role)
        assert one.refused >= refused.get(one.name, 0)
        if one.name not in now.heard:
            assert (one.age_s, one.state, one.tilt_deg) == (None, "waiting", None)
            continue
        if job.name == "bench":
            assert one.age_s == (view.t_ns - now.heard[one.name]) / NS
        assert one.age_s is None or then.age_s == pytest.approx(one.age_s + 2.0)


def progress_is_whole_when_ready(now: Instant) -> None:
    live = now.view.live
    lies = live.motion in {"still", "ready"}
    assert 0.0 <= live.progress <= 1.0
    assert (live.progress == 1.0) == (live.motion == "ready")
    assert (live.progress > 0.0) == lies == (live.u_deg is not None)


def what_was_taken_is_not_taken_again(now: Instant) -> None:
    view, live = now.view, now.view.live
    shown = 0 if now.before is None else now.before.seen
    taken = [e.body for e in now.told.events[shown:] if isinstance(e.body, Captured)]
    if taken and view.press == "take" and len(view.levels) == 1:
        assert live.taken
    if live.taken:
        assert (live.may_take, live.words) == (False, "taken: lift the level")
        assert now.told.read
        assert live.motion != "in hand"
        assert len(view.levels) > 1 or "take" not in view.offers
    elif live.motion in {"still", "ready"} and view.press == "take":
        assert live.may_take == (view.question is None)


def the_last_view_agrees_with_the_summary(now: Instant) -> None:
    view, summary = now.view, now.told.events[-1].body
    assert isinstance(summary, Summary)
    assert summary.open_alarms == [alarm.id for alarm in view.alarms]
    assert summary.spread_deg == (None if view.spread_deg is None else stated(view.spread_deg))
    for row, said in zip(view.blades[1:], summary.blades, strict=True):
        angle = None if row.angle_deg is None else stated(row.angle_deg)
        assert (said["label"], said["angle_deg"], said["state"]) == (row.label, angle, row.state)


# --- what was made before and is shown again ------------------------------------------------------


@pytest.mark.parametrize("name", JOBS)
def test_who_looks_all_the_time_sees_what_somebody_sees_who_looks_for_the_first_time(
    name: str,
) -> None:
    head, inputs = source(name)
    looked_at, never = Engine(head), Engine(head)
    for number, item in enumerate(inputs):
        looked_at.feed(item)
        never.feed(item)
        shown = looked_at.view()
        if number % 7 == 0:
            assert twin_of(pickled(never)).view() == shown, number


# --- the keys -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*JOBS, pytest.param("golden", marks=pytest.mark.long)])
def test_keys_do_what_they_say(name: str) -> None:
    for now in turns(name):
        what_is_offered_can_be_done_and_what_is_not_cannot(now)
        one_press_does_what_the_view_says(now)
        an_alarm_is_settable_where_setting_its_blade_again_answers_it(now)
        what_is_asked_waits_for_confirm(now)
        if name != "golden":
            a_press_takes_where_the_view_says_so_and_nowhere_else(now)


def what_is_offered_can_be_done_and_what_is_not_cannot(now: Instant) -> None:
    view = now.view
    assert len(set(view.offers)) == len(view.offers)
    for kind in get_args(CommandKind):
        could = any(
            tried(now, kind, args)[1].result == "done" for args in candidates(kind, view, now.told)
        )
        assert could == (kind in view.offers), (view.t_ns, view.stage, kind, could)


def candidates(kind: CommandKind, view: View, told: Told) -> Iterator[dict[str, Any]]:
    """Arguments that could make sense now, the likeliest first."""
    blades: list[Any] = [row.blade for row in reversed(view.blades)]
    match kind:
        case "name" | "set":
            yield from ({"blade": blade} for blade in blades)
        case "again":
            yield {}
            yield from ({"blade": blade} for blade in blades)
        case "withdraw":
            yield from ({"id": number, "reason": "r"} for number in told.read)
        case "assign":
            yield from ({"id": n, "blade": b} for n in list(told.read)[-3:] for b in blades)
        case "acknowledge":
            by = {"then": "accept", "by": "Ada", "reason": "seen"}
            yield from ({"id": number, **by} for number in told.alarms)
        case "relieve":
            yield {"by": "Ada"}
        case "aim":
            yield {"at": "target"}
        case "note":
            yield {"text": "t"}
        case "end" | "abandon":
            yield {"by": "Ada", "reason": "dusk"}
        case _:
            yield {}


def one_press_does_what_the_view_says(now: Instant) -> None:
    view = now.view
    if view.press is None:
        results = [tried(now, kind, {})[1].result for kind in ("take", "done")]
        assert results == ["refused", "refused"]
        return
    twin, answer = tried(now, view.press, {})
    if view.press == "done":
        assert answer.result == "done"
        assert twin.view().step > view.step or twin.finished
    else:
        assert (answer.result == "done") == ("take" in view.offers)
        assert tried(now, "done", {})[1].result == "refused"


def an_alarm_is_settable_where_setting_its_blade_again_answers_it(now: Instant) -> None:
    for alarm in now.view.alarms:
        twin, answer = tried(now, "acknowledge", {"id": alarm.id, "then": "set-again"})
        assert (answer.result == "done") == alarm.settable
        assert not alarm.settable or alarm.id not in {one.id for one in twin.view().alarms}


def what_is_asked_waits_for_confirm(now: Instant) -> None:
    question = now.view.question
    assert (question is not None) == ("confirm" in now.view.offers)
    if question is not None:
        assert tried(now, "confirm", {"id": question.id + 1})[1].result == "refused"
        twin, answer = tried(now, "confirm", {"id": question.id})
        assert answer.result == "done"
        assert twin.view().question is None


def a_press_takes_where_the_view_says_so_and_nowhere_else(now: Instant) -> None:
    twin, answer = tried(now, "take", {})
    if now.view.live.may_take:
        assert answer.result == "done"
        assert came(twin, now.view), (now.view.t_ns, now.view.live)
    else:
        # a press before the level lies stands, and one before a question is answered waits
        before = now.view.live.motion in {"in hand", "no signal"} or now.view.question is not None
        assert answer.result == "refused" or before, (now.view.t_ns, now.view.live)


def came(engine: Engine, view: View) -> bool:
    """Whether a reading, or a question about it, comes while everything lies as it lies."""
    if engine.view().seen > view.seen + 1:
        return True  # with the press itself, which else only has its answer
    rng, t_ns = random.Random(7), view.t_ns + 1
    entries = {entry.name: entry for entry in engine.header.job.level}
    for _ in range(45):
        t_ns += PERIOD_NS
        for one in view.levels:
            if entries[one.name].role == "hub" or one.tilt_deg is None:
                continue
            source = entries[one.name].settings["fields"]["angle"]["source"]
            text = sentence(one.tilt_deg + rng.gauss(0.0, 0.02), source)
            events = engine.feed(Bytes(one.name, 0, text, t_ns))
            if any(isinstance(e.body, Captured | Asked) for e in events):
                return True
    return False
