"""Levels left on held blades, and a witness on hub or cowling, while others work.

A level with role "watch" watches the blade it lies on (`watches`), or with `watches = 0` it
lies on the cowling and tells the aircraft's own movement. Nothing is taken from it as a
reading; an alarm is raised when its blade is held and did not stay.
"""

from daemon.measure.stream.facts import LinkFact, Sampled
from daemon.measure.watch.watch import Watch, WatchOutcome
from daemon.workflow.case import Case
from shared.angles import stated
from shared.events import AlarmKind, Watched
from shared.job import LevelEntry

ALARMING: dict[str, AlarmKind] = {
    "moved": "moved",
    "changed": "changed",
    "creeping": "creeping",
}


class Watching:
    """Every level left on a blade.

    always: watch from the first sample on, whether the plan holds the blade or not.
    """

    def __init__(self, case: Case, *, always: bool) -> None:
        self._case = case
        self._always = always
        entries = [e for e in case.job.level if e.role == "watch"]
        self._blades = {e.name: e for e in entries if e.watches}
        self._witnesses = {e.name for e in entries if not e.watches}
        self._watches: dict[str, Watch] = {}
        self._attempts: dict[str, int] = {}
        self.states: dict[str, Watched] = {}
        """The last thing said of each watched level."""

    def sampled(self, fact: Sampled) -> bool:
        """Take one sample of a watching level; return whether it raised an alarm."""
        if fact.level in self._witnesses:
            for watch in self._watches.values():
                watch.push_witness(fact.tilt.angle_deg)
        elif (entry := self._blades.get(fact.level)) is not None and self._wanted(entry):
            watch = self._watches.get(fact.level) or self._begin(entry)
            return self._say(entry, watch.push(fact.tilt.angle_deg))
        return False

    def linked(self, fact: LinkFact) -> None:
        """A watching level fell silent or went away: that is said at once.

        How long it stayed away is known when it is back.
        """
        watch = self._watches.get(fact.level)
        if watch is not None and fact.state in {"silent", "down", "back"}:
            rate = self._case.header.profiles[fact.level].reporting.rate_hz
            entry = self._blades[fact.level]
            self._say(entry, watch.missed(max(1, round(fact.gap_s * rate))))

    def _wanted(self, entry: LevelEntry) -> bool:
        """Whether the blade is one that nobody may touch; else its watch is over."""
        member = self._case.members[entry.watches]
        if self._attempts.setdefault(entry.name, member.attempt) != member.attempt:
            self._attempts[entry.name] = member.attempt
            self._watches.pop(entry.name, None)
        if self._always or member.baseline is not None:
            return True
        self._watches.pop(entry.name, None)
        self.states.pop(entry.name, None)
        return False

    def _begin(self, entry: LevelEntry) -> Watch:
        profile = self._case.header.profiles[entry.name]
        watch = Watch(
            rate_hz=profile.reporting.rate_hz,
            noise=profile.noise,
            resolution_deg=profile.resolution_deg,
            witness=bool(self._witnesses),
            name=self._case.name(entry.watches),
            lift_deg=self._case.job.thresholds.lift_deg,
            seat_deg=profile.seating.u_deg,
        )
        self._watches[entry.name] = watch
        return watch

    def _say(self, entry: LevelEntry, outcomes: list[WatchOutcome]) -> bool:
        """Say what a watch found; return whether that raised an alarm."""
        case, called = self._case, False
        for one in outcomes:
            change, u95 = stated(one.change_deg), stated(one.u95_deg)
            said = Watched(entry.name, entry.watches, one.state, change, u95, one.say)
            self.states[entry.name] = said
            case.say(said)
            kind = ALARMING.get(one.state)
            if kind is None or any(a.kind == kind for a in case.alarms.of(entry.watches)):
                continue
            baseline = case.members[entry.watches].baseline
            good = baseline.angle_deg if baseline else None
            case.alarms.call(entry.watches, kind, one.say, good)
            case.suspect(entry.watches)
            called = True
        return called
