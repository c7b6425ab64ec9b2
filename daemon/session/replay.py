"""Replay: the recorded inputs through the same engine; compare with the recorded outputs."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

from daemon.core.engine import Engine
from daemon.core.rules import RULES
from daemon.session.recording import Recording
from shared.errors import BadInputError
from shared.events import Answered, Captured, Event, Held, Verdict
from shared.inputs import ALL_SEEN, Command, Input
from shared.messages import event_to_dict

Told = Callable[[int, int], None]
"""Hears how far a replay is: session time, and the time it goes to, in ns."""
TOLD_EVERY = 4096
"""Inputs between two words of how far it is."""


def untold(_: int, __: int) -> None:
    """Nobody wants to know how far it is."""


def replay(recording: Recording) -> list[Event]:
    """Return the outputs of the recorded inputs, deadlines up to the time reached included.

    Raises:
        BadInputError: inputs out of order, of a level the job does not have, or numbers that
            nobody can reckon with.
    """
    return rebuilt(recording)[1]


def rebuilt(recording: Recording, told: Told = untold) -> tuple[Engine, list[Event]]:
    """Return the engine as the recording left it, and its outputs.

    told: hears how far it is, every few thousand inputs.

    Raises:
        BadInputError: inputs out of order, of a level the job does not have, or numbers that
            nobody can reckon with.
    """
    events: list[Event] = []
    with folding(recording):
        engine = Engine(recording.header)
        for count, item in enumerate(of_these_rules(recording), 1):
            events += engine.feed(item)
            if count % TOLD_EVERY == 0:
                told(item.t_ns, recording.reach_ns)
        return engine, events + engine.advance(recording.reach_ns)


@contextmanager
def folding(recording: Recording) -> Iterator[None]:
    """Say which session it was whose inputs no engine can take.

    Raises:
        BadInputError: the engine refused one, or could not reckon with its numbers.
    """
    try:
        yield
    except (ValueError, ArithmeticError) as error:
        where = f"session {recording.header.session}"
        raise BadInputError(where, "", f"it cannot be replayed: {error}") from error


def of_these_rules(recording: Recording) -> Iterator[Input]:
    """Yield the inputs.

    Under other rules events have other numbers, so what a command had seen is not its number of
    then: one that was not answered "stale" had seen its step.
    """
    if recording.header.rules == RULES:
        yield from recording.inputs
        return
    answers = (event.body for event in recording.events if isinstance(event.body, Answered))
    stale = {answer.command for answer in answers if answer.result == "stale"}
    for item in recording.inputs:
        if isinstance(item, Command):
            yield replace(item, seen=0 if item.id in stale else ALL_SEEN)
        else:
            yield item


@dataclass(frozen=True, slots=True)
class Verification:
    """What comparing recorded with replayed outputs came to.

    Attributes:
        agrees: under the same rules every output is identical; under others every angle
            agrees within its uncertainty and every verdict is equal.
        say: in words, the first difference included.
    """

    agrees: bool
    say: str


def verify(recording: Recording, replayed: list[Event]) -> Verification:
    """Compare recorded outputs with replayed ones."""
    if not recording.events:
        return Verification(False, "nothing to verify: the session has no recorded outputs")
    rules = recording.header.rules
    if rules == RULES:
        return _identical(recording.events, replayed)
    found = _comparable(recording.events, replayed)
    word = "agree within their uncertainty" if not found else f"differ: {found}"
    return Verification(not found, f"recorded under rules {rules}, replayed under {RULES}: {word}")


def _identical(recorded: list[Event], replayed: list[Event]) -> Verification:
    for old, new in zip(recorded, replayed, strict=False):
        if old != new:
            return Verification(False, f"event {old.n} differs: {_difference(old, new)}")
    if len(recorded) != len(replayed):
        return Verification(
            False, f"{len(recorded)} outputs are recorded, {len(replayed)} were replayed"
        )
    return Verification(True, f"{len(recorded)} outputs, all identical")


def _difference(old: Event, new: Event) -> str:
    a, b = event_to_dict(old), event_to_dict(new)
    keys = [key for key in [*a, *b] if a.get(key) != b.get(key)]
    return f"{keys[0]} was {a.get(keys[0])!r}, is {b.get(keys[0])!r}"


def _comparable(recorded: list[Event], replayed: list[Event]) -> str:
    """Return the first angle or verdict that does not agree, or ""."""
    old, new = _results(recorded), _results(replayed)
    if len(old) != len(new):
        return f"{len(old)} readings and verdicts were recorded, {len(new)} were replayed"
    for a, b in zip(old, new, strict=True):
        if isinstance(a, Verdict) and isinstance(b, Verdict):
            if (a.blade, a.state) != (b.blade, b.state):
                return f"verdict on {a.blade}: was {a.state}, is {b.state}"
        elif isinstance(a, Captured | Held) and isinstance(b, Captured | Held):
            if a.blade != b.blade or abs(a.angle_deg - b.angle_deg) > max(a.u95_deg, b.u95_deg):
                return f"blade {a.blade}: was {a.angle_deg}, is {b.angle_deg}"
        else:
            return f"a {a.event} became a {b.event}"
    return ""


def _results(events: list[Event]) -> list[Captured | Held | Verdict]:
    return [e.body for e in events if isinstance(e.body, Captured | Held | Verdict)]
