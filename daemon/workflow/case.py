"""What all parts of the workflow share: the job, the ledger, the alarms, and a voice."""

from collections.abc import Callable

from daemon.measure.angle import BladeAngle
from daemon.measure.verdict import judge as judge_tolerance
from daemon.workflow.angles import Angles
from daemon.workflow.ledger import Ledger, OpenAlarm
from daemon.workflow.plan import Progress
from shared.angles import stated
from shared.events import Alarm, AlarmKind, BladeId, Body, Cleared, Tolerance
from shared.job import Header

Say = Callable[[Body], int]
"""Says an event; returns its number."""


class Case:
    """One job being done.

    Attributes:
        say: announces an event.
        set_again: blades whose setting was started over since the round began.
        witness_saw_deg: how far the hub witness saw the aircraft tilt since the reference.
    """

    def __init__(self, header: Header, say: Say) -> None:
        self.job = header.job
        self.say = say
        self.ledger = Ledger(self.job.propeller.blades, self.job.setup)
        self.progress = Progress(watch_only=header.procedure == "watch")
        self.angles = Angles(header)
        self.set_again: set[int] = set()
        self.witness_saw_deg = 0.0

    def tolerance(self, error_deg: float, angle: BladeAngle) -> Tolerance:
        """Judge an error against the job's tolerance, with the angle's own guard band."""
        return judge_tolerance(error_deg, angle.budget.u95_deg, self.job.target.tolerance_deg)

    def alarms_of(self, blade: BladeId | None) -> list[OpenAlarm]:
        """Return the open alarms of one blade."""
        return [alarm for alarm in self.ledger.alarms.values() if alarm.blade == blade]

    def raise_alarm(
        self, blade: BladeId, kind: AlarmKind, say: str, last_good_deg: float | None
    ) -> None:
        """Say that something needs an answer; it stays until it has one."""
        alarm_id = self.ledger.next_alarm
        self.ledger.next_alarm += 1
        good = None if last_good_deg is None else stated(last_good_deg)
        self.ledger.alarms[alarm_id] = OpenAlarm(alarm_id, blade, kind, good, say)
        self.say(Alarm(alarm_id, blade, kind, good, say))

    def clear(self, alarm_id: int, how: str, by: str, reason: str = "") -> None:
        """An alarm was answered."""
        del self.ledger.alarms[alarm_id]
        self.say(Cleared(alarm_id, how, by, reason))  # type: ignore[arg-type]
