"""What a page shows: the catalogue of displays and a few words beside it, ready to be painted. Pure.

The page decides nothing: what is largest, which sign it is heard by and which buttons there are, all of
it comes from here.
"""

from dataclasses import dataclass
from typing import Any

from shared.displays import Display, display
from shared.doing import doing_now
from shared.events import Captured, Event, Summary, Withdrawn
from shared.view import BladeView, View
from shared.wording import bare_name

STATES = {"in": "in", "out": "OUT", "too close to say": "too close"}
SIGNALS: dict[str, dict[str, Any]] = {
    "taken": {"tones": [[880, 120], [1320, 160]], "buzz": [120]},
    "question": {"tones": [[660, 200], [440, 300]], "buzz": [200, 100, 200]},
    "alarm": {"tones": [[440, 300], [0, 100], [440, 300]], "buzz": [400, 150, 400], "again_s": 4},
    "no signal": {"tones": [[220, 500]], "buzz": [600], "again_s": 3},
    "hands": {"tones": [[523, 150]], "buzz": [80]},
    "the end": {"tones": [[523, 150], [659, 150], [784, 300]], "buzz": [100, 50, 100, 50, 300]},
}
"""By moment: frequency in Hz and length in ms of each tone, vibration, and how often it comes again."""


@dataclass(slots=True)
class Heard:
    """What a page remembers of the events: readings that count, and the end."""

    readings: list[Captured]
    summary: Summary | None = None

    def hear(self, event: Event) -> None:
        """Take the next event."""
        match event.body:
            case Captured() as reading:
                self.readings.append(reading)
            case Withdrawn(id=number):
                self.readings = [one for one in self.readings if one.id != number]
            case Summary() as summary:
                self.summary = summary


def pictured(view: View, heard: Heard) -> dict[str, Any]:
    """Return all that is painted, as what becomes JSON."""
    newest = heard.readings[-1] if heard.readings else None
    shown = display(view, newest, heard.summary) or _followed(view)
    moment = _moment(view, heard.summary)
    return {
        "t_ns": view.t_ns,
        "seen": view.seen,
        "largest": shown.largest,
        "second": shown.second.upper(),
        "third": shown.third,
        "shape": shown.shape,
        "tone": shown.tone,
        "value": shown.is_value,
        "say": view.say,
        "stand": view.stand,
        "progress": 1.0 if view.live.taken else round(view.live.progress, 2),
        "rows": [_row(view, row) for row in view.blades],
        "spread": None if view.spread_deg is None else f"{view.spread_deg:.2f}",
        "notices": list(view.notices),
        "moment": moment,
        "signal": SIGNALS.get(moment),
        "spoken": _spoken(view, shown, moment, newest),
        "over": heard.summary is not None,
        "buttons": [] if heard.summary else _buttons(view),
    }


def _followed(view: View) -> Display:
    """The number that is followed, with what the hands do next."""
    doing = doing_now(view)
    angle = view.live.angle_deg
    largest = "" if angle is None else f"{angle:.2f}"
    third = f"{_working(view)}: {view.live.words}"
    return Display(largest, doing.word, third, doing.shape, doing.tone, is_value=True)


def _working(view: View) -> str:
    name = bare_name(view.blade)
    return name if view.label in {"", str(view.blade), "reference"} else f"{name}, {view.label}"


def _moment(view: View, summary: Summary | None) -> str:
    if summary is not None or view.finished:
        return "the end"
    if view.alarms:
        return "alarm"
    if view.live.angle_deg is None and view.press != "done":
        return "no signal"
    if view.question is not None:
        return "question"
    if view.live.taken:
        return "taken"
    return "hands" if view.press == "done" else ""


def _spoken(view: View, shown: Display, moment: str, newest: Captured | None) -> str:
    """What a voice says when this moment begins: the blade first, then what and how much."""
    if moment == "taken" and newest is not None:
        return f"{bare_name(newest.blade)}, {newest.angle_deg:.2f}, lift the level"
    if moment in {"alarm", "question", "the end", "no signal"}:
        return ", ".join(
            part for part in (shown.largest, shown.second, shown.third) if part
        ).lower()
    return view.say if moment == "hands" else ""


def _row(view: View, row: BladeView) -> dict[str, Any]:
    return {
        "name": bare_name(row.blade),
        "mark": "" if row.label in {str(row.blade), "reference"} else row.label,
        "angle": "" if row.angle_deg is None else f"{row.angle_deg:.2f}",
        "state": STATES.get(row.tolerance, row.state),
        "alarm": row.alarm,
        "now": row.blade == view.blade,
    }


def _buttons(view: View) -> list[dict[str, Any]]:
    """What can be asked for now, the first the one that is meant to be pressed."""
    found: list[dict[str, Any]] = []
    if view.alarms:
        alarm = view.alarms[0]
        answer = {"id": alarm.id}
        if alarm.settable:
            found.append(_button("SET AGAIN", "acknowledge", answer | {"then": "set-again"}))
        if alarm.partner is not None:
            found.append(_button("EXCHANGED", "acknowledge", answer | {"then": "exchange"}))
        accept = _button("ACCEPT", "acknowledge", answer | {"then": "accept"})
        return [*found, accept | {"ask": ["by", "reason"]}]
    if view.question is not None:
        right = _button("IT IS RIGHT", "confirm", {"id": view.question.id})
        found.append(right | {"ask": ["nose"]} if view.question.wants == "nose" else right)
    elif view.press is not None:
        found.append(_button(view.press.upper(), view.press, {}))
    found += [
        _button(name, kind, {})
        for name, kind in (("AGAIN", "again"), ("BACK", "back"))
        if kind in view.offers
    ]
    return found


def _button(name: str, kind: str, args: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "kind": kind, "args": args, "ask": []}
