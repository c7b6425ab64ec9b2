"""What the program said, held against the truth: rows of a confusion table.

A blade's *episode* runs from the moment it is held (or its change is accepted) until it is set
again or the job ends. In it, every verdict is judged by the blade's true change between the
start of the episode and the blade's last reading before that verdict: what happened after the
reading nobody can have seen.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from shared.events import (
    REFERENCE,
    Alarm,
    Asked,
    BladeId,
    Captured,
    Cleared,
    Event,
    Held,
    Judged,
    StepChanged,
    Summary,
    Verdict,
    Watched,
)
from simulator.scenario import Allowed
from simulator.truth import Truth

Kind = Literal[
    "called",  # a blade moved and was called moved or turned
    "missed",  # it moved, was read, and was never called
    "unread",  # it moved and was not read afterwards
    "slight",  # it moved by less than must be called, and was not called
    "left alone",  # it did not move and nobody said so
    "accused",  # it did not move and was called moved or turned
    "shift blamed",  # accused, in a job in which aircraft or level shifted
    "shift not blamed",  # left alone, in such a job
    "reference cleared",  # neither aircraft nor level shifted, and the reference was not blamed
    "reference blamed",  # nothing shifted, and the reference was blamed
    "shift seen",  # something shifted for good, and the reference was blamed
    "shift unseen",  # something shifted for good, by as much as must be called, and nobody said so
    "steady",  # said to be steady, and true within what it said could hide
    "steady but moved",  # said to be steady, but moved beyond what it said could hide
    "measured",  # a reading within its stated uncertainty
    "measured outside",  # a reading further from the truth than its U95
]
WATCHED_NS = 120_000_000_000
CALLS = frozenset({"moved", "turned"})


@dataclass(frozen=True, slots=True)
class Row:
    """One case of the confusion table."""

    kind: Kind
    blade: int | Literal["reference"]
    size_deg: float
    """True change, or true error of a reading."""
    t_ns: int
    stage: str


@dataclass(frozen=True, slots=True)
class Breach:
    """Something was said that this scenario does not allow."""

    t_ns: int
    says: str


@dataclass(slots=True)
class _Episode:
    blade: int
    since_ns: int
    last_ns: int | None = None
    set_again: bool = False
    sizes: list[tuple[int, float, str]] = field(default_factory=list)
    """True change at each reading: time, size, stage."""
    judged: list[tuple[Verdict, float, int]] = field(default_factory=list)


def judge(events: Sequence[Event], truth: Truth, allowed: Allowed) -> list[Row]:
    """Return every case of one job, in order of time."""
    rows: list[Row] = []
    for episode in _episodes(events, truth):
        rows += _episode_rows(episode, truth, allowed)
        rows += _steady_rows(episode)
    rows += _blame_rows(rows, truth)
    rows += _reference_rows(events, truth, allowed)
    rows += _reading_rows(events, truth)
    return sorted(rows, key=lambda row: row.t_ns)


def breaches(events: Sequence[Event], truth: Truth, allowed: Allowed) -> list[Breach]:
    """Return everything that a scenario's [allowed] table does not permit."""
    found = _verdict_breaches(events, truth, allowed)
    for row in judge(events, truth, allowed):
        if row.kind == "missed":
            found.append(
                Breach(row.t_ns, f"blade {row.blade} moved {row.size_deg:+.2f}, not called")
            )
        elif row.kind == "steady but moved":
            says = f"blade {row.blade} called steady beyond what could hide: {row.size_deg:+.2f}"
            found.append(Breach(row.t_ns, says))
        elif row.kind.startswith("measured") and abs(row.size_deg) > allowed.error_deg:
            found.append(Breach(row.t_ns, f"blade {row.blade} read {row.size_deg:+.2f} wrong"))
    found += _watch_breaches(events, truth, allowed)
    for event in events:
        if isinstance(event.body, Asked) and not allowed.asks:
            found.append(Breach(event.t_ns, f"asked: {event.body.say}"))
    ended = any(isinstance(e.body, Summary) and e.body.state == "finished" for e in events)
    if not ended and not allowed.unfinished:
        found.append(Breach(truth.t_ns, f"the job did not end: {truth.stuck or 'out of time'}"))
    return sorted(found, key=lambda breach: breach.t_ns)


# -- episodes -------------------------------------------------------------------------------


class _Cutter:
    """Cuts a job into episodes as its events pass, each reading and verdict in its own."""

    def __init__(self, truth: Truth) -> None:
        self.done: list[_Episode] = []
        self._truth = truth
        self._running: dict[int, _Episode] = {}
        self._alarmed: dict[int, int] = {}
        self._tightened = False
        """Bolts were worked on since a round was judged."""

    def pass_by(self, event: Event) -> None:
        """Take one event in."""
        body, t_ns = event.body, event.t_ns
        if isinstance(body, Held):
            self._held(body, t_ns)
        elif isinstance(body, StepChanged) and body.stage == "set":
            self._end(body.blade)
        elif isinstance(body, StepChanged) and body.stage == "tighten":
            self._tightened = True
        elif isinstance(body, Alarm) and isinstance(body.blade, int):
            self._alarmed[body.id] = body.blade
        elif isinstance(body, Cleared) and body.alarm in self._alarmed:
            self._cleared(body, t_ns)
        elif isinstance(body, Judged):
            self._turned_by_bolts()
        elif isinstance(body, Captured | Verdict) and isinstance(body.blade, int):
            episode = self._running.get(body.blade)
            if episode is not None:
                self._facts(episode, body, t_ns)

    def _held(self, body: Held, t_ns: int) -> None:
        """Held, or held anew to another reference, where it is as it was read last.

        Unless it is still what it was set to that was referred anew.
        """
        before = self._running.get(body.blade)
        if before is None:
            self._begin(body.blade, t_ns)
        elif before.last_ns is not None and (
            self._off(body, before.last_ns) <= self._off(body, before.since_ns)
        ):
            self._begin(body.blade, before.last_ns)

    def _off(self, held: Held, t_ns: int) -> float:
        return abs(self._truth.angle_at(held.blade, t_ns) - held.angle_deg)

    def _begin(self, blade: int, t_ns: int) -> None:
        self._running[blade] = _Episode(blade, t_ns)
        self.done.append(self._running[blade])

    def _end(self, blade: BladeId | None) -> _Episode | None:
        episode = self._running.pop(blade, None) if isinstance(blade, int) else None
        if episode is not None:
            episode.set_again = True
        return episode

    def _turned_by_bolts(self) -> None:
        """A round is judged: what tightening turned, or may have, is held to where it was read."""
        words = {"turned", "not known"} if self._tightened else {"turned"}
        for blade, episode in list(self._running.items()):
            if episode.judged and episode.judged[-1][0].state in words:
                self._begin(blade, episode.last_ns or episode.since_ns)
        self._tightened = False

    def _cleared(self, body: Cleared, t_ns: int) -> None:
        blade = self._alarmed[body.alarm]
        if body.how == "set-again":
            self._end(blade)
        elif body.how == "accept":
            ended = self._end(blade)
            self._begin(blade, t_ns if ended is None else ended.last_ns or t_ns)

    def _facts(self, episode: _Episode, body: Captured | Verdict, t_ns: int) -> None:
        if isinstance(body, Captured):
            episode.last_ns = t_ns
            episode.sizes.append((t_ns, self._change(episode, t_ns), body.stage))
        else:
            at_ns = episode.since_ns if episode.last_ns is None else episode.last_ns
            episode.judged.append((body, self._change(episode, at_ns), t_ns))

    def _change(self, episode: _Episode, t_ns: int) -> float:
        blade, since_ns = episode.blade, episode.since_ns
        return self._truth.angle_at(blade, t_ns) - self._truth.angle_at(blade, since_ns)


def _episodes(events: Sequence[Event], truth: Truth) -> list[_Episode]:
    cutter = _Cutter(truth)
    for event in events:
        cutter.pass_by(event)
    return cutter.done


def _episode_rows(episode: _Episode, truth: Truth, allowed: Allowed) -> list[Row]:
    calls = [(size, t) for verdict, size, t in episode.judged if verdict.state in CALLS]
    rows = [
        Row("accused", episode.blade, size, t, "")
        for size, t in calls[:1]
        if abs(size) < allowed.hold_deg
    ]
    moved = [one for one in episode.sizes if abs(one[1]) >= allowed.hold_deg]
    if moved:
        t_ns, size, stage = max(moved, key=lambda one: abs(one[1]))
        called = any(abs(size) >= allowed.hold_deg for size, _ in calls)
        must = abs(size) >= allowed.call_from_deg
        kind: Kind = "called" if called else "missed" if must else "slight"
        rows.append(Row(kind, episode.blade, size, t_ns, stage))
    elif not rows and episode.sizes:
        rows.append(Row("left alone", episode.blade, 0.0, episode.sizes[-1][0], ""))
    return rows + _unread(episode, truth, allowed)


def _unread(episode: _Episode, truth: Truth, allowed: Allowed) -> list[Row]:
    """Mishaps that nothing looked at: after the last reading of a blade not set again."""
    last = episode.since_ns if episode.last_ns is None else episode.last_ns
    return [
        Row("unread", move.blade, move.size_deg, move.t_ns, move.stage)
        for move in truth.moved
        if not episode.set_again
        and move.blade == episode.blade
        and move.t_ns > last
        and abs(move.size_deg) >= allowed.hold_deg
    ]


def _steady_rows(episode: _Episode) -> list[Row]:
    rows: list[Row] = []
    for verdict, size, t_ns in episode.judged:
        if verdict.state != "steady" or verdict.could_hide_deg is None:
            continue
        beyond = abs(size) > verdict.could_hide_deg
        kind: Kind = "steady but moved" if beyond else "steady"
        rows.append(Row(kind, episode.blade, size, t_ns, verdict.stage))
    return rows


def _blame_rows(rows: Sequence[Row], truth: Truth) -> list[Row]:
    """Return the accused and the left alone once more where a shift could have been blamed."""
    words: dict[Kind, Kind] = {"accused": "shift blamed", "left alone": "shift not blamed"}
    if not truth.shifts:
        return []
    return [replace(row, kind=words[row.kind]) for row in rows if row.kind in words]


# -- the reference, and single readings ---------------------------------------------------------


def _reference_rows(events: Sequence[Event], truth: Truth, allowed: Allowed) -> list[Row]:
    """One row a job: was the reference blamed, and was there anything to blame it for?

    None where either word is fair: what shifted came back, or is less than must be called.
    """
    blamed = [
        event
        for event in events
        if isinstance(event.body, Verdict)
        and event.body.blade == REFERENCE
        and event.body.state == "shifted"
    ]
    lasting = [shift for shift in truth.shifts if shift.lasting]
    size = math.fsum(shift.size_deg for shift in lasting)
    t_ns = blamed[0].t_ns if blamed else truth.t_ns
    if lasting and (blamed or abs(size) >= allowed.call_from_deg):
        kind: Kind = "shift seen" if blamed else "shift unseen"
    elif truth.shifts:
        return []
    else:
        kind = "reference blamed" if blamed else "reference cleared"
    return [Row(kind, REFERENCE, size, t_ns, "")]


def _reading_rows(events: Sequence[Event], truth: Truth) -> list[Row]:
    rows: list[Row] = []
    for event in events:
        body = event.body
        if not isinstance(body, Captured) or not isinstance(body.blade, int):
            continue
        error = body.angle_deg - truth.angle_at(body.blade, event.t_ns)
        kind: Kind = "measured outside" if abs(error) > body.u95_deg else "measured"
        rows.append(Row(kind, body.blade, error, event.t_ns, body.stage))
    return rows


def _verdict_breaches(events: Sequence[Event], truth: Truth, allowed: Allowed) -> list[Breach]:
    found: list[Breach] = []
    for episode in _episodes(events, truth):
        for verdict, size, t_ns in episode.judged:
            touched = abs(size) >= allowed.hold_deg
            words = allowed.touched if touched else allowed.untouched
            hidden = verdict.state == "steady" and abs(size) < allowed.call_from_deg
            if verdict.state not in words and not (touched and hidden):
                says = f"blade {episode.blade} called {verdict.state}; truly {size:+.2f}"
                found.append(Breach(t_ns, says))
    for event in events:
        body = event.body
        if not isinstance(body, Verdict) or body.blade != REFERENCE:
            continue
        if body.state not in allowed.reference:
            found.append(Breach(event.t_ns, f"reference called {body.state}"))
    return found


def _watch_breaches(events: Sequence[Event], truth: Truth, allowed: Allowed) -> list[Breach]:
    """A watched blade said to have moved, though it had not for two minutes."""
    found: list[Breach] = []
    for event in events:
        body = event.body
        if not isinstance(body, Watched) or not isinstance(body.blade, int) or body.blade < 1:
            continue
        now = truth.angle_at(body.blade, event.t_ns)
        change = now - truth.angle_at(body.blade, event.t_ns - WATCHED_NS)
        if body.state in {"moved", "creeping"} and abs(change) < allowed.hold_deg:
            says = f"watched blade {body.blade} called {body.state}; truly {change:+.2f}"
            found.append(Breach(event.t_ns, says))
    return found
