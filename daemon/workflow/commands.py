"""What people may ask for, and when it is refused. One row a command.

command      does                                          refused when
take         confirms the level lies where the step wants  nothing is to be read, or taken
done         the step that needs hands is done             the step is a reading
name         the next reading is of this blade             the reference or nothing is read, or
                                                           the blade wants no reading now
again        one more placement of the last reading        nothing is read, or was
set          a held blade's setting starts over            the aircraft is not safe; watching
back         withdraws the last reading or step            nothing, or the round is judged
found        everything is read as it was found         something was set, or it is read so
aim          what blades are set to                     bolts are tight; nothing else is known
look         held members are read again, then it goes on   nothing is held, a round is read, or
                                                           an alarm waits
withdraw     a reading does not count                      no such reading
assign       a reading belongs to another blade            no such reading or blade
acknowledge  answers an alarm                              no such alarm; no name or reason
confirm      a questioned reading is right                 nothing was asked
relieve      somebody else works from here              no name
unheard      signals are not heard: a press a reading   the job is by press anyway
note         words for the record                          no words
end          ends the job before its end                   no name or reason, or it is over anyway
abandon      ends the job: do not fly                      no name or reason

What refuses a command whatever its arguments (`TABLE`, first column) is what a face offers by
(`offered`): a key that would be refused is not offered. A command changes the case and nothing
else; the engine goes on from there.
"""

from collections.abc import Callable
from dataclasses import dataclass

from daemon.workflow import baselines, rounds, words
from daemon.workflow.alarms import OpenAlarm
from daemon.workflow.case import Case
from daemon.workflow.ledger import Entry
from daemon.workflow.plan import FOUND, HANDS_ONLY, LOOK, planned
from daemon.workflow.takings import PRESS_LASTS_NS
from shared import wording
from shared.events import REFERENCE, Assigned, BladeId, Noted
from shared.inputs import NS, Command, CommandKind
from shared.job import Nose

SETTING = frozenset({"reference", "set", "baseline"})
"""Stages before the rounds."""


class RefusedError(Exception):
    """A command cannot be done now; the text says why."""


def execute(case: Case, command: Command, now_ns: int) -> str:
    """Do what a command asks; return words for its answer.

    Raises:
        RefusedError: it cannot be done now; nothing was changed.
    """
    row = TABLE["set" if command.kind == "again" and command.args.get("set") else command.kind]
    if why := row.closed(case):
        raise RefusedError(why)
    return row.do(case, command, now_ns)


def offered(case: Case) -> tuple[CommandKind, ...]:
    """Return the commands that are not refused now whatever their arguments."""
    return tuple(kind for kind, row in TABLE.items() if not row.closed(case))


def closed(case: Case, kind: CommandKind) -> str:
    """Return why a command is refused now whatever its arguments; "": it is not."""
    return TABLE[kind].closed(case)


def press_means(case: Case) -> CommandKind | None:
    """Return what one press does now; None: nothing that a press could do."""
    if case.step.reads:
        return "take"
    return None if _no_hands(case) else "done"


# --- why a command is closed; "": it is open ----------------------------------------------


def _open(_: Case) -> str:
    return ""


def _no_reading(case: Case) -> str:
    return "" if case.step.reads else f"nothing is read in the step '{case.step.stage}'"


def _no_take(case: Case) -> str:
    if why := _no_reading(case):
        return why
    if not any(taking.heard for taking in case.takings):
        return "no signal from the level: nothing can be taken"
    if not case.takings.for_a_press():
        if any(taking.unseen for taking in case.takings):
            return "the signal was gone while it lay there: lift it and place it again"
        return "this placement is already taken: lift the level and place it again"
    return ""


def _no_hands(case: Case) -> str:
    if case.step.stage in HANDS_ONLY - {"answer"}:
        return ""
    return f"the step '{case.step.stage}' is not one to be declared done"


def _no_more(case: Case) -> str:
    """Why no placement can be named or asked for."""
    return "" if case.step.stage == "answer" else _no_reading(case)


def _no_name(case: Case) -> str:
    return _no_more(case) or (
        "the reference is read first" if case.step.stage == "reference" else ""
    )


def _no_again(case: Case) -> str:
    return _no_more(case) or _nothing_read(case)


def _no_setting(case: Case) -> str:
    if case.step.stage in {"prepare", "watch"}:
        return f"nothing is set in the step '{case.step.stage}'"
    return ""


def _no_found(case: Case) -> str:
    early = case.step.stage in {"prepare", "reference"} and not case.progress.find
    if not early or case.progress.read_only or case.ledger.has("set"):
        return "a blade was set already, or everything is read as it was found anyway"
    return ""


def _no_aim(case: Case) -> str:
    if case.step.stage not in SETTING or case.progress.tight:
        return "what blades are set to is said while they are set"
    return "" if len(case.aims()) > 1 else "nothing is known but the target"


def _no_look(case: Case) -> str:
    stage = case.step.stage
    if stage in {"prepare", "watch", "answer", FOUND, LOOK}:
        return f"nothing is read aside in the step '{stage}'"
    if stage == case.progress.now.name:
        return "everything is being read: 'name' a blade, or 'again'"
    if all(member.baseline is None for member in case.members):
        return "nothing is held yet"
    return ""


def _no_back(case: Case) -> str:
    stage, last = case.step.stage, case.ledger.last()
    if stage == "watch":
        return "there is no step before this one: it only watches"
    if stage == "prepare" or case.progress.judged:
        return "there is no way back from here: 'again' or 'withdraw' a reading"
    if case.progress.handled or last is None:
        return ""
    if stage in {"tighten", "wrench", "check off"} or last.stage not in {*SETTING, stage}:
        return "the round before was judged: 'withdraw' a reading by its number"
    return ""


def _nothing_read(case: Case) -> str:
    return "" if case.ledger.last() is not None else "nothing that counts has been read yet"


def _no_early_end(case: Case) -> str:
    return "everything is done: 'done' closes the record" if case.step.stage == "finished" else ""


def _no_hearing(case: Case) -> str:
    return "" if case.proofs.wanted else "this job is by press: nobody has to hear anything"


def _no_alarm(case: Case) -> str:
    return "" if len(case.alarms) else "no alarm is open"


def _no_question(case: Case) -> str:
    return "" if case.takings.question() else "nothing was asked about what lies there now"


PRESSED_EARLY = f"pressed: it counts for a level laid down within {PRESS_LASTS_NS // NS} s"
"""Said where no level lies yet."""

# --- what a command does --------------------------------------------------------------------


def _take(case: Case, _: Command, now_ns: int) -> str:
    for taking in case.takings.for_a_press():
        taking.press("press", now_ns)
    lies = any(taking.placement for taking in case.takings.for_a_press())
    return "pressed" if lies else PRESSED_EARLY


def _done(case: Case, _: Command, now_ns: int) -> str:
    stage = case.step.stage
    case.hands_done()
    return f"{stage} done"


def _name(case: Case, command: Command, now_ns: int) -> str:
    blade = _blade(case, command)
    if case.step.stage in SETTING:
        if blade == REFERENCE or case.members[blade].baseline is not None:
            raise RefusedError(f"{case.name(blade)} is held: 'set' sets it again")
    elif case.step.stage == FOUND:
        if blade == REFERENCE or case.ledger.of(blade, FOUND, 1):
            raise RefusedError(f"{case.name(blade)} was read as it was found: 'back' takes it back")
    else:
        _one_more(case, blade)
    case.progress.name(blade)
    return case.name(blade)


def _again(case: Case, command: Command, now_ns: int) -> str:
    last = case.ledger.last()
    blade = _blade(case, command) if "blade" in command.args or last is None else last.blade
    if blade is None:
        raise RefusedError("the last reading is of no blade: name one")
    _one_more(case, blade)
    case.progress.name(blade)
    return f"one more placement of {case.name(blade)}"


def _found(case: Case, _: Command, now_ns: int) -> str:
    case.progress.find_first()
    return "everything is read as it was found first"


def _aim(case: Case, command: Command, now_ns: int) -> str:
    choices, at = case.aims(), str(command.args.get("at", ""))
    for choice, deg in choices.items():
        if choice == at:
            case.aim.choose(choice, deg)
            case.say(Noted("note", words.aimed(at, deg, case.aim.pulled_deg)))
            return f"set to {deg:.2f}"
    raise RefusedError(f"at must be one of {', '.join(choices)}, not {at!r}")


def _look(case: Case, command: Command, now_ns: int) -> str:
    held = [member.blade for member in case.members if member.baseline is not None]
    if "blade" in command.args:
        blade = _blade(case, command)
        if blade not in held:
            raise RefusedError(f"{case.name(blade)} is not held: there is nothing to compare with")
        held = [blade]
    case.look(held)
    return f"looked at again: {wording.together([case.name(blade) for blade in held])}"


def _set(case: Case, command: Command, now_ns: int) -> str:
    blade = _blade(case, command)
    if blade == REFERENCE:
        raise RefusedError("the reference is not set, it is read")
    case.set_again(blade, command.client, "")
    return f"{case.name(blade)} is set again"


def _one_more(case: Case, blade: BladeId) -> None:
    """Ask for one more placement of a member in the stage being read."""
    member = case.members[blade]
    if case.step.stage == FOUND:
        raise RefusedError("each blade is read once as it was found: 'back' takes a reading back")
    if member.baseline is None:
        stage, wanted = planned(case.job.plan, blade)
        have = case.ledger.placements(blade, stage, member.attempt)
        member.ask_for(max(wanted, member.wanted, have) + 1)
        return
    if case.step.stage in SETTING:
        raise RefusedError(f"{case.name(blade)} is held")
    member.ask_for(case.placed_now(blade) + 1)
    case.progress.reopen()


def _back(case: Case, _: Command, now_ns: int) -> str:
    progress, last = case.progress, case.ledger.last()
    if progress.handled and (last is None or last.stage != progress.round):
        progress.unhandle()
    elif last is None:
        progress.prepare(safe=False)
    else:
        return _withdraw_entry(case, last, "one step back")
    return "one step back"


def _withdraw(case: Case, command: Command, now_ns: int) -> str:
    reason = str(command.args.get("reason", "")) or "withdrawn"
    return _withdraw_entry(case, _entry(case, command), reason)


def _withdraw_entry(case: Case, entry: Entry, reason: str) -> str:
    baselines.withdraw(case, entry, reason)
    return f"reading {entry.id} withdrawn"


def _assign(case: Case, command: Command, now_ns: int) -> str:
    entry, blade = _entry(case, command), _blade(case, command)
    before = entry.blade
    if (blade == REFERENCE) != (before == REFERENCE):
        raise RefusedError("a reading of the reference cannot become one of a blade, nor back")
    setting = entry.stage in {"set", "baseline"}
    case.ledger.assign(entry, blade, case.members[blade].attempt if setting else entry.passed)
    case.say(Assigned(entry.id, blade, before))
    baselines.count_anew(case, entry, before)
    baselines.count_anew(case, entry, blade)
    return f"reading {entry.id} is of {case.name(blade)}"


def _acknowledge(case: Case, command: Command, now_ns: int) -> str:
    alarm = case.alarms.get(_number(command))
    then = str(command.args.get("then", ""))
    by, reason = str(command.args.get("by", "")), str(command.args.get("reason", ""))
    if alarm is None:
        raise RefusedError("there is no such open alarm")
    if then == "set-again" and isinstance(alarm.blade, int) and settable(case, alarm):
        for blade in alarm.blades or (alarm.blade,):
            case.set_again(blade, by or command.client, reason)
    elif then == "exchange" and alarm.partner is not None:
        rounds.exchange(case, alarm.blade, alarm.partner, by or command.client, reason)
    elif then == "accept":
        if not (by.strip() and reason.strip()):
            raise RefusedError("to accept needs a name (by) and a reason")
        case.accept(alarm, by, reason)
        rounds.accept(case, alarm)
    else:
        raise RefusedError(
            'then must be "accept", "set-again" for a blade that can be set, '
            'or "exchange" for two labels that were'
        )
    return f"alarm {alarm.id} answered: {then}"


def settable(case: Case, alarm: OpenAlarm) -> bool:
    """Whether setting its blade again can answer an alarm now."""
    return isinstance(alarm.blade, int) and not _no_setting(case)


def _confirm(case: Case, command: Command, now_ns: int) -> str:
    for taking in case.takings:
        asked = taking.asked
        if asked is not None and command.args.get("id", asked.id) == asked.id:
            if asked.wants == "nose":
                case.referred.tell(_nose(command))
                taking.answer()
                return "noted"
            taking.confirm(reversed_level=command.args.get("sense") == "reversed")
            return "confirmed"
    raise RefusedError("that is not what was asked about what lies there now")


def _relieve(case: Case, command: Command, now_ns: int) -> str:
    by = str(command.args.get("by", "")).strip()
    if not by:
        raise RefusedError("to take over needs a name (by)")
    if not rounds.read_first(case, f"{by} works from here"):
        case.say(Noted("note", f"{by} works from here"))
    return f"{by} works from here"


def _unheard(case: Case, command: Command, now_ns: int) -> str:
    why = str(command.args.get("reason", "")).strip() or "nothing is to be heard"
    if case.proofs.lose_all():
        case.say(Noted("caution", words.unproven_hearing(why)))
    return "one press a reading"


def _note(case: Case, command: Command, now_ns: int) -> str:
    text = str(command.args.get("text", "")).strip()
    if not text:
        raise RefusedError("a note needs text")
    case.say(Noted("note", text))
    return "noted"


def _end(case: Case, command: Command, now_ns: int) -> str:
    by, reason = str(command.args.get("by", "")), str(command.args.get("reason", ""))
    if not (by.strip() and reason.strip()):
        raise RefusedError("to end early needs a name (by) and a reason")
    case.say(Noted("caution", f"ended early by {by}: {reason}. What is missing is in the result."))
    case.progress.end("ended early")
    return "ended early"


def _abandon(case: Case, command: Command, now_ns: int) -> str:
    by, reason = str(command.args.get("by", "")), str(command.args.get("reason", ""))
    if not (by.strip() and reason.strip()):
        raise RefusedError("to abandon needs a name (by) and a reason")
    case.say(Noted("caution", f"abandoned by {by}: {reason}. Do not fly."))
    case.progress.end("abandoned")
    return "abandoned, do not fly"


# --- arguments --------------------------------------------------------------------------------


def _nose(command: Command) -> Nose:
    """Return which way the shaft points, as the arguments say."""
    given = str(command.args.get("nose", ""))
    if given == "up":
        return "up"
    if given == "down":
        return "down"
    raise RefusedError('say which way the shaft points: nose = "up" or "down"')


def _number(command: Command) -> int:
    """Return the number in the arguments; 0 where there is none."""
    given = command.args.get("id", 0)
    try:
        return int(given)
    except (ValueError, OverflowError) as error:
        raise RefusedError(f"id is the number of a reading or an alarm, not {given!r}") from error


def _entry(case: Case, command: Command) -> Entry:
    """Return the reading of the arguments."""
    number = _number(command)
    entry = case.ledger.entry(number)
    if entry is None or entry.withdrawn:
        raise RefusedError(f"there is no reading {number} that counts")
    return entry


def _blade(case: Case, command: Command) -> BladeId:
    """Return the member of the arguments; 0 is the reference."""
    given = command.args.get("blade")
    if given in (0, REFERENCE):
        return REFERENCE
    try:
        blade = int(given)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        blade = 0
    if blade not in case.members.numbers():
        last = case.job.propeller.blades
        raise RefusedError(f"blade {given!r} is not one of 1 to {last}, or 0 for the reference")
    return blade


@dataclass(frozen=True, slots=True)
class Row:
    """One command: why it is refused whatever its arguments ("": it is not), and what it does."""

    closed: Callable[[Case], str]
    do: Callable[[Case, Command, int], str]


TABLE: dict[CommandKind, Row] = {
    "take": Row(_no_take, _take),
    "done": Row(_no_hands, _done),
    "name": Row(_no_name, _name),
    "again": Row(_no_again, _again),
    "set": Row(_no_setting, _set),
    "found": Row(_no_found, _found),
    "aim": Row(_no_aim, _aim),
    "look": Row(_no_look, _look),
    "back": Row(_no_back, _back),
    "withdraw": Row(_nothing_read, _withdraw),
    "assign": Row(_nothing_read, _assign),
    "acknowledge": Row(_no_alarm, _acknowledge),
    "confirm": Row(_no_question, _confirm),
    "relieve": Row(_open, _relieve),
    "unheard": Row(_no_hearing, _unheard),
    "note": Row(_open, _note),
    "end": Row(_no_early_end, _end),
    "abandon": Row(_open, _abandon),
}
