"""A job without a press: who has shown that it can be done, and what turning the level over does.

A level turned over in the hand, and back (`daemon.measure.stream.turnover`), is the press of somebody who
stands at the blades:

    what waits                                      it
    nothing was proven of this level yet            proves that who holds it is heard, and hears
    the work at the bolts, a thing to check off     is done
    an alarm that setting again answers             sets again, from 1.5 s on with the level in the hand;
                                                    5 s later, and not if it is turned over once more
    what only a press takes; a surprise; the        lets the next landing count
      same blade again?
    nothing, 20 s after a reading at most           takes that reading back
    making safe, the wrench, closing                does nothing: press

Before it was proven, and again when the level was gone or nothing is to be heard, every reading wants
a press.
"""

from daemon.workflow.alarms import OpenAlarm
from daemon.workflow.case import Case
from daemon.workflow.commands import closed, settable
from daemon.workflow.plan import Step
from daemon.workflow.takings import Taking
from shared.inputs import NS, UNSTAMPED, Command, CommandKind
from shared.pauses import LOOK_S, TAKE_BACK_S
from shared.view import Turnover

LOOK_NS = round(LOOK_S * NS)
"""An alarm is answered by a level that was in the hand for so long since it began."""
LEAVES_NS = round(TAKE_BACK_S * NS)
"""So long after the level was turned over blades are set again: until then, once more takes that back."""
LEAVES_SINCE = 9
"""Rules since which that waits; before, they were set again at once."""
TAKES_BACK_NS = 20 * NS
COUNTS_NS = 10 * NS
"""So long the next landing counts."""
DONE_BY_HAND = frozenset({"tighten", "slacken", "check off"})
"""Steps of the hands that turning the level over says are done."""
CLIENT = "turned over"
KINDS: dict[Turnover, CommandKind] = {"done": "done", "back": "back", "set again": "acknowledge"}


def means(case: Case, taking: Taking, now_ns: int) -> Turnover:
    """Return what turning this level over would do; "": nothing."""
    if case.alarms.waits:
        return "leave"  # also of a level that was gone meanwhile: what waits is still to be done
    if not case.proofs.possible(taking.level) or case.step.stage == "watch":
        return ""
    if not case.proofs.given(taking.level):
        return "proof"
    step = case.step
    if step.stage in DONE_BY_HAND:
        return "done"
    if step.stage == "answer":
        return "set again" if _answers(case, taking, now_ns) else ""
    if not step.reads or taking.armed:
        return ""
    return "take" if _asks_for_it(case, taking, step) else _back(case, now_ns)


def command(case: Case, turnover: Turnover) -> Command:
    """Return the command that it stands for."""
    args: dict[str, str | int | float] = {}
    if turnover == "set again":
        args = {"id": answered(case).id, "then": "set-again"}
    return Command("", CLIENT, UNSTAMPED, KINDS[turnover], args)


def answered(case: Case) -> OpenAlarm:
    """Return the alarm that it answers: the one whose answer waits, or the oldest."""
    return case.alarms.waits or next(iter(case.alarms))


def _answers(case: Case, taking: Taking, now_ns: int) -> bool:
    alarm = next(iter(case.alarms), None)
    since_ns = max(case.step_ns, taking.landing.in_hand_ns)
    looked = taking.placement == 0 and now_ns - since_ns >= LOOK_NS
    return alarm is not None and alarm.partner is None and settable(case, alarm) and looked


def _asks_for_it(case: Case, taking: Taking, step: Step) -> bool:
    """Whether the next landing would not be taken, or the last one was not, for want of a person's word."""
    if step.stage == "set":
        return taking.landing.same_again
    return not case.takes_itself(taking.level, step) or taking.landing.wants_a_word


def _back(case: Case, now_ns: int) -> Turnover:
    last = case.ledger.last()
    recent = last is not None and now_ns - last.t_ns <= TAKES_BACK_NS
    return "back" if recent and not closed(case, "back") else ""
