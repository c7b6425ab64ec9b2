"""What stands on the sheet: recorded outputs in words, and never a number worked out anew. Pure."""

import hashlib
from dataclasses import dataclass, field

from daemon.session.recording import Recording
from daemon.session.text import lines
from daemon.sheet.columns import Cell, Told, columns_of, spreads_of
from daemon.sheet.hands_done import done_with_hands
from shared.events import (
    REFERENCE,
    Alarm,
    Asked,
    Captured,
    Cleared,
    Noted,
    StepChanged,
    Summary,
    Withdrawn,
)
from shared.plan import Wrench
from shared.sentences import CLEARED_WORDS, clock
from shared.torque import SAID
from shared.wording import VERDICTS, blade_name

HEADINGS = {
    "within": "WITHIN",
    "too close to say": "TOO CLOSE TO SAY",
    "out": "OUT",
    "open": "OPEN",
    "abandoned": "DO NOT FLY",
}
ABOUT = {
    "out": frozenset({"out"}),
    "too close to say": frozenset({"too close to say"}),
    "open": frozenset({"out", "alarm"}),
    "abandoned": frozenset({"out", "alarm"}),
}
"""Which blades a heading is about: by tolerance, or with an alarm that nobody answered."""
ENDED = ("abandoned by ", "ended early by ")
WORKS = " works from here"
GESTURE = {"turned over": "the level turned over"}
"""Whoever has no name, as the sheet says it."""
UNFINISHED = "OPEN"
CAUTION = (
    "This sheet records what was measured; it signs nothing off. The propeller's and the aircraft's manuals "
    "and local rules come first, and release to service is for those entitled to it. After a change of "
    "setting: a tied-down ground run before flight, small steps, bolts checked after the first flight and at "
    "the manual's interval."
)


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
    otherwise: list[str]
    """What of the hub is otherwise than in its last session, or was taken over from it."""
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
    columns, table = columns_of(bodies, summary)
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
        otherwise=recording.header.remarks,
        columns=columns,
        rows=rows,
        spreads=spreads_of(bodies, summary, columns, table),
        reference=_reference(bodies),
        bars=_bars(recording, summary),
        tolerance_deg=job.target.tolerance_deg,
        torque=done_with_hands(bodies),
        alarms=_alarms(bodies),
        remarks=_remarks(bodies),
        people="; ".join(f"{one.name}, {one.role}" if one.role else one.name for one in job.people),
        digest=_digest(recording),
        session=recording.header.session,
    )


def _result(summary: Summary | None, recording: Recording) -> tuple[str, str, bool, str]:
    if summary is None:
        return UNFINISHED, "", False, "The session has not ended: nothing is judged."
    result = summary.result
    if result is None:
        word = "DO NOT FLY" if "abandoned" in summary.state else "NOT JUDGED"
        return word, "", False, summary.say or summary.state
    named = _concerned(summary, recording)
    if result == "out" and not named:
        named = ["the spread"]
    why = _why_it_ended(recording)
    given_up = result == "abandoned" and why  # the heading says it, and so does the reason
    said = why if given_up else [summary.say or summary.state, *why]
    return HEADINGS[result], ", ".join(named), result == "within", "; ".join(said)


def _concerned(summary: Summary, recording: Recording) -> list[str]:
    """Return the names of those the heading is about; where it is open or given up, of all in doubt."""
    label = recording.header.job.propeller.label
    bodies = (event.body for event in recording.events)
    alarms = [one for one in bodies if isinstance(one, Alarm) and one.id in summary.open_alarms]
    doubted = {blade for one in alarms for blade in (one.blade, *one.blades)}
    wanted = ABOUT.get(summary.result or "", frozenset())
    blades = [
        one["blade"]
        for one in summary.blades
        if one.get("tolerance") in wanted or (one["blade"] in doubted and "alarm" in wanted)
    ]
    return [blade_name(blade, label(blade)) for blade in blades]


def _why_it_ended(recording: Recording) -> list[str]:
    """Return who gave the job up or ended it early, and why."""
    bodies = (event.body for event in reversed(recording.events))
    notes = (one.say for one in bodies if isinstance(one, Noted) and one.kind == "caution")
    return [said for said in notes if said.startswith(ENDED)][:1]


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
    who = f" by {GESTURE.get(answer.by, answer.by)}" if answer.by else ""
    why = f": {answer.reason}" if answer.reason else ""
    return f"{clock(t_ns)}  {CLEARED_WORDS.get(answer.how, answer.how)}{who}{why}"


def _remarks(bodies: Told) -> list[str]:
    """Notes, questions, readings that do not count, and when hands were asked to tighten."""
    found = []
    for t_ns, body in bodies:
        match body:
            case Noted(kind="note"):
                found.append(f"{clock(t_ns)}  note: {body.say}")
            case Noted(kind="caution") if WORKS in body.say:
                who, _, _ = body.say.partition(WORKS)
                found.append(f"{clock(t_ns)}  {who}{WORKS}")
            case Asked():
                found.append(f"{clock(t_ns)}  asked: {body.say}")
            case Withdrawn():
                found.append(f"{clock(t_ns)}  reading {body.id} withdrawn: {body.reason}")
            case StepChanged(stage="slacken"):
                found.append(f"{clock(t_ns)}  {body.say.partition('.')[0]}.")
    return found


def _digest(recording: Recording) -> str:
    """SHA-256 of what `stillblade text` prints."""
    told = hashlib.sha256()
    for line in lines(recording):
        told.update(f"{line}\n".encode())
    return told.hexdigest()
