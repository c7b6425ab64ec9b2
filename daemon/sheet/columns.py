"""Every blade as found, as set and after each round: the columns of the sheet. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shared.events import Assigned, BladeId, Body, Captured, Held, Judged, Summary, Withdrawn
from shared.wording import VERDICTS

COLUMNS = {
    "found": "as found",
    "set": "as set",
    "check": "before tightening",
    "snug": "after snug",
    "nip": "after nip",
    "torque": "after torque",
    "final": "at the end",
}
Told = Sequence[tuple[int, Body]]
"""What was said, each with its session time."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A blade in one column; angle: "" where it was not read."""

    angle: str = ""
    u95: str = ""
    mark: str = ""


def columns_of(bodies: Told, summary: Summary | None) -> tuple[list[str], list[dict[int, Cell]]]:
    """Return the headings and, for each, the cells by blade: found, as set, each round's last, the end."""
    held = {
        b.blade: _cell(b.angle_deg, b.u95_deg, b.tolerance)
        for _, b in bodies
        if isinstance(b, Held)
    }
    judged = {b.stage: _cells(b.blades) for _, b in bodies if isinstance(b, Judged)}
    read = _read_in(bodies)
    rounds = {
        COLUMNS.get(stage, stage): {b: cell for b, cell in cells.items() if (stage, b) in read}
        for stage, cells in judged.items()
    }
    first = {name: rounds.pop(name) for name in (COLUMNS["found"],) if name in rounds}
    table = {**first, **({COLUMNS["set"]: held} if held else {}), **rounds}
    if summary is not None:
        table["result"] = _cells(summary.blades)
    return list(table), list(table.values())


def _read_in(bodies: Told) -> set[tuple[str, BladeId | None]]:
    """Return which blades were read in which round: what is judged besides is from before it."""
    assigned = {body.id: body.blade for _, body in bodies if isinstance(body, Assigned)}
    withdrawn = {body.id for _, body in bodies if isinstance(body, Withdrawn)}
    return {
        (body.stage, assigned.get(body.id, body.blade))
        for _, body in bodies
        if isinstance(body, Captured) and body.id not in withdrawn
    }


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


def spreads_of(
    bodies: Told, summary: Summary | None, columns: Sequence[str], table: Sequence[dict[int, Cell]]
) -> list[str]:
    """Return the spread of each column; "" where not every blade was read in it."""
    found: dict[str, str] = {}
    for _, body in bodies:
        if isinstance(body, Judged):
            found[COLUMNS.get(body.stage, body.stage)] = _spread(
                body.spread_deg, body.spread_u95_deg, body.spread
            )
    if summary is not None:
        found["result"] = _spread(summary.spread_deg, summary.spread_u95_deg, summary.spread)
    most = max(map(len, table), default=0)
    cells = zip(columns, table, strict=True)
    return [found.get(column, "") if len(each) == most else "" for column, each in cells]


def _spread(deg: float | None, u95_deg: float | None, verdict: str | None) -> str:
    if deg is None:
        return ""
    guard = "" if u95_deg is None else f" ± {u95_deg:.2f}"
    return f"{deg:.2f}{guard}" + (f", {VERDICTS.get(verdict, verdict)}" if verdict else "")
