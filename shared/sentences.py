"""Events as sentences for the log. A kind without a sentence here is not logged."""

from collections.abc import Callable
from typing import Any

from shared.events import (
    Alarm,
    Answered,
    Asked,
    Assigned,
    Body,
    Captured,
    Cleared,
    Held,
    Judged,
    Linked,
    Noted,
    Opened,
    Refused,
    StepChanged,
    Summary,
    Unknown,
    Verdict,
    Watched,
    Withdrawn,
)
from shared.inputs import NS
from shared.wording import bare_name

LINK_WORDS = {
    "up": "is connected",
    "down": "is gone",
    "silent": "is silent",
    "back": "is back",
    "stuck": "sends the same number again and again",
    "mode": "changed its mode",
    "swapped": "is another instrument than before",
}
CLEARED_WORDS = {
    "set-again": "to be set again",
    "accept": "accepted",
    "exchange": "each gets its own readings",
    "re-reading": "cleared by reading again",
    "confirm": "looked into and right",
}


def degrees(value: float | None, signed: bool = False) -> str:
    """Two decimals and the sign of the degree; a dash where there is no number."""
    if value is None:
        return "—"
    return f"{value:+.2f}°" if signed else f"{value:.2f}°"


def clock(t_ns: int) -> str:
    """Session time as minutes and seconds, hours where needed."""
    seconds = t_ns // NS
    minutes, hours = seconds // 60 % 60, seconds // 3600
    return f"{hours}:{minutes:02}:{seconds % 60:02}" if hours else f"{minutes}:{seconds % 60:02}"


def _opened(body: Opened) -> str:
    again = f", continues {body.continues}" if body.continues else ""
    return (
        f"session open: {body.blades} blades to {degrees(body.target_deg)}"
        f" ± {degrees(body.tolerance_deg)}{again}"
    )


def _linked(body: Linked) -> str:
    words = f"level {body.level} {LINK_WORDS.get(body.state, body.state)}"
    gap = f" after {body.gap_s:.0f} s" if body.state == "back" and body.gap_s else ""
    return words + gap + (f": {body.reason}" if body.reason else "")


def _refused(body: Refused) -> str:
    return f"level {body.level}: {body.count} not readable ({body.reason})"


def _step(body: StepChanged) -> str:
    return f"{body.stage}: {body.say}"


def _captured(body: Captured) -> str:
    short = "" if body.reached else ", before its average was good enough"
    half = {1: ", first half,", 2: ", second half,"}.get(body.half, "")
    return (
        f"{bare_name(body.blade)}{half} read: {degrees(body.angle_deg)}"
        f" ± {degrees(body.u95_deg)} (reading {body.id}{short})"
    )


def _held(body: Held) -> str:
    return (
        f"blade {body.blade} held at {degrees(body.angle_deg)}, {body.tolerance};"
        f" lifting did {degrees(body.lift_effect_deg, signed=True)}: do not touch it"
    )


def _cleared(body: Cleared) -> str:
    by = f" by {body.by}" if body.by else ""
    reason = f": {body.reason}" if body.reason else ""
    return f"alarm {body.alarm} {CLEARED_WORDS.get(body.how, body.how)}{by}{reason}"


def _withdrawn(body: Withdrawn) -> str:
    return f"reading {body.id} withdrawn: {body.reason}"


def _assigned(body: Assigned) -> str:
    return f"reading {body.id} belongs to {bare_name(body.blade)}, not {bare_name(body.before)}"


def _answered(body: Answered) -> str:
    if body.result == "done":
        return ""
    return f"{body.client}: {answer_words(body)}"


def _summary(body: Summary) -> str:
    """The result first: that a job is finished says nothing of the blades."""
    if body.result is not None:
        twice = body.state == "finished" or body.state.startswith(body.result)
        ended = "" if twice else f"{body.state}; "
        return f"{ended}{body.say} ({so_many_taken(body.readings)})"
    spread = f", spread {degrees(body.spread_deg)}" if body.spread_deg is not None else ""
    return f"{body.state}, nothing was judged: {so_many_taken(body.readings)}{spread}"


def so_many_taken(readings: int) -> str:
    """Return how many readings were taken, in words."""
    return "1 reading" if readings == 1 else f"{readings} readings"


def answer_words(answer: Answered) -> str:
    """What became of a command, in words; empty when it was simply done."""
    if answer.result == "done":
        return answer.say
    if answer.result == "stale":
        return answer.say or "the step had already changed: nothing was done"
    if answer.result == "late":
        return answer.say or "it came too late: nothing was done"
    return f"not done: {answer.say}" if answer.say else "not done"


def _said(body: Verdict | Judged | Alarm | Asked | Watched | Noted) -> str:
    return body.say


_SENTENCES: dict[type, Callable[[Any], str]] = {
    Opened: _opened,
    Linked: _linked,
    Refused: _refused,
    StepChanged: _step,
    Captured: _captured,
    Held: _held,
    Verdict: _said,
    Judged: _said,
    Alarm: _said,
    Cleared: _cleared,
    Asked: _said,
    Withdrawn: _withdrawn,
    Assigned: _assigned,
    Watched: _said,
    Noted: _said,
    Answered: _answered,
    Summary: _summary,
}


def sentence(body: Body) -> str:
    """Return an event as one sentence, or "" when it is not for people."""
    if isinstance(body, Unknown):
        return f"({body.event})"
    told = _SENTENCES.get(type(body))
    return told(body) if told else ""
