"""A session at any moment: wherever one jumps, what is shown is what was shown then."""

import random
from collections import deque
from copy import deepcopy
from itertools import pairwise
from pathlib import Path

import pytest

from daemon.core.engine import Engine
from daemon.session import playback as playbacks
from daemon.session.playback import FoldedPlayback
from daemon.session.recording import Recording
from drivers import codecs
from drivers.recordings import from_text
from shared.errors import BadInputError
from shared.events import Captured, Event
from shared.inputs import NS, Bytes, Input
from shared.view import View
from tests.drivers.test_recordings import LOGS
from tests.workflow.view_record import SOURCES, source


def recorded(name: str) -> Recording:
    """A job as it would have been read from a file."""
    header, inputs = source(name)
    return Recording(header, inputs, reach_ns=inputs[-1].t_ns + NS // 3)


def straight(recording: Recording, *moments: int) -> dict[int, tuple[View, list[Event]]]:
    """What one engine that is fed from the beginning shows at each moment, and has said by then."""
    engine, said, left = Engine(recording.header), list[Event](), deque(recording.inputs)
    found = {}
    for to_ns in sorted(moments):
        while left and left[0].t_ns <= to_ns:
            said += engine.feed(left.popleft())
        said += engine.advance(to_ns)
        found[to_ns] = engine.view(to_ns), said.copy()
    return found


def whole(recording: Recording) -> FoldedPlayback:
    it = FoldedPlayback(recording)
    while not it.complete:
        it.go_on(1000)
    return it


@pytest.mark.parametrize("name", sorted(SOURCES))
def test_any_moment_is_what_it_was(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Forwards, backwards, anywhere: against an engine that was fed from the beginning."""
    monkeypatch.setattr(playbacks, "SNAPSHOT_EVERY", 97)
    recording = recorded(name)
    it = whole(recording)
    chance = random.Random(f"moments of {name}")
    moments = [chance.randrange(recording.reach_ns) for _ in range(6)]
    moments += [moments[-1] + NS // 10, 0, recording.reach_ns]
    truly = straight(recording, *moments)
    for at_ns in moments:
        shown, said = truly[at_ns]
        assert it.view(at_ns) == shown
        assert [event for event in it.events if event.t_ns <= at_ns] == said


def test_it_says_only_what_is_folded() -> None:
    recording = recorded("golden")
    it = FoldedPlayback(recording)
    it.go_on(1500)
    assert not it.complete
    assert 0 < it.folded_ns < it.reach_ns
    assert it.view(it.reach_ns) == straight(recording, it.folded_ns)[it.folded_ns][0]
    assert {e.t_ns <= it.folded_ns for e in it.events} == {True}
    assert it.trace[-1].t_ns <= it.folded_ns


def test_the_trace_is_of_blades_that_lay_still_or_were_turned() -> None:
    it = whole(recorded("golden"))
    times = [point.t_ns for point in it.trace]
    errors = [point.error_deg for point in it.trace if point.error_deg is not None]
    assert min(b - a for a, b in pairwise(times)) >= NS // 2
    assert len(errors) > 100
    held = [e.body for e in it.events if isinstance(e.body, Captured) and e.body.blade == 1]
    target = recorded("golden").header.job.target.angle_deg
    for reading in held:  # where a reading was taken, the trace was there
        assert min(abs(error - (reading.angle_deg - target)) for error in errors) < 0.1


def test_going_back_begins_at_the_snapshot_before(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(playbacks, "SNAPSHOT_EVERY", 500)
    it = whole(recorded("golden"))
    fed = 0
    feed = Engine.feed

    def counted(engine: Engine, item: Input) -> list[Event]:
        nonlocal fed
        fed += 1
        return feed(engine, item)

    monkeypatch.setattr(Engine, "feed", counted)
    for share in (0.9, 0.1, 0.5, 0.4999):
        fed = 0
        it.view(int(it.reach_ns * share))
        assert fed <= 500


def test_an_input_that_no_engine_takes_is_named() -> None:
    recording = recorded("golden")
    first = next(iter(recording.inputs))
    strange = Bytes("nobody", 0, b"", first.t_ns)
    it = FoldedPlayback(Recording(recording.header, (strange,), reach_ns=NS))
    with pytest.raises(BadInputError, match=r"cannot be replayed.*nobody"):
        it.go_on(10)


@pytest.mark.parametrize("log", LOGS, ids=lambda log: log.stem)
def test_every_codec_survives_a_snapshot(log: Path) -> None:
    """A codec keeps half a line or a mode between chunks: that has to be in the snapshot."""
    recording = from_text(log.read_text("utf-8"), log.name)
    profile = recording.level_profile()
    straight_on, broken = codecs.make(profile), codecs.make(profile)
    for chunk in recording.chunks:
        if chunk.data is not None:
            kept = deepcopy(broken)
            assert kept.feed(chunk.channel, chunk.data) == straight_on.feed(
                chunk.channel, chunk.data
            )
            broken = kept


def test_once_it_is_folded_nothing_more_is_said() -> None:
    it = whole(recorded("halves"))
    said, reached = list(it.events), it.folded_ns
    it.go_on(10)
    assert (it.complete, it.events, it.folded_ns) == (True, said, reached)
