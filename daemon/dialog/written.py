"""The job file that a dialog leaves behind: TOML with comments that say where each value is from."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Tables = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Line:
    """One key of a table with its comment."""

    key: str
    value: Any
    why: str = ""

    def __str__(self) -> str:
        """As TOML."""
        end = f"  # {self.why}" if self.why else ""
        return f"{self.key} = {toml(self.value)}{end}"


def toml(value: Any) -> str:
    """Return a value as TOML on one line: text, numbers, booleans, lists, tables.

    JSON's escapes of text are among TOML's, and its characters outside the basic plane are written
    as they are, because TOML knows no pairs.
    """
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(key)} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, float):
        return repr(value) if value != round(value) or abs(value) > 1e15 else f"{value:.1f}"
    text = json.dumps(value, ensure_ascii=False)
    return text.replace("\x7f", "\\u007f") if isinstance(value, str) else text


def _key(key: str) -> str:
    bare = key.replace("-", "").replace("_", "")
    return key if bare.isascii() and bare.isalnum() else toml(key)


def job_text(job: Tables, level: Tables, checks: Sequence[str], day: str) -> str:
    """Return a job file.

    Args:
        job: its tables without the level's.
        level: the level's own; "settings" is a table of tables.
        checks: what was proven of the level and what was not, a sentence each.
        day: when it was written, for the head.
    """
    parts = [
        f"# Written by `stillblade new` on {day}; change what you like, `stillblade check` looks it through.",
        "# The manuals of propeller, engine and aircraft come before anything that stands here.",
        "stillblade_job = 1",
        *_lines(
            Line("name", job["name"]),
            Line("aircraft", job["aircraft"]),
            *([Line("hours", job["hours"], "of the aircraft")] if job.get("hours") else ()),
            Line(
                "manual", job["manual"], "" if job["manual"] else "not said: title, revision, page"
            ),
        ),
        *_table("propeller", _propeller(job["propeller"])),
        *_table("target", _target(job["target"])),
        *_table("setup", _setup(job["setup"])),
        *_plan(job["plan"], job["manual"]),
        "",
        *(f"# {line}" for line in checks),
        *_level(level),
    ]
    return "\n".join(parts) + "\n"


def _lines(*lines: Line) -> list[str]:
    return [str(line) for line in lines]


def _table(name: str, lines: Sequence[Line]) -> list[str]:
    return ["", f"[{name}]", *_lines(*lines)]


def _propeller(table: Tables) -> list[Line]:
    lines = [
        Line("blades", table["blades"]),
        Line("layout", table["layout"], "tractor: it pulls; pusher: it pushes"),
        Line("rotation", table["rotation"], "seen from behind the aircraft, looking forward"),
        Line("station", table["station"], "in the manual's words"),
    ]
    if table["radius_m"] is not None:
        lines.append(Line("radius_m", table["radius_m"], "of the station, from the hub's centre"))
    if table["labels"]:
        lines.append(Line("labels", table["labels"], "blade 1 first"))
    why = {"hub": "what is known of it is taken from its sessions", "serials": "blade 1 first"}
    parts = ("hub", "serials", "halves", "match_marks", "shims", "damage")
    return lines + [Line(key, table[key], why.get(key, "")) for key in parts if table.get(key)]


def _target(table: Tables) -> list[Line]:
    return [
        Line("angle_deg", table["angle_deg"], "all three from the manual"),
        Line("tolerance_deg", table["tolerance_deg"], "of one blade, plus or minus"),
        Line("spread_deg", table["spread_deg"], "between any two blades"),
    ]


def _setup(table: Tables) -> list[Line]:
    why = {
        "hub-face": "the shaft's tilt is read on the hub's face",
        "half-turn": "the face leans: it is read again half a turn further on",
        "both-sides": "no face: blade 1 is read on both sides of the aircraft",
    }
    return [Line("reference", table["reference"], why[table["reference"]])]


def _plan(table: Tables, manual: str) -> list[str]:
    each = table["clamps"]
    lines = [Line("clamps", each, "blades that one tightening may turn together")] if each else []
    if "order" in table:
        lines.append(Line("order", table["order"]))
    if manual:
        lines.append(Line("source", manual))
    parts = _table("plan", lines) if lines else []
    for group in table["bolts"]:
        parts += ["", "[[plan.bolts]]"]
        parts += _lines(
            Line("name", group["name"]),
            Line("count", group["count"]),
            Line("torque", group["torque"], "from the manual, without a nut's run-down torque"),
            Line("unit", group["unit"]),
            Line("passes", group["passes"], "shares of the torque"),
        )
    return parts


def _level(level: Tables) -> list[str]:
    parts = ["[[level]]"]
    parts += _lines(
        *(Line(key, level[key]) for key in ("name", "profile", "port")),
    )
    settings: Tables = level["settings"]
    if settings:
        parts += ["", "[level.settings]  # what differs on this very instrument"]
        parts += _lines(*(Line(_key(key), value) for key, value in settings.items()))
    return parts
