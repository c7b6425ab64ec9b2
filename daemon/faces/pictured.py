"""What a page shows: the catalogue of displays and a few words beside it, ready to be painted. Pure.

The page decides nothing: what is largest and which buttons there are, all of it comes from here, and what
begins to be heard from `shared/sounding.py`, as for every other listener.
"""

from typing import Any

from shared.bolts import marked
from shared.displays import NOTHING, Display, Heard, asking, calling, display
from shared.doing import doing_now
from shared.events import Summary
from shared.signals import EVERY, LEADS
from shared.sounding import Cue
from shared.view import AlarmView, BladeView, View
from shared.wording import VERDICTS, bare_name


def pictured(view: View, heard: Heard = NOTHING) -> dict[str, Any]:
    """Return all that is painted, as what becomes JSON."""
    shown = display(view, heard) or _followed(view)
    return {
        "t_ns": view.t_ns,
        "seen": view.seen,
        "largest": shown.largest,
        "second": shown.second.upper(),
        "third": shown.third,
        "shape": shown.shape,
        "tone": shown.tone,
        "value": shown.is_value,
        "say": _closed(heard.summary) if heard.summary else view.say,
        "stand": view.stand,
        "progress": 1.0 if view.live.taken else round(view.live.progress, 2),
        "bolts": _bolts(view),
        "rows": [_row(view, row) for row in view.blades],
        "spread": None if view.spread_deg is None else f"{view.spread_deg:.2f}",
        "notices": list(view.notices),
        "over": heard.summary is not None,
        "buttons": [] if heard.summary else _buttons(view),
    }


def _closed(summary: Summary) -> str:
    """What stands where the instruction stood: nothing is left to be done, or pressed."""
    result = f": {summary.say}" if summary.say else "."
    return f"The record is closed{result}"


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


def cued(cue: Cue) -> dict[str, Any]:
    """Return a signal as a browser plays it: [from Hz, to Hz, ms] of each tone, 0 Hz being silence."""
    signal = EVERY[cue.name]
    return {
        "name": cue.name,
        "leads": cue.name in LEADS,
        "tones": [list(tone) for tone in signal.tones],
        "buzz": list(signal.buzz),
        "words": cue.words,
    }


def _bolts(view: View) -> dict[str, Any] | None:
    """The bolt circle while the wrench is at it: what stands at each bolt, and which is next."""
    found = view.bolts
    if found is None or view.stage != "tighten":
        return None
    return {
        "marks": marked(found.order, found.done),
        "next": found.next - 1,
        "name": f"the turn of each of the {found.group} bolts, bolt 1 at the top",
    }


def _row(view: View, row: BladeView) -> dict[str, Any]:
    return {
        "name": bare_name(row.blade),
        "mark": "" if row.label in {str(row.blade), "reference"} else row.label,
        "angle": "" if row.angle_deg is None else f"{row.angle_deg:.2f}",
        "state": VERDICTS.get(row.tolerance, row.state),
        "alarm": row.alarm,
        "now": row.blade == view.blade,
    }


def _buttons(view: View) -> list[dict[str, Any]]:
    """What can be asked for now, the first the one that is meant to be pressed."""
    if (alarm := calling(view)) is not None:
        return _answers(alarm)
    found: list[dict[str, Any]] = []
    if (question := asking(view)) is not None:
        right = _button("IT IS RIGHT", "confirm", {"id": question.id})
        found.append(right | {"ask": ["nose"]} if question.wants == "nose" else right)
    elif view.press is not None:
        found.append(_button(view.press.upper(), view.press, {}))
    found += [
        _button(name, kind, {})
        for name, kind in (("AGAIN", "again"), ("BACK", "back"))
        if kind in view.offers
    ]
    return found


def _answers(alarm: AlarmView) -> list[dict[str, Any]]:
    answer = {"id": alarm.id}
    found = []
    if alarm.partner is not None:
        found.append(_button("EXCHANGED", "acknowledge", answer | {"then": "exchange"}))
    if alarm.settable:
        found.append(_button("SET AGAIN", "acknowledge", answer | {"then": "set-again"}))
    accept = _button("ACCEPT", "acknowledge", answer | {"then": "accept"})
    return [*found, accept | {"ask": ["by", "reason"]}]


def _button(name: str, kind: str, args: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "kind": kind, "args": args, "ask": []}
