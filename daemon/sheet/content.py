"""What stands on the sheet: recorded outputs in words, and never a number worked out anew. Pure."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from daemon.session.recording import Recording
from daemon.session.text import lines
from shared.events import (
    REFERENCE,
    Alarm,
    Answered,
    Asked,
    Body,
    Captured,
    Cleared,
    Held,
    Judged,
    Noted,
    StepChanged,
    Summary,
    Withdrawn,
)
from shared.plan import Wrench
from shared.sentences import clock
from shared.torque import SAID
from shared.wording import VERDICTS, blade_name

HEADINGS = {
    "within": "WITHIN",
    "too close to say": "TOO CLOSE TO SAY",
    "out": "OUT",
    "open": "OPEN",
    "abandoned": "DO NOT FLY",
}
UNFINISHED = "OPEN"
COLUMNS = {
    "found": "as found",
    "set": "as set",
    "check": "before tightening",
    "snug": "after snug",
    "nip": "after nip",
    "torque": "after torque",
    "final": "at the end",
}
CAUTION = (
    "This sheet records what was measured; it signs nothing off. The propeller's and the aircraft's manuals "
    "and local rules come first, and release to service is for those entitled to it. After a change of "
    "setting: a tied-down ground run before flight, small steps, bolts checked after the first flight and at "
    "the manual's interval."
)


@dataclass(frozen=True, slots=True)
class Cell:
    """A blade in one column; angle: "" where it was not read."""

    angle: str = ""
    u95: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A blade: number, mark, serial number, one cell a column, and what was overruled."""

    blade: str
    mark: str
    serial: str
    cells: list[Cell]
    accepted: str = ""


@dataclass(frozen=True, slots=True)
class Bar:
    """Where a blade stands at last, for the drawing. Degrees."""

    name: str
    error_deg: float
    u95_deg: float
    mark: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that is printed."""

    heading: str
    concerned: str
    """Which blades the heading is about; "" where it is about none."""
    good: bool
    say: str
    facts: list[tuple[str, str]]
    levels: list[tuple[str, str]]
    columns: list[str]
    rows: list[Row]
    spreads: list[str]
    """Of each column, as in "0.09 ± 0.08, in"."""
    reference: str
    bars: list[Bar]
    tolerance_deg: float
    torque: list[tuple[str, str, str]]
    """When a pass or a check was said to be done, in which round, and what it was."""
    alarms: list[tuple[str, str, bool]]
    """What was said, how it was answered, and whether that overruled it."""
    remarks: list[str]
    people: str
    digest: str
    """SHA-256 of the session's text form."""
    session: str
    caution: str = CAUTION
    blanks: list[str] = field(
        default_factory=lambda: [
            "Torque as pulled, wrench and its calibration",
            "Worked by, date, signature",
            "Checked by, date, signature",
            "Next torque check",
            "Entries and release, as local rules ask",
        ]
    )
    flights: str = ""
    """Angle against rpm as SVG, where trial flights stand beside the session."""


def sheet_of(recording: Recording) -> Sheet:
    """Return what stands on the sheet of a session, finished or not."""
    bodies = [(event.t_ns, event.body) for event in recording.events]
    summary = next((body for _, body in reversed(bodies) if isinstance(body, Summary)), None)
    columns, table = _columns(bodies, summary)
    job = recording.header.job
    accepted = _accepted(summary)
    rows = [
        Row(
            str(blade),
            job.propeller.labels[blade - 1] if job.propeller.labels else "",
            job.propeller.serials[blade - 1] if job.propeller.serials else "",
            [column.get(blade, Cell()) for column in table],
            accepted.get(blade, ""),
        )
        for blade in range(1, job.propeller.blades + 1)
    ]
    return Sheet(
        *_result(summary, recording),
        facts=_facts(recording),
        levels=_levels(recording),
        columns=columns,
        rows=rows,
        spreads=_spreads(bodies, summary, columns),
        reference=_reference(bodies),
        bars=_bars(recording, summary),
        tolerance_deg=job.target.tolerance_deg,
        torque=_torque(bodies),
        alarms=_alarms(bodies),
        remarks=_remarks(bodies),
        people="; ".join(f"{one.name}, {one.role}" if one.role else one.name for one in job.people),
        digest=_digest(recording),
        session=recording.header.session,
    )


Told = Sequence[tuple[int, Body]]


def _result(summary: Summary | None, recording: Recording) -> tuple[str, str, bool, str]:
    if summary is None:
        return UNFINISHED, "", False, "The session has not ended: nothing is judged."
    result = summary.result
    if result is None:
        word = "DO NOT FLY" if "abandoned" in summary.state else "NOT JUDGED"
        return word, "", False, summary.say or summary.state
    wanted = {"out": "out", "too close to say": "too close to say"}.get(result)
    label = recording.header.job.propeller.label
    named = [
        blade_name(one["blade"], label(one["blade"]))
        for one in summary.blades
        if wanted is not None and one.get("tolerance") == wanted
    ]
    if result == "out" and not named:
        named = ["the spread"]
    return HEADINGS[result], ", ".join(named), result == "within", summary.say or summary.state


def _facts(recording: Recording) -> list[tuple[str, str]]:
    header, job = recording.header, recording.header.job
    propeller, target = job.propeller, job.target
    radius = f", {propeller.radius_m:g} m radius" if propeller.radius_m else ""
    found = [
        ("Job", job.name),
        ("Aircraft", ", ".join(filter(None, (job.aircraft, job.hours and f"{job.hours} h")))),
        (
            "Propeller",
            f"{propeller.blades} blades, {propeller.layout}, {propeller.rotation}"
            + (f", hub {propeller.hub}" if propeller.hub else ""),
        ),
        ("Hub halves", ", ".join(propeller.halves)),
        ("Match marks, blade 1 first", ", ".join(propeller.match_marks)),
        ("Shims, blade 1 first", ", ".join(propeller.shims)),
        ("Damage looked for", propeller.damage),
        ("Order of work", job.plan.source),
        ("Wrench", _wrench(job.plan.wrench)),
        ("Manual", job.manual),
        ("Station", propeller.station + radius),
        (
            "Target",
            f"{target.angle_deg:.2f}° ± {target.tolerance_deg:.2f}°, spread {target.spread_deg:.2f}°",
        ),
        ("Begun", header.started),
        ("Recorded by", f"stillblade {header.stillblade}, rules {header.rules}"),
        ("Continues", header.continues),
        ("Notes", job.notes),
    ]
    return [(name, value) for name, value in found if value]


def _wrench(wrench: Wrench | None) -> str:
    if wrench is None:
        return ""
    until = (
        f"calibrated until {wrench.calibrated}" if wrench.calibrated else "calibration not stated"
    )
    return f"{wrench.name}, {wrench.least:g} to {wrench.most:g} {SAID[wrench.unit]}, {until}"


def _levels(recording: Recording) -> list[tuple[str, str]]:
    found = []
    for entry in recording.header.job.level:
        profile = recording.header.profiles[entry.name]
        zero = profile.accuracy.zero_date
        proven = f"zero proven {zero}" if zero else "zero not proven"
        late = entry.name in recording.header.unproven
        words = f"{profile.title}; zero within {profile.accuracy.zero_deg:g}° as stated; {proven}"
        found.append((entry.name, words + (", not within the job's interval" if late else "")))
    return found


def _columns(bodies: Told, summary: Summary | None) -> tuple[list[str], list[dict[int, Cell]]]:
    """Return the headings and, for each, the cells by blade: as set, each round's last, the end."""
    held = {
        b.blade: _cell(b.angle_deg, b.u95_deg, b.tolerance)
        for _, b in bodies
        if isinstance(b, Held)
    }
    table: dict[str, dict[int, Cell]] = {"as set": held} if held else {}
    for _, body in bodies:
        if isinstance(body, Judged):
            table[COLUMNS.get(body.stage, body.stage)] = _cells(body.blades)
    if summary is not None:
        table["result"] = _cells(summary.blades)
    return list(table), list(table.values())


def _cells(blades: Sequence[dict[str, Any]]) -> dict[int, Cell]:
    return {
        one["blade"]: _cell(one.get("angle_deg"), one.get("u95_deg"), one.get("tolerance") or "")
        for one in blades
    }


def _cell(angle_deg: float | None, u95_deg: float | None, tolerance: str) -> Cell:
    if angle_deg is None:
        return Cell()
    u95 = "" if u95_deg is None else f"± {u95_deg:.2f}"
    return Cell(f"{angle_deg:.2f}", u95, VERDICTS.get(tolerance, tolerance))


def _spreads(bodies: Told, summary: Summary | None, columns: Sequence[str]) -> list[str]:
    found: dict[str, str] = {}
    for _, body in bodies:
        if isinstance(body, Judged):
            found[COLUMNS.get(body.stage, body.stage)] = _spread(
                body.spread_deg, body.spread_u95_deg, body.spread
            )
    if summary is not None:
        found["result"] = _spread(summary.spread_deg, summary.spread_u95_deg, summary.spread)
    return [found.get(column, "") for column in columns]


def _spread(deg: float | None, u95_deg: float | None, verdict: str | None) -> str:
    if deg is None:
        return ""
    guard = "" if u95_deg is None else f" ± {u95_deg:.2f}"
    return f"{deg:.2f}{guard}" + (f", {VERDICTS.get(verdict, verdict)}" if verdict else "")


def _reference(bodies: Told) -> str:
    withdrawn = {body.id for _, body in bodies if isinstance(body, Withdrawn)}
    read = [
        (t_ns, body)
        for t_ns, body in bodies
        if isinstance(body, Captured) and body.blade == REFERENCE and body.id not in withdrawn
    ]
    if not read:
        return "not read"
    words = [
        f"{body.angle_deg:+.2f}° ± {body.u95_deg:.2f}° at {clock(t_ns)}" for t_ns, body in read
    ]
    return words[0] if len(words) == 1 else f"first {words[0]}, last {words[-1]}"


def _bars(recording: Recording, summary: Summary | None) -> list[Bar]:
    if summary is None:
        return []
    target = recording.header.job.target.angle_deg
    label = recording.header.job.propeller.label
    return [
        Bar(
            blade_name(one["blade"], label(one["blade"])),
            one["angle_deg"] - target,
            one["u95_deg"] or 0.0,
            VERDICTS.get(one.get("tolerance") or "", ""),
        )
        for one in summary.blades
        if one.get("angle_deg") is not None
    ]


def _accepted(summary: Summary | None) -> dict[int, str]:
    if summary is None:
        return {}
    return {
        one["blade"]: "; ".join(
            f"{each['kind']}, accepted by {each['by']}: {each['reason']}"
            for each in one["accepted"]
        )
        for one in summary.blades
        if one.get("accepted")
    }


def _alarms(bodies: Told) -> list[tuple[str, str, bool]]:
    cleared = {body.alarm: (t, body) for t, body in bodies if isinstance(body, Cleared)}
    found = []
    for t_ns, body in bodies:
        if isinstance(body, Alarm):
            at, answer = cleared.get(body.id, (0, None))
            said = f"{clock(t_ns)}  {body.say}"
            found.append((said, _answer(at, answer), answer is None or answer.how == "accept"))
    return found


def _answer(t_ns: int, answer: Cleared | None) -> str:
    if answer is None:
        return "NOT ANSWERED"
    who = f" by {answer.by}" if answer.by else ""
    why = f": {answer.reason}" if answer.reason else ""
    return f"{clock(t_ns)}  {answer.how}{who}{why}"


def _remarks(bodies: Told) -> list[str]:
    """Notes, questions, readings that do not count, and when hands were asked to tighten."""
    found = []
    for t_ns, body in bodies:
        match body:
            case Noted(kind="note"):
                found.append(f"{clock(t_ns)}  note: {body.say}")
            case Asked():
                found.append(f"{clock(t_ns)}  asked: {body.say}")
            case Withdrawn():
                found.append(f"{clock(t_ns)}  reading {body.id} withdrawn: {body.reason}")
            case StepChanged(stage="slacken"):
                found.append(f"{clock(t_ns)}  {body.say.partition('.')[0]}.")
    return found


def _torque(bodies: Told) -> list[tuple[str, str, str]]:
    """What a person said to have done with the hands; what was taken back is not there.

    The next step is announced before the answer that this one is done.
    """
    found: list[tuple[str, str, str]] = []
    step = announced = None
    for t_ns, body in bodies:
        if isinstance(body, StepChanged):
            step, announced = announced, body
        elif step is not None and (did := _did(body)):
            if step.stage in HANDS and did == f"{step.stage} done":
                found.append((clock(t_ns), step.label, _of_the_hands(step)))
            elif did == "one step back" and found:
                found.pop()
    return found


def _did(body: Body) -> str:
    """Return what somebody did, by a press or by turning the level over; "": nothing."""
    if isinstance(body, Noted):
        _, turned, did = body.say.partition("the level was turned over: ")
        return did.removesuffix(".") if turned else ""
    return body.say if isinstance(body, Answered) and body.result == "done" else ""


HANDS = ("check off", "wrench", "tighten")


def _of_the_hands(step: StepChanged) -> str:
    """Return what was done, without how."""
    if step.stage == "wrench":
        _, _, setting = step.say.partition("set to ")
        return f"a second person read the wrench: {setting.partition('? ')[0]}"
    words = step.say.removesuffix(" Press when done.")
    return words.partition(". ")[0].partition(": checked?")[0]


def _digest(recording: Recording) -> str:
    """SHA-256 of what `stillblade text` prints."""
    told = hashlib.sha256()
    for line in lines(recording):
        told.update(f"{line}\n".encode())
    return told.hexdigest()
