"""A recorded session at any moment: folded once, with snapshots of the fold held in memory.

Going on costs what the fold costs; going anywhere else begins at the snapshot before it. The
snapshots are never written to a file: the record is its inputs, and the rules are the program's.
"""

from bisect import bisect_right
from copy import deepcopy
from dataclasses import dataclass
from itertools import islice

from daemon.core.engine import Engine
from daemon.session.recording import Recording
from daemon.session.replay import folding, of_these_rules
from shared.events import REFERENCE, Event
from shared.inputs import NS, Input
from shared.playback import Point
from shared.view import View

SNAPSHOT_EVERY = 1500
"""Inputs between two snapshots: about a tenth of a second of folding."""
POINT_EVERY_NS = NS // 2


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The fold after `count` inputs, up to session time `t_ns`."""

    t_ns: int
    count: int
    fold: Engine


class FoldedPlayback:
    """A `shared.playback.Playback` of a recording that is sound."""

    def __init__(self, recording: Recording) -> None:
        """Take a recording; nothing is folded yet but its beginning."""
        self._recording = recording
        self._target_deg = self._target()
        self._coming = of_these_rules(recording)
        self._inputs: list[Input] = []
        self._front = Engine(recording.header)
        self._next_point_ns = 0
        self.events: list[Event] = self._front.advance(0)
        self.trace: list[Point] = []
        self.folded_ns = 0
        self.reach_ns = recording.reach_ns
        self.complete = False
        self._snapshots = [Snapshot(0, 0, _copy(self._front))]
        self._here, self._here_ns, self._count = _copy(self._front), 0, 0

    def _target(self) -> float | None:
        header = self._recording.header
        return header.job.target.angle_deg if header.procedure == "set" else None

    def go_on(self, inputs: int) -> None:
        """Fold so many inputs more; after the last one, the deadlines up to the end.

        Raises:
            BadInputError: one that no engine can take.
        """
        with folding(self._recording):
            taken = 0
            for taken, item in enumerate(islice(self._coming, inputs), 1):  # noqa: B007
                self._take(item)
            if taken < inputs:
                self.events += self._front.advance(self.reach_ns)
                self.folded_ns, self.complete = self.reach_ns, True

    def _take(self, item: Input) -> None:
        self.events += self._front.feed(item)
        self._inputs.append(item)
        self.folded_ns = item.t_ns
        if item.t_ns >= self._next_point_ns:
            self._next_point_ns = item.t_ns + POINT_EVERY_NS
            self.trace.append(Point(item.t_ns, self._error_deg()))
        if len(self._inputs) % SNAPSHOT_EVERY == 0:
            self._snapshots.append(Snapshot(item.t_ns, len(self._inputs), _copy(self._front)))

    def _error_deg(self) -> float | None:
        view = self._front.view()
        angle = view.live.angle_deg
        nowhere = view.live.motion in {"in hand", "no signal"} or view.blade == REFERENCE
        if nowhere or angle is None or self._target_deg is None:
            return None
        return angle - self._target_deg

    def view(self, t_ns: int) -> View:
        """Return what a face showed at a moment that was folded; a later one is the last folded."""
        t_ns = max(0, min(t_ns, self.folded_ns))
        nearest = self._snapshots[bisect_right(self._snapshots, t_ns, key=lambda one: one.t_ns) - 1]
        if t_ns < self._here_ns or nearest.count > self._count:
            self._restore(nearest)
        while self._count < len(self._inputs) and self._inputs[self._count].t_ns <= t_ns:
            self._here.feed(self._inputs[self._count])
            self._count += 1
        self._here.advance(t_ns)
        self._here_ns = t_ns
        return self._here.view(t_ns)

    def _restore(self, snapshot: Snapshot) -> None:
        self._here, self._here_ns = _copy(snapshot.fold), snapshot.t_ns
        self._count = snapshot.count


def _copy(engine: Engine) -> Engine:
    """Return the same state once more; the header is frozen, so both may have it."""
    return deepcopy(engine, {id(engine.header): engine.header})
