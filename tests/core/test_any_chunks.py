"""Five jobs give the same events however their bytes were cut, and whenever the shell ticked."""

import dataclasses
import itertools
from collections.abc import Iterable, Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.core.engine import Engine
from shared.events import Body, Event, Linked
from shared.inputs import NS, Bytes, Input
from tests.workflow.jobs import played

NAMES = ["hub", "watch", "two-levels", "on-change", "halves"]
EXAMPLES = settings(max_examples=3, deadline=None)
MANY = settings(max_examples=100, deadline=None)

SIZES = st.lists(st.integers(1, 97), min_size=1, max_size=30)
TICKS = st.lists(st.integers(0, 120 * NS), max_size=60)


def run(name: str, inputs: Iterable[Input], ticks: Iterable[int] = ()) -> list[Event]:
    """Return the events of a job with ticks between its inputs."""
    engine, events, due = Engine(played(name)[0]), [], iter(sorted(ticks))
    tick = next(due, None)
    for item in inputs:
        while tick is not None and tick < item.t_ns:
            events += engine.advance(tick)
            tick = next(due, None)
        events += engine.feed(item)
    return events


def cut(inputs: Iterable[Input], sizes: Iterator[int]) -> Iterator[Input]:
    """Yield every chunk in pieces, all with the stamp of the whole: no sample is stamped anew."""
    for item in inputs:
        if not isinstance(item, Bytes):
            yield item
            continue
        rest = item.data
        while rest:
            size = next(sizes)
            yield dataclasses.replace(item, data=rest[:size])
            rest = rest[size:]


def held_up(inputs: Iterable[Input], most: int) -> Iterator[Input]:
    """Yield chunks of several samples, as a busy transport makes them; its order is kept.

    A chunk comes when its last sample did, and before whatever else came after that.
    """
    waiting: list[Bytes] = []
    for item in inputs:
        same = isinstance(item, Bytes) and (not waiting or waiting[-1].level == item.level)
        if waiting and (not same or len(waiting) >= most):
            data = b"".join(one.data for one in waiting)
            yield dataclasses.replace(waiting[-1], data=data)
            waiting = []
        if isinstance(item, Bytes):
            waiting.append(item)
        else:
            yield item
    if waiting:
        yield dataclasses.replace(waiting[-1], data=b"".join(one.data for one in waiting))


def told(events: Iterable[Event]) -> list[Body]:
    """Return what was said without when, and without how long a silence was."""
    bodies = (event.body for event in events)
    return [
        dataclasses.replace(body, gap_s=0.0, reason="") if isinstance(body, Linked) else body
        for body in bodies
    ]


def any_tick_is_nothing(name: str, ticks: list[int]) -> None:
    _, inputs, events = played(name)
    assert run(name, inputs, ticks) == list(events)


def any_cut_is_the_same(name: str, sizes: list[int]) -> None:
    _, inputs, events = played(name)
    assert run(name, cut(inputs, itertools.cycle(sizes))) == list(events)


@pytest.mark.parametrize("name", NAMES)
@given(ticks=TICKS)
@EXAMPLES
def test_ticks_anywhere_change_nothing(name: str, ticks: list[int]) -> None:
    any_tick_is_nothing(name, ticks)


@pytest.mark.parametrize("name", NAMES)
@given(sizes=SIZES)
@EXAMPLES
def test_pieces_of_a_chunk_change_nothing(name: str, sizes: list[int]) -> None:
    any_cut_is_the_same(name, sizes)


@pytest.mark.parametrize("most", [2, 5])
@pytest.mark.parametrize("name", [name for name in NAMES if name != "on-change"])
def test_samples_that_come_together_say_the_same(name: str, most: int) -> None:
    """Of a level that sends on change the time between two samples is what was not said."""
    _, inputs, events = played(name)
    together = list(held_up(inputs, most))
    assert told(run(name, together)) == told(events)
    if name == "halves":
        assert len(together) < 0.75 * len(inputs)


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
@given(ticks=TICKS, sizes=SIZES)
@MANY
def test_many_ticks_and_pieces(name: str, ticks: list[int], sizes: list[int]) -> None:
    any_tick_is_nothing(name, ticks)
    any_cut_is_the_same(name, sizes)
