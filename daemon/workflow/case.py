"""One job being done: everything that is known of it, each part changed by its own verbs only."""

import math
from collections.abc import Iterable

from daemon.measure.angle.verdict import judge as judge_tolerance
from daemon.measure.stream.turnover import feels
from daemon.workflow import words
from daemon.workflow.aim import Aim, At
from daemon.workflow.alarms import Acceptance, Alarms, OpenAlarm
from daemon.workflow.breaks import Breaks
from daemon.workflow.hands import hands_of
from daemon.workflow.hub import Hub
from daemon.workflow.ledger import Entry, Ledger
from daemon.workflow.members import Member, Members
from daemon.workflow.plan import FOUND, Progress, Step, clamped_with
from daemon.workflow.proofs import Proofs
from daemon.workflow.referred import Referred
from daemon.workflow.takings import Takings
from shared.events import REFERENCE, BladeId, Noted, Say, StepChanged, Tolerance
from shared.job import Header

PROOF_SINCE = 7
"""Rules since which nothing is taken by itself before somebody turned the level over."""
SETTING_TELLS_SINCE = 10
"""Rules since which what a blade read last while it was set tells of the level's seating."""
MISHAPS_TELL_SINCE = 11
"""Rules since which what somebody aboard or a knock does to a round is not held for the level's seating."""
LAST_ROUND_SINCE = 11
"""Rules since which the last round is taken by itself without a witness too."""
FEWER_SINCE = 8
"""Rules since which no reading is asked for that would change no answer."""


class Case:
    """The job, its readings and members, the alarms, and a voice.

    Args:
        header: the session's.
        say: announces an event.
    """

    def __init__(self, header: Header, say: Say) -> None:
        self.header = header
        self.job = header.job
        self.say = say
        seatings = {name: profile.seating for name, profile in header.profiles.items()}
        self.ledger = Ledger(
            self.job.setup,
            seatings,
            setting_tells=header.rules >= SETTING_TELLS_SINCE,
            mishaps_tell=header.rules >= MISHAPS_TELL_SINCE,
        )
        self.members = Members(self.ledger, self.job.propeller.blades)
        self.progress = _progress(header)
        self.step = Step("")
        """What the plan proposes now."""
        self.step_number = self.step_ns = 0
        self.step_event = 0
        """Number of the event that announced it: what a command must have seen."""
        self.alarms = Alarms(say)
        self.breaks = Breaks(header.started)
        self.aim = Aim(self.job.target.angle_deg, header.pulled_deg)
        self.referred = Referred(header, self.members.reference)
        self.hub = Hub(header)
        self.takings = Takings([e.name for e in self.job.level if e.role == "blade"])
        by_itself, needed = _by_itself(header), header.rules >= PROOF_SINCE
        feel = {name for name, profile in header.profiles.items() if feels(profile)}
        self.proofs = Proofs(wanted=by_itself, needed=needed, feel=feel)
        self.accepted: list[Acceptance] = []
        """What people took as it is; it changes no verdict on tolerance."""
        self._suspected: dict[int, int] = {}
        """Blades that a level left on them saw move: the last reading before that."""
        self._cautioned: set[str] = set()

    def name(self, blade: BladeId | None) -> str:
        """Return what a member is called."""
        return words.named(self.job, blade)

    @property
    def aim_deg(self) -> float:
        """What blades are judged by: what they are set to, and the target once bolts are tight."""
        return self.job.target.angle_deg if self.progress.tight else self.aim.deg

    def aims(self) -> dict[At, float]:
        """Return what blades may be set to."""
        of_blades = [m.baseline for m in self.members if m.blade != REFERENCE]
        held = [baseline.angle_deg for baseline in of_blades if baseline is not None]
        return self.aim.choices(math.fsum(held) / len(held) if held else None)

    def tolerance(self, error_deg: float, u95_deg: float) -> Tolerance:
        """Judge an error against the job's tolerance, with the angle's own guard band."""
        return judge_tolerance(error_deg, u95_deg, self.job.target.tolerance_deg)

    def passed(self, step: Step) -> int:
        """Return which pass a reading in this step belongs to."""
        if step.stage in {"reference", "set", "baseline"} and step.blade is not None:
            return self.members[step.blade].attempt
        return 1 if step.stage == FOUND else self.progress.passed

    def read_now(self, blade: BladeId) -> list[Entry]:
        """Return a member's readings in the present pass of the round."""
        return self.ledger.of(blade, self.progress.round, self.progress.passed)

    def placed_now(self, blade: BladeId) -> int:
        """Return how many placements a member has in the present pass of the round."""
        return self.ledger.placements(blade, self.progress.round, self.progress.passed)

    def takes_itself(self, level: str, step: Step) -> bool:
        """Whether readings of this step may be taken from this level by themselves at all."""
        if not self.proofs.given(level) or not step.reads:
            return False
        if step.blade == REFERENCE:
            return self.proofs.wanted or self.referred.reference is not None
        if self.header.rules >= LAST_ROUND_SINCE:
            return True
        progress = self.progress
        last = step.stage == progress.now.name and progress.index == len(progress.rounds) - 1
        return not last or self.hub.level is not None

    def _taken_by(self, step: Step) -> words.TakenBy:
        """Return what takes a reading of this step, as far as it is known before the level lies."""
        levels = [taking.level for taking in self.takings]
        if self.header.rules < FEWER_SINCE:
            return "press"
        if any(self.takes_itself(level, step) for level in levels):
            return "landing"
        turned_over = (self.proofs.possible(one) and self.proofs.given(one) for one in levels)
        return "gesture" if any(turned_over) else "press"

    def instruction(self, step: Step) -> str:
        """Return what to do in a step; before the first reference, which levels to prove first."""
        say = words.instruction(self.job, step, self.progress.hand, self._taken_by(step))
        first = step.stage == "reference"
        before = words.unproven(self.job, self.header.unproven) if first else ""
        return " ".join(part for part in (before, say, self._proposal(step)) if part)

    def _proposal(self, step: Step) -> str:
        """Return what somebody may want to do otherwise, as a question; "" where nothing is known."""
        pulled = self.aim.pulled_deg
        if step.stage == "prepare" and self.header.earlier and not self.progress.find:
            return words.earlier(self.header.earlier)
        if step.stage == "set" and pulled is not None and self.aim.at == "target":
            return words.turns_alike(pulled)
        return ""

    def announce(self, step: Step, now_ns: int) -> None:
        """The plan proposes another step: whatever was pressed for the one before is void."""
        for taking in self.takings:
            taking.disarm()
        self.step, self.step_number, self.step_ns = step, self.step_number + 1, now_ns
        event = StepChanged(
            step=self.step_number,
            stage=step.stage,
            blade=step.blade,
            label=words.label(self.job, step),
            placement=step.placement,
            placements=step.placements,
            say=self.instruction(step),
            half=step.half,
        )
        self.step_event = self.say(event)
        self._caution(step)

    def _caution(self, step: Step) -> None:
        """Say a stage's caution when the work first comes to it, or to tightening for it."""
        if step.stage == step.round:
            return
        about = step.stage
        if step.round:  # hands only: of the round they are for
            about = self.progress.now.like or step.round
        caution = words.caution(self.job, about)
        if caution and about not in self._cautioned:
            self._cautioned.add(about)
            self.say(Noted("caution", caution))

    def hands_done(self) -> None:
        """The step that needs hands is done."""
        match self.step.stage:
            case "prepare":
                self.progress.prepare()
            case "check off" | "wrench" | "tighten":
                self.progress.handle()
                if self.step.stage == "tighten":
                    self._may_turn(self.progress.turned_by_bolts)
            case "slacken":
                self.slacken()
            case _:
                self.progress.end("finished")

    def slacken(self) -> None:
        """The bolts are slack: whatever they hold may have turned."""
        loose = self.members.loose()
        self.aim.forget()
        self.progress.slacken(clamped_with(self.job.plan, loose, self.members.numbers()))
        for member in self.members:
            member.ask_for(0)
        self._may_turn(self.progress.slackened - set(loose))

    def _may_turn(self, blades: Iterable[int]) -> None:
        """Bolts were worked on that hold these blades."""
        for blade in blades:
            self.members[blade].loosen()

    def accept(self, alarm: OpenAlarm, by: str, reason: str) -> None:
        """A person takes it as it is, with name and reason."""
        self.alarms.clear(alarm, "accept", by, reason)
        for blade in alarm.blades or (alarm.blade,):
            self.accepted.append(Acceptance(blade, alarm.kind, by, reason))

    def suspect(self, blade: int) -> None:
        """A level left on a blade saw it move: what was read before does not tell."""
        self._suspected[blade] = len(self.ledger.entries)

    def may_have_moved(self, blade: int) -> bool:
        """Whether a blade was not read since a level left on it saw it move."""
        if blade not in self._suspected:
            return False
        read = [e.id for e in self.ledger.entries if e.blade == blade and not e.withdrawn]
        return max(read, default=0) <= self._suspected[blade]

    def set_again(self, blade: int, by: str, reason: str) -> None:
        """A blade's setting starts over: that answers every alarm of it."""
        for alarm in self.alarms.of(blade):
            self.alarms.clear(alarm, "set-again", by, reason)
        self.accepted = [one for one in self.accepted if one.blade != blade]
        self.members[blade].set_again()
        if self.round_begun:
            self.progress.set_anew(blade)

    @property
    def round_begun(self) -> bool:
        """Whether anything was read or done with the hands in this pass of the round."""
        read = self.ledger.placed(self.progress.round, self.progress.passed)
        return bool(read) or self.progress.handled > 0

    @property
    def read_in_pass(self) -> list[Member]:
        """Return the members that were read in this pass of the round."""
        return [member for member in self.members if self.read_now(member.blade)]

    def look(self, blades: Iterable[BladeId]) -> None:
        """These are read again before anything else."""
        self.progress.look(frozenset(blades))


def _by_itself(header: Header) -> bool:
    """Whether readings are to be taken without a press; before rules 7 only where a job said so."""
    setup = header.job.setup
    said = header.rules >= PROOF_SINCE or "capture" in setup.model_fields_set
    return setup.capture == "by itself" and said


def _progress(header: Header) -> Progress:
    """Return where a job begins."""
    plan, read_only = header.job.plan, header.procedure == "read"
    rounds = () if read_only else plan.in_order
    return Progress(
        rounds,
        tuple(hands_of(plan, one) for one in rounds),
        header.job.propeller.blades,
        watch_only=header.procedure == "watch",
        read_only=read_only,
        find=plan.as_found,
        spares=header.rules >= FEWER_SINCE,
    )
