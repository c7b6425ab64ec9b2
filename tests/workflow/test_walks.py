"""Random walks through whole jobs: what holds whatever anybody does.

Never is a bolt torqued under an unanswered alarm, never is a reading lost, from anywhere there is a way to a
record, and every press of a level that lies there gets a reading, a question or a reason.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from daemon.measure.stream.facts import Fact, Ready, Still
from daemon.measure.stream.reading import Reading
from shared.events import Answered, Body, Learned, Linked, Noted, Refused
from shared.job import Header
from tests.workflow.walks import READ, Sampling, Telling, Walk, walked

BY_THE_HUNDRED = 100


def test_whatever_anybody_does_no_reading_is_lost_and_there_is_a_way_to_a_record() -> None:
    worlds = {walked(seed).world for seed in range(30)}
    assert len(worlds) > 5


@pytest.mark.parametrize("seed", range(4))
def test_the_same_holds_with_a_level_that_sends_its_samples(seed: int) -> None:
    walked(seed, Sampling, most=6)


@pytest.mark.long
@pytest.mark.parametrize("hundred", range(1, 101))
def test_ten_thousand_walks(hundred: int) -> None:
    for seed in range(BY_THE_HUNDRED * hundred, BY_THE_HUNDRED * (hundred + 1)):
        walked(seed)


@pytest.mark.long
@pytest.mark.parametrize("hundred", range(200, 210))
def test_a_thousand_walks_of_somebody_who_meddles_more_than_works(hundred: int) -> None:
    for seed in range(BY_THE_HUNDRED * hundred, BY_THE_HUNDRED * (hundred + 1)):
        walked(seed, wild=True)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 140))
def test_walks_with_a_level_that_sends_its_samples(seed: int) -> None:
    walked(seed, Sampling)


# --- the shortcut is held against the real way ------------------------------------------------------


class Kept(Sampling):
    """Hands that hold a level, and keep what each placement, and each turn under the level, read."""

    def __init__(self, header_: Header, seed: int = 1) -> None:
        self.readings: list[Reading] = []
        super().__init__(header_, seed)
        hear = self.engine._way.hear

        def kept(fact: Fact, now_ns: int) -> None:
            taken = len(self._entries)
            hear(fact, now_ns)
            self._keep(fact, taken)

        self.engine._way.hear = kept  # type: ignore[method-assign]

    @property
    def _entries(self) -> list[Any]:
        return self.engine._case.ledger.entries

    def lie(self, angle_deg: float) -> None:
        self._next()
        super().lie(angle_deg)

    def turn(self, angle_deg: float) -> None:
        self._next()
        super().turn(angle_deg)

    def press(self, kind: Any = "take", seen: int | None = None, **args: Any) -> Answered:
        taken = len(self._entries)
        answer = super().press(kind, seen, **args)
        self._keep(None, taken)
        return answer

    def _next(self) -> None:
        self.readings.append(READ)
        self._fixed = False

    def _keep(self, fact: Fact | None, taken: int) -> None:
        """Keep the reading that was taken; where none was, the newest."""
        if len(self._entries) > taken and self.readings:
            self.readings[-1], self._fixed = self._entries[-1].reading, True
        elif isinstance(fact, Ready | Still) and self.readings and not self._fixed:
            self.readings[-1] = fact.reading


def said(events: list[Any]) -> list[Body]:
    """Return what was said of the job, without what only the stream tells."""
    return [_bare(e.body) for e in events if not _of_the_pipe(e.body)]


def _of_the_pipe(body: Body) -> bool:
    creeps = isinstance(body, Noted) and "creeps under the level" in body.say
    return creeps or isinstance(body, Linked | Learned | Refused)


def _bare(body: Body) -> Body:
    return replace(body, say="") if isinstance(body, Noted) else body


def retold(walk: Walk, kept: Kept) -> Telling:
    """Do what was done in a walk once more, and only tell what the level read."""
    telling, readings = Telling(kept.header), iter(kept.readings)
    for what, *args in walk.deeds:
        _redo(telling, kept, readings, what, args)
    return telling


def _redo(telling: Telling, kept: Kept, readings: Iterator[Reading], what: str, args: Any) -> None:
    match what, args:
        case "press", [kind, seen, named]:
            telling.press(kind, None if seen is None else _seen(telling, kept, seen), **named)
        case (("lie" | "turn"), _):
            getattr(telling, f"{what}_as")(next(readings))
        case _:
            getattr(telling, what)(*args)


def _seen(telling: Telling, kept: Kept, seen: int) -> int:
    """Return the number of the same event among those that were told."""
    count = len(said([e for e in kept.events if e.n <= seen]))
    mine = [e.n for e in telling.events if not _of_the_pipe(e.body)]
    return mine[count - 1] if count else 0


def alike(seed: int, most: int) -> None:
    walk = walked(seed, Kept, most)
    kept = walk.hands
    assert isinstance(kept, Kept)
    assert said(retold(walk, kept).events) == said(kept.events)


@pytest.mark.parametrize("seed", range(200, 204))
def test_what_is_told_comes_to_the_same_as_the_samples_it_stands_for(seed: int) -> None:
    alike(seed, 10)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(300, 360))
def test_whole_walks_that_are_told_come_to_the_same_as_their_samples(seed: int) -> None:
    alike(seed, 24)
