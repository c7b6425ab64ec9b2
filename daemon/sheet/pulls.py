"""How far the bolts of a hub turn its blades, as the rounds of a session recorded it. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from daemon.session.recording import Recording
from shared.events import Held, Judged
from shared.plan import Round


def pulls_of(recording: Recording) -> dict[str, dict[int, float]]:
    """Return by tightening round how far each blade stood from where it was before any bolt, degrees.

    Of every round the first time that its bolts were read after; a blade only of rounds whose bolts hold it.
    A round after which nothing is read is told by the next that reads.
    """
    job = recording.header.job
    pulls = _Pulls(job.plan.in_order, job.propeller.blades)
    for event in recording.events:
        if isinstance(event.body, Held):
            pulls.before[event.body.blade] = event.body.angle_deg
        elif isinstance(event.body, Judged):
            pulls.judge(event.body)
    return pulls.found


@dataclass(slots=True)
class _Pulls:
    """What was found until now. reached: how many of the rounds were read, or lie before one that was."""

    rounds: Sequence[Round]
    blades: int
    before: dict[int, float] = field(default_factory=dict)
    found: dict[str, dict[int, float]] = field(default_factory=dict)
    reached: int = 0

    def judge(self, body: Judged) -> None:
        index = next((i for i, one in enumerate(self.rounds) if one.name == body.stage), None)
        if index is None:
            return
        now, pulled = self.rounds[index], self._pulled(index)
        angles = {one["blade"]: one["angle_deg"] for one in body.blades}
        read = {b: a for b, a in angles.items() if a is not None and b in now.reads(self.blades)}
        if pulled is not None:
            self._tell(pulled, read)
        elif not self.found:
            self.before.update(read)
        self.reached = max(self.reached, index + 1)

    def _pulled(self, index: int) -> Round | None:
        """Return the last round that tightened since the one that was read before this."""
        since = self.rounds[min(self.reached, index) : index + 1]
        return next((one for one in reversed(since) if one.tighten), None)

    def _tell(self, pulled: Round, read: Mapping[int, float]) -> None:
        turned = {
            blade: round(angle - self.before[blade], 6)
            for blade, angle in read.items()
            if blade in self.before and blade in pulled.turns(self.blades)
        }
        if turned and pulled.name not in self.found:
            self.found[pulled.name] = turned
