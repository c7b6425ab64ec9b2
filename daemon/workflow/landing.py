"""A level laid down by somebody who does not press: may its average be taken by itself?

A level that lies still proves nothing, it may lie on a bench; the stream, the plan and what is known
of the blade say more. All of this must hold, and a job must want it (`setup.capture`):

    landed       it came to rest after the step was announced, and its placement gave no reading yet
    rested       its average is good enough, and that for half a second more; a second where a blade is
                 loose, which relaxes after a hand, and two while it is set
    expected     a fresh placement reads like the setting, a round like what the blade is held to, a
                 reference like the one before; while setting, the blade is surely within the tolerance
                 (`near_deg`)
    or agreed    where it is not as expected: a second landing reads like the first
    moved on     the step is of another blade than the last reading, and the level was off its seat long
                 enough for the propeller to be turned; or a witness on the hub sees that blade level
    nothing open no alarm of this member and no question

Of the first reference, from which all else is expected, two landings have to agree, and both are
placements of it. The last round is as any other: turned over before each of its blades, a level gave its
second time on the last blade the seconds that it lacked, and said nothing of which blade it was laid on.
Nothing at all before somebody has turned the level over (`proofs`). Thresholds are of a simulated person; no hand has tried them yet.
"""

from typing import Literal

from daemon.measure.stream.reading import Reading
from daemon.workflow.case import Case
from daemon.workflow.plan import Step
from daemon.workflow.takings import Landing, Taking
from shared.angles import difference_deg
from shared.events import REFERENCE
from shared.inputs import NS

REST_NS = 1 * NS
TIGHT_REST_NS = NS // 2
"""In a round, and on the first reference, no blade relaxes after a hand: bolts hold it, or it is the hub face."""
TIGHT_SINCE = 11
"""Rules since which it rests no longer there."""
SET_REST_NS = 2 * NS
FIRST_REST_NS = 3 * NS // 2
FRESH_DEG, ROUND_DEG, REFERENCE_DEG = 0.4, 0.3, 0.5
AGREES_DEG = 0.15
STEEPEST_DEG = 15.0
"""No shaft that somebody works at is tilted by more; further out it is a bench."""
ELSEWHERE_DEG = 2.0
"""What reads so differently, and as expected, is not the last member again: a hub face is no blade."""
TURNED_NS = 7 * NS
"""Nobody turns a propeller to the next blade sooner."""
SURELY_SINCE = 7
"""Rules since which a blade that is set may be let go only where it is surely within the tolerance."""
BOLTS_SINCE = 8
"""Rules since which time at the bolts is no time in which the propeller was turned."""
TURNS_SINCE = 11
"""Rules since which nothing is taken as a blade's while the witness sees the hub turn: it lies on a bench."""
BOTH_SINCE = 10
"""Rules since which both of two landings that agree are placements of the first reference."""
Lacking = Literal["a press", "a landing", "a turn", "agreement"]


def waited(case: Case, taking: Taking, step: Step, now_ns: int) -> bool:
    """Whether a level that may be taken by itself has lain long enough; asked of every sample."""
    ready_ns = taking.landing.ready_ns
    rested = bool(ready_ns) and now_ns >= ready_ns + _rest_ns(case, step)
    if isinstance(step.blade, int) and case.hub.turns and case.header.rules >= TURNS_SINCE:
        return False
    return rested and case.takes_itself(taking.level, step)


def _rest_ns(case: Case, step: Step) -> int:
    """Return how long an average has to have been good enough."""
    if step.stage == "set":
        return SET_REST_NS
    if case.header.rules >= TIGHT_SINCE and (step.blade == REFERENCE or step.stage != "baseline"):
        return TIGHT_REST_NS
    first = step.blade == REFERENCE and case.referred.reference is None
    return FIRST_REST_NS if first else REST_NS


def lacks(case: Case, taking: Taking, step: Step, angle_deg: float) -> Lacking | None:
    """Return what lacks before it is taken without a press; None: nothing but time. Changes nothing.

    The screen says what is said here, so that it promises nothing that is not done.
    """
    landing = taking.landing
    if (
        not case.takes_itself(taking.level, step)
        or case.alarms.of(step.blade)
        or case.takings.question()
    ):
        return "a press"
    if landing.rested_ns <= case.step_ns:
        return "a landing"
    if not _moved_on(case, step, landing, taking.reading):
        return "a turn"
    return None if _expected(case, taking, step, angle_deg) else "agreement"


def near_deg(case: Case) -> float:
    """Return how far off its aim a blade that is set may stand and be let go, shown and taken.

    Where it is then surely within the tolerance: inside it by as much as the last reading was unsure,
    a third of it at the least.
    """
    tolerance = case.job.target.tolerance_deg
    if case.header.rules < SURELY_SINCE:
        return tolerance
    last = case.ledger.last()
    unsure = last.angle.budget.u95_deg if last else 0.0
    return max(tolerance / 3.0, tolerance - unsure)


def too_soon(case: Case, taking: Taking, step: Step) -> bool:
    """Whether a level that was turned over may still lie on the last blade: said once, then believed.

    Turning it over becomes a habit, and says little of which blade it is laid on.
    """
    asked = taking.landing.same_again
    return not asked and not _moved_on(case, step, taking.landing, taking.reading)


def surprise(taking: Taking, angle_deg: float, reading: Reading) -> None:
    """Remember what does not read as expected: a second landing may agree with it."""
    if taking.landing.surprise != taking.placement:
        taking.landing.surprise_by(angle_deg, reading, taking.placement)


def agreed_with(case: Case, taking: Taking, step: Step) -> Reading | None:
    """Return the landing before that this one agrees with, where it too is a placement of the first reference."""
    first = step.blade == REFERENCE and case.referred.reference is None
    if not first or step.placement >= step.placements or case.header.rules < BOTH_SINCE:
        return None
    return taking.landing.surprised


def _moved_on(case: Case, step: Step, landing: Landing, reading: Reading | None) -> bool:
    """Whether the level can lie on the member that the step is of, and not on the last one again."""
    last = case.ledger.last()
    if last is None or last.blade == step.blade:
        return True
    if isinstance(step.blade, int) and case.hub.horizontal() == step.blade:
        return True
    if (
        reading is not None
        and abs(difference_deg(reading.mean_deg, last.reading.mean_deg)) > ELSEWHERE_DEG
    ):
        return True
    # time at the bolts, or with a check-off, turned no propeller
    before = case.step_ns if case.header.rules >= BOLTS_SINCE else landing.lifted_ns
    return landing.rested_ns - max(landing.lifted_ns, before) >= TURNED_NS


def _expected(case: Case, taking: Taking, step: Step, angle_deg: float) -> bool:
    """Whether it reads as expected, or as a landing before that was no more expected."""
    landing, (near_deg, within_deg) = taking.landing, _expectation(case, step)
    if near_deg is not None and abs(angle_deg - near_deg) <= within_deg:
        return True
    if step.stage == "set" or (near_deg is None and abs(angle_deg) > STEEPEST_DEG):
        return False
    before, number = landing.surprised_deg, landing.surprise
    again = before is not None and number != taking.placement
    return again and before is not None and abs(angle_deg - before) <= AGREES_DEG


def _expectation(case: Case, step: Step) -> tuple[float | None, float]:
    """Return the angle that a step expects, and how near to it; None: nothing is known."""
    blade = step.blade
    if blade == REFERENCE or blade is None:
        reference = case.referred.reference
        return (None if reference is None else reference.theta_deg), REFERENCE_DEG
    member = case.members[blade]
    if step.stage == "set":
        return case.aim_deg, near_deg(case)
    if step.stage == "baseline":
        read = case.ledger.of(blade, "set", member.attempt)
        return (read[-1].angle.angle_deg if read else None), FRESH_DEG
    return (None if member.baseline is None else member.baseline.angle_deg), ROUND_DEG
