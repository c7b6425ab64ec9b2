"""What people may ask for, and when it is refused. One row a command.

command      does                                          refused when
take         confirms the level lies where the step wants  nothing is to be read, or taken
done         the step that needs hands is done             the step is a reading
name         the next reading is of this blade             the blade wants no reading now
again        one more placement of the last reading        nothing is read, or was
set          a held blade's setting starts over            the aircraft is not safe; watching
back         withdraws the last reading or step            nothing, or the round is judged
withdraw     a reading does not count                      no such reading
assign       a reading belongs to another blade            no such reading or blade
acknowledge  answers an alarm                              no such alarm; no name or reason
confirm      a questioned reading is right                 nothing was asked
note         words for the record                          no words
abandon      ends the job: do not fly                      no name or reason

What refuses a command whatever its arguments (`TABLE`, first column) is what a face offers by
(`offered`): a key that would be refused is not offered.
"""

from collections.abc import Callable
from dataclasses import dataclass

from daemon.workflow import words
from daemon.workflow.ledger import OpenAlarm
from daemon.workflow.plan import round_name
from daemon.workflow.taking import Taking
from daemon.workflow.workflow import Workflow
from shared.events import REFERENCE, Assigned, BladeId, Noted, Withdrawn
from shared.inputs import Command, CommandKind


class RefusedError(Exception):
    """A command cannot be done now; the text says why."""


def execute(workflow: Workflow, command: Command) -> str:
    """Do what a command asks; return words for its answer.

    Raises:
        RefusedError: it cannot be done now; nothing was changed.
    """
    row = TABLE["set" if command.kind == "again" and command.args.get("set") else command.kind]
    if why := row.closed(workflow):
        raise RefusedError(why)
    return row.do(workflow, command)


def offered(workflow: Workflow) -> tuple[CommandKind, ...]:
    """Return the commands that are not refused now whatever their arguments."""
    return tuple(kind for kind, row in TABLE.items() if not row.closed(workflow))


def press_means(workflow: Workflow) -> CommandKind | None:
    """Return what one press does now; None: nothing that a press could do."""
    offers = offered(workflow)
    return "done" if "done" in offers else "take" if workflow.step.reads else None


def _open(_: Workflow) -> str:
    return ""


def _no_reading(workflow: Workflow) -> str:
    return "" if workflow.step.reads else f"nothing is read in the step '{workflow.step.stage}'"


def _no_take(workflow: Workflow) -> str:
    if why := _no_reading(workflow):
        return why
    if not any(workflow.streaming(level) for level in workflow.takings):
        return "no signal from the level: nothing can be taken"
    if not _takeable(workflow):
        return "this placement is already taken: lift the level and place it again"
    return ""


def _takeable(workflow: Workflow) -> list[Taking]:
    """Return the placements a press is for: one that lies there before one still to come."""
    takings = [t for t in workflow.takings.values() if workflow.streaming(t.level)]
    return [t for t in takings if t.free] or [t for t in takings if t.placement == 0]


def _no_hands(workflow: Workflow) -> str:
    if workflow.step.stage in {"prepare", "tighten", "finished", "watch"}:
        return ""
    return f"the step '{workflow.step.stage}' is not one to be declared done"


def _no_more(workflow: Workflow) -> str:
    """Why no placement can be named or asked for."""
    return "" if workflow.step.stage == "answer" else _no_reading(workflow)


def _no_again(workflow: Workflow) -> str:
    return _no_more(workflow) or _nothing_read(workflow)


def _no_setting(workflow: Workflow) -> str:
    if workflow.step.stage in {"prepare", "watch"}:
        return f"nothing is set in the step '{workflow.step.stage}'"
    return ""


def _no_back(workflow: Workflow) -> str:
    stage, progress = workflow.step.stage, workflow.progress
    if stage == "watch":
        return "there is no step before this one: it only watches"
    last = workflow.ledger.last()
    if stage == "prepare" or progress.judged:
        return "there is no way back from here: 'again' or 'withdraw' a reading"
    if progress.tightened or last is None:
        return ""
    if stage == "tighten" or last.stage not in {"reference", "set", "baseline", stage}:
        return "the round before was judged: 'withdraw' a reading by its number"
    return ""


def _nothing_read(workflow: Workflow) -> str:
    return "" if workflow.ledger.last() is not None else "nothing that counts has been read yet"


def _no_alarm(workflow: Workflow) -> str:
    return "" if workflow.ledger.alarms else "no alarm is open"


def _no_question(workflow: Workflow) -> str:
    if any(taking.asked for taking in workflow.takings.values()):
        return ""
    return "nothing was asked about what lies there now"


def _take(workflow: Workflow, command: Command) -> str:
    for taking in _takeable(workflow):
        taking.press("press", workflow.now_ns)
        workflow.consider(taking)
    return "pressed"


def _done(workflow: Workflow, command: Command) -> str:
    stage = workflow.step.stage
    workflow.done()
    return f"{stage} done"


def _name(workflow: Workflow, command: Command) -> str:
    blade = _blade(workflow, command)
    state = workflow.ledger.state[blade]
    name = words.blade_name(workflow.job, blade)
    stage = workflow.step.stage
    if stage in {"set", "baseline", "reference"}:
        if blade == REFERENCE or state.baseline is not None:
            raise RefusedError(f"{name} is held: 'set' sets it again")
        if workflow.ledger.state[REFERENCE].baseline is None:
            raise RefusedError("the reference is read first")
    else:
        _one_more(workflow, blade)
    workflow.progress.named = blade
    workflow.refresh()
    return name


def _again(workflow: Workflow, command: Command) -> str:
    last = workflow.ledger.last()
    blade = _blade(workflow, command) if "blade" in command.args or last is None else last.blade
    if blade is None:
        raise RefusedError("the last reading is of no blade: name one")
    _one_more(workflow, blade)
    workflow.progress.named = blade
    workflow.refresh()
    return f"one more placement of {words.blade_name(workflow.job, blade)}"


def _set(workflow: Workflow, command: Command) -> str:
    blade = _blade(workflow, command)
    if blade == REFERENCE:
        raise RefusedError("the reference is not set, it is read")
    _set_again(workflow, int(blade), command.client, "")
    return f"{words.blade_name(workflow.job, blade)} is set again"


def _one_more(workflow: Workflow, blade: BladeId) -> None:
    """Ask for one more placement of a blade in the stage being read."""
    ledger, progress = workflow.ledger, workflow.progress
    state = ledger.state[blade]
    if state.baseline is None:
        stage = "reference" if blade == REFERENCE else "baseline"
        have = ledger.placements(blade, stage, state.attempt)
        planned = (
            workflow.job.plan.reference_placements
            if blade == REFERENCE
            else workflow.job.plan.baseline_placements
        )
        state.wanted = max(planned, state.wanted, have) + 1
        return
    if workflow.step.stage in {"reference", "set", "baseline"}:
        raise RefusedError(f"{words.blade_name(workflow.job, blade)} is held")
    have = ledger.placements(blade, round_name(workflow.job.plan, progress), progress.passed)
    state.wanted = have + 1
    progress.judged = False


def _back(workflow: Workflow, command: Command) -> str:
    progress, last = workflow.progress, workflow.ledger.last()
    here = {round_name(workflow.job.plan, progress)} if progress.tightened else set()
    if progress.tightened and (last is None or last.stage not in here):
        progress.tightened = False
    elif last is None:
        progress.prepared = False
    else:
        return _withdraw_entry(workflow, last.id, "one step back")
    workflow.refresh()
    return "one step back"


def _withdraw(workflow: Workflow, command: Command) -> str:
    number = int(command.args.get("id", 0))
    return _withdraw_entry(workflow, number, str(command.args.get("reason", "")) or "withdrawn")


def _withdraw_entry(workflow: Workflow, number: int, reason: str) -> str:
    entry = workflow.ledger.entry(number)
    if entry is None or entry.withdrawn:
        raise RefusedError(f"there is no reading {number} to withdraw")
    entry.withdrawn = True
    if entry.blade is not None:
        workflow.ledger.state[entry.blade].wanted = 0
    workflow.say(Withdrawn(number, reason))
    _count_anew(workflow, entry.stage, entry.passed, entry.blade)
    return f"reading {number} withdrawn"


def _assign(workflow: Workflow, command: Command) -> str:
    entry = workflow.ledger.entry(int(command.args.get("id", 0)))
    if entry is None or entry.withdrawn:
        raise RefusedError("there is no such reading")
    blade, before = _blade(workflow, command), entry.blade
    if (blade == REFERENCE) != (before == REFERENCE):
        raise RefusedError("a reading of the reference cannot become one of a blade, nor back")
    entry.blade = blade
    if entry.stage in {"set", "baseline"}:
        entry.passed = workflow.ledger.state[blade].attempt
    workflow.say(Assigned(entry.id, blade, before))
    for one in (before, blade):
        _count_anew(workflow, entry.stage, entry.passed, one)
    return f"reading {entry.id} is of {words.blade_name(workflow.job, blade)}"


def _count_anew(workflow: Workflow, stage: str, passed: int, blade: BladeId | None) -> None:
    """Readings changed: baselines and the round's judgement follow."""
    workflow.baselines.settle(blade)
    here = (round_name(workflow.job.plan, workflow.progress), workflow.progress.passed)
    if (stage, passed) == here:
        workflow.progress.judged = False
    workflow.refresh()


def _acknowledge(workflow: Workflow, command: Command) -> str:
    alarm = workflow.ledger.alarms.get(int(command.args.get("id", 0)))
    then = str(command.args.get("then", ""))
    by, reason = str(command.args.get("by", "")), str(command.args.get("reason", ""))
    if alarm is None:
        raise RefusedError("there is no such open alarm")
    if then == "set-again" and isinstance(alarm.blade, int) and settable(workflow, alarm):
        _set_again(workflow, alarm.blade, by or command.client, reason)
    elif then == "accept":
        if not (by.strip() and reason.strip()):
            raise RefusedError("to accept needs a name (by) and a reason")
        workflow.case.clear(alarm.id, "accept", by, reason)
        workflow.rounds.accept(alarm)
    else:
        raise RefusedError('then must be "accept", or "set-again" for a blade that can be set')
    workflow.refresh()
    return f"alarm {alarm.id} answered: {then}"


def settable(workflow: Workflow, alarm: OpenAlarm) -> bool:
    """Whether setting its blade again can answer an alarm now."""
    return isinstance(alarm.blade, int) and not _no_setting(workflow)


def _set_again(workflow: Workflow, blade: int, by: str, reason: str) -> None:
    """Start a blade's setting over: that answers every alarm of it."""
    for alarm in workflow.case.alarms_of(blade):
        workflow.case.clear(alarm.id, "set-again", by, reason)
    workflow.baselines.start_setting(blade)
    workflow.refresh()


def _confirm(workflow: Workflow, command: Command) -> str:
    for taking in workflow.takings.values():
        asked = taking.asked
        if asked is not None and command.args.get("id", asked.id) == asked.id:
            if command.args.get("sense") == "reversed":
                workflow.turn_level(taking.level)
            taking.confirmed, taking.asked = True, None
            workflow.consider(taking)
            return "confirmed"
    raise RefusedError("that is not what was asked about what lies there now")


def _note(workflow: Workflow, command: Command) -> str:
    text = str(command.args.get("text", "")).strip()
    if not text:
        raise RefusedError("a note needs text")
    workflow.say(Noted("note", text))
    return "noted"


def _abandon(workflow: Workflow, command: Command) -> str:
    by, reason = str(command.args.get("by", "")), str(command.args.get("reason", ""))
    if not (by.strip() and reason.strip()):
        raise RefusedError("to abandon needs a name (by) and a reason")
    workflow.say(Noted("caution", f"abandoned by {by}: {reason}. Do not fly."))
    workflow.abandoned = True
    return "abandoned, do not fly"


def _blade(workflow: Workflow, command: Command) -> BladeId:
    """Return the blade of the arguments; 0 is the reference."""
    given = command.args.get("blade")
    if given in (0, REFERENCE):
        return REFERENCE
    try:
        blade = int(given)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        blade = 0
    if blade not in workflow.ledger.numbers():
        last = workflow.job.propeller.blades
        raise RefusedError(f"blade {given!r} is not one of 1 to {last}, or 0 for the reference")
    return blade


@dataclass(frozen=True, slots=True)
class Row:
    """One command: why it is refused whatever its arguments ("": it is not), and what it does."""

    closed: Callable[[Workflow], str]
    do: Callable[[Workflow, Command], str]


TABLE: dict[CommandKind, Row] = {
    "take": Row(_no_take, _take),
    "done": Row(_no_hands, _done),
    "name": Row(_no_more, _name),
    "again": Row(_no_again, _again),
    "set": Row(_no_setting, _set),
    "back": Row(_no_back, _back),
    "withdraw": Row(_nothing_read, _withdraw),
    "assign": Row(_nothing_read, _assign),
    "acknowledge": Row(_no_alarm, _acknowledge),
    "confirm": Row(_no_question, _confirm),
    "note": Row(_open, _note),
    "abandon": Row(_open, _abandon),
}
