"""From what was decided to what is told: one sentence with its numbers for each reason.

Degrees; + is coarser. Nothing is decided here.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from daemon.measure.moved.model import Decided, Decision, Finding, Reason, Terms
from shared import wording
from shared.angles import stated
from shared.events import REFERENCE, BladeId

SETTLE = "settle it after the nip: its play is wider than the tolerance"
SEAT_BETTER = "another placement would hardly tell more, a level that seats better would"


def explain(
    decided: Decided,
    terms: Terms,
    stage: str,
    labels: Mapping[int, str],
    than: Mapping[int, str],
) -> tuple[Finding, ...]:
    """Return what is told of every member, in the order of the decisions.

    stage: what was done since the baseline; labels: the user's own marks of the blades; than:
    since when a blade has changed, where that is not since it was set.
    """
    round_ = _Round(decided, terms, stage, labels, than)
    return tuple(
        Finding(
            one.blade,
            one.state,
            stated(one.change_deg),
            stated(one.u95_deg),
            stated(one.probability),
            None if one.could_hide_deg is None else stated(one.could_hide_deg),
            SENTENCES[one.reason](one, round_),
            one.partner if one.state == "exchanged" else None,
        )
        for one in decided.decisions
    )


@dataclass(frozen=True, slots=True)
class _Round:
    """What sentences need beside the decision that they tell."""

    decided: Decided
    terms: Terms
    stage: str
    labels: Mapping[int, str]
    than: Mapping[int, str]

    def name(self, blade: BladeId) -> str:
        """Return what to call a member."""
        label = "" if blade == REFERENCE else self.labels.get(blade, "")
        return wording.blade_name(blade, label)

    def shift_allowed(self, one: Decision) -> str:
        """Return what a concluded shift means for a blade's change, "" without one."""
        shift = self.decided.shift
        if shift.stage != "concluded":
            return ""
        if not one.spared:
            return f", a shift of {shift.shift_deg:+.2f} of aircraft or level taken off"
        way = "coarser" if shift.shift_deg < 0 else "finer"
        off = f"{abs(shift.shift_deg):.2f} {way}"
        return f", set after the shift: truly {off} than it was read"

    def agreeing(self, one: Decision) -> str:
        """Return who is steady where this blade is not."""
        decisions = self.decided.decisions
        others = [other for other in decisions if other.blade not in {one.blade, REFERENCE}]
        steady = [self.name(other.blade) for other in others if other.state == "steady"]
        all_of_several = len(others) > 1 and len(steady) == len(others)
        names = ["the others"] if all_of_several else steady
        if any(other.blade == REFERENCE and other.state == "steady" for other in decisions):
            names = [*names, self.name(REFERENCE)]
        if not names:
            return "; nothing else is known to agree"
        verb = "agree" if all_of_several or len(names) > 1 else "agrees"
        return f"; {wording.together(names)} {verb}"


def _size(one: Decision) -> str:
    return wording.change(one.change_deg, one.u95_deg)


def _labels_exchanged(one: Decision, round_: _Round) -> str:
    assert one.partner is not None
    name, other = round_.name(one.blade), round_.name(one.partner)
    return (
        f"{name} and {other} read like each other ({name} by {one.change_deg:+.2f}): "
        "their labels were exchanged, or each turned by just the difference; look which is which"
    )


def _reference_first(one: Decision, round_: _Round) -> str:
    name = round_.name(one.blade)
    return f"{name} reads {_size(one)}; not known until the reference has been read again"


def _moved(one: Decision, round_: _Round) -> str:
    # a call repeats the numbers of its finding, where the last digit may round the other way
    size = wording.change(stated(one.change_deg), stated(one.u95_deg))
    name, rest = round_.name(one.blade), round_.shift_allowed(one) + round_.agreeing(one)
    if one.state == "turned":
        return f"{name} was turned by tightening ({round_.stage}): {size} than before{rest}"
    since = "" if one.blade == REFERENCE else round_.than.get(one.blade, "")
    return f"{name} is {size} than {since or 'when it was set'}{rest}"


def _within_play(one: Decision, round_: _Round) -> str:
    play = f"play {round_.terms.play_deg:.2f}"
    return f"{round_.name(one.blade)} is within its play ({_size(one)}, {play})"


def _within_wide_play(one: Decision, round_: _Round) -> str:
    return f"{_within_play(one, round_)}; {SETTLE}"


def _in_doubt(one: Decision, round_: _Round) -> str:
    close = f"too close to say (probability {one.probability:.2f}): place again"
    return f"{round_.name(one.blade)} reads {_size(one)}, {close}"


def _to_the_end(one: Decision, round_: _Round, *possible: str) -> str:
    times = "placement" if one.placements == 1 else "placements"
    after = f"after {one.placements} {times} ({_size(one)})"
    return f"{round_.name(one.blade)} is not known {after}: {wording.together(possible)} possible"


def _in_doubt_to_the_end(one: Decision, round_: _Round) -> str:
    moved = "turned" if one.blade in round_.terms.tightened else "moved"
    shift = round_.decided.shift
    alike = [f"shifted with everything else ({shift.probability:.2f})"]
    said = _to_the_end(
        one,
        round_,
        f"{moved} ({one.probability:.2f})",
        *(alike if shift.stage == "possible" else []),
        *_read_for_another(one, round_),
        f"steady ({1.0 - one.probability:.2f}) remain",
    )
    return f"{said}; it is in tolerance either way" if one.blade in round_.terms.settled else said


def _read_for_another(one: Decision, round_: _Round) -> list[str]:
    """Return that it may be another blade that was read, where that is as likely as a doubt wants."""
    if one.partner is None or one.exchanged < round_.terms.thresholds.steady_probability:
        return []
    return [f"exchanged with {round_.name(one.partner)} ({one.exchanged:.2f})"]


def _hidden(one: Decision) -> str:
    assert one.could_hide_deg is not None
    return f"a move under {one.could_hide_deg:.2f} could hide"


def _blunt(what_next: str) -> Callable[[Decision, _Round], str]:
    def sentence(one: Decision, round_: _Round) -> str:
        terms = round_.terms
        more = f"more than the tolerance of {terms.tolerance_deg:.2f}"
        if one.could_hide_deg is not None and one.could_hide_deg <= terms.tolerance_deg:
            more = f"more than the {terms.find_deg:.2f} that is to be found"
        return f"{round_.name(one.blade)} is not known: {_hidden(one)}, {more}; {what_next}"

    return sentence


def _steady(one: Decision, round_: _Round) -> str:
    size = f"{_size(one)}{round_.shift_allowed(one)}"
    return f"{round_.name(one.blade)} is steady ({size}): {_hidden(one)}"


def _shift_concluded(one: Decision, round_: _Round) -> str:
    decisions = round_.decided.decisions
    after = sum(other.spared for other in decisions)
    alike = sum(other.blade != REFERENCE for other in decisions) - after
    others = {0: "", 1: " and the held blade with it"}.get(
        alike, f" and the {alike} held blades with it"
    )
    spared = {0: "", 1: "; one blade was set after it"}.get(
        after, f"; {after} blades were set after it"
    )
    return f"aircraft or level shifted: reference reads {_size(one)}{others}{spared}"


def _shift_in_doubt(one: Decision, round_: _Round) -> str:
    return (
        f"{round_.name(one.blade)} reads {_size(one)}; a shift of aircraft or level is possible "
        f"(probability {one.probability:.2f}): read the reference again"
    )


def _shift_in_doubt_to_the_end(one: Decision, round_: _Round) -> str:
    return _to_the_end(one, round_, f"a shift ({one.probability:.2f})", "moved blades remain")


SENTENCES: dict[Reason, Callable[[Decision, _Round], str]] = {
    "labels exchanged": _labels_exchanged,
    "reference first": _reference_first,
    "moved": _moved,
    "within play": _within_play,
    "within wide play": _within_wide_play,
    "in doubt": _in_doubt,
    "in doubt to the end": _in_doubt_to_the_end,
    "blunt within play": _blunt(SETTLE),
    "blunt": _blunt("place it again"),
    "blunt for good": _blunt(SEAT_BETTER),
    "blunt to the end": _blunt("no placement is left"),
    "steady": _steady,
    "shift concluded": _shift_concluded,
    "shift in doubt": _shift_in_doubt,
    "shift in doubt to the end": _shift_in_doubt_to_the_end,
}
"""One sentence a reason."""
