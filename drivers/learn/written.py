"""An explanation as a profile: commented TOML."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from drivers.learn.asked import Heard
from drivers.learn.explained import Explanation
from drivers.learn.frames import Column
from drivers.learn.motions import Windows
from drivers.learn.scales import ONE_G, SLOPES

_SMALLEST_DEG = 0.0001
_MEANT = {
    "planar": "one angle, in its own plane: it went to 90 when the level was rolled onto its side",
    "projection": "the arc sine of one axis: it stayed when the level was rolled onto its side",
    "roll-pitch": "two axes: one went to 90 when the level was rolled onto its side",
    "vector": "three axes, whose length stayed one g",
}


@dataclass(frozen=True, slots=True)
class Rest:
    """How a level behaves at rest: scatter, its correlation, samples of it, rate, last digit."""

    sd_deg: float
    lag1: float
    n: int
    rate_hz: float
    resolution_deg: float


def at_rest(one: Explanation, windows: Windows) -> Rest:
    """Return noise, rate and resolution of the frames of an explanation.

    What is sent only on a change shows neither noise nor rate: all of them 0.
    """
    if one.frames.on_change:
        return Rest(0.0, 0.0, 0, 0.0, _last(one))
    still = windows.resting(windows.of("still")[0])
    shown = one.raised_deg[still]
    middle = float(np.median(shown))
    near = shown[np.abs(shown - middle) < max(0.5, 8.0 * float(np.median(np.abs(shown - middle))))]
    sd_deg = float(near.std())
    moved = near - near.mean()
    lag1 = float((moved[1:] * moved[:-1]).mean() / near.var()) if near.var() > 0 else 0.0
    gaps = np.diff(one.frames.times_s)
    usual = float(np.median(gaps)) if len(gaps) else 1.0
    ordinary = gaps[gaps < 1.9 * usual] if usual > 0 else gaps
    mean_s = float(ordinary.mean()) if len(ordinary) else 1.0
    return Rest(sd_deg, min(0.95, max(0.0, lag1)), len(near), 1.0 / max(mean_s, 1e-4), _last(one))


def _last(one: Explanation) -> float:
    """Return the smallest step in degrees, at rest."""
    column = next(iter(one.fields.values()))
    step = column.step
    if column.kind == "f32":
        apart = np.diff(np.unique(column.values))
        step = float(np.percentile(apart, 5.0)) if len(apart) else 0.0
    return min(90.0, max(_SMALLEST_DEG, step * abs(one.step.scale) * _deg_per(one.step.unit)))


def _deg_per(unit: str) -> float:
    if unit == "rad":
        return math.degrees(1.0)
    if unit in SLOPES or unit in ONE_G:
        return math.degrees(1.0 / (SLOPES | ONE_G)[unit])
    return 1.0


def profile_text(
    one: Explanation, heard: Heard, rest: Rest, kind: str, unverified: Sequence[str]
) -> str:
    """Return the whole profile, with what each line rests on."""
    sequence = _sequence(one)
    fields = {**one.fields, **({"sequence": sequence} if sequence else {})}
    codec, options, sources = one.frames.form.tables(fields)
    lines = [
        "# Learned from a recording by `stillblade levels learn`: compare it with the level's own",
        "# display, on a slope, on both signs, before you trust any of it.",
        *(f"# Not verified: {line}" for line in unverified),
        "stillblade_profile = 1",
        f"kind = {_toml(kind)}",
        f"title = {_toml('Learned: ' + one.frames.says)}",
        f"# {_MEANT[one.convention]}" if one.sideways else "# not told from the other: not rolled",
        f"convention = {_toml(one.convention)}",
        f"resolution_deg = {_number(rest.resolution_deg)}",
        "",
        *_transport(heard, rest),
        "[format]",
        f"codec = {_toml(codec)}",
        "",
        f"[format.options]  # {_agreed(one)}",
        *(f"{key} = {_toml(value)}" for key, value in options.items()),
        "",
        "[fields]",
        *(_field(one, role, sources[role]) for role in fields),
        "",
        "[mounting]  # the marked end towards the leading edge",
        *(f"{key} = {_toml(value)}" for key, value in one.mounting.items()),
        "",
        *_zero(one),
        *_reporting(one, rest),
    ]
    return "\n".join(lines) + "\n"


def _reporting(one: Explanation, rest: Rest) -> list[str]:
    if one.frames.on_change:
        return [
            "[reporting]  # it sent next to nothing while it lay still, so its noise is not known",
            'mode = "on-change"',
        ]
    return [
        f"[noise]  # of {rest.n} samples at rest",
        f"sd_deg = {_number(round(rest.sd_deg, 5))}",
        f"lag1 = {_number(round(rest.lag1, 3))}",
        f"n = {rest.n}",
        "",
        "[reporting]",
        f"rate_hz = {_number(round(rest.rate_hz, 2))}",
    ]


def _transport(heard: Heard, rest: Rest) -> list[str]:
    lines = ["[transport]", f"link = {_toml(heard.link)}"]
    if heard.link == "serial":
        lines.append(f"baud = {heard.baud}")
    if not rest.rate_hz:
        lines.append("")
    else:
        lines += [f"silent_after_s = {_number(round(max(1.0, 5.0 / rest.rate_hz), 1))}", ""]
    if heard.link == "ble-notify":
        lines += ["[[channels]]", "number = 0"]
        if heard.service_uuid:
            lines.append(f"service_uuid = {_toml(heard.service_uuid)}")
        if heard.characteristic_uuid:
            lines.append(f"characteristic_uuid = {_toml(heard.characteristic_uuid)}")
        lines.append("")
    return lines


def _agreed(one: Explanation) -> str:
    frames = one.frames
    if frames.check:
        return f"{frames.check} agreed in {frames.checked} frames"
    return f"{len(frames.raw)} frames, without a check that was found"


def _field(one: Explanation, role: str, source: str) -> str:
    if role == "sequence":
        return f'sequence = {{ source = {_toml(source)}, unit = "1" }}'
    scale = f", scale = {_number(one.step.scale)}" if one.step.scale != 1.0 else ""
    return f"{role} = {{ source = {_toml(source)}{scale}, unit = {_toml(one.step.unit)} }}"


def _zero(one: Explanation) -> list[str]:
    if not math.isfinite(one.zero_deg):
        return []
    return [f"# Turned end for end it showed a zero error of {one.zero_deg:+.2f} degrees;", "# `stillblade levels zero` finds it better.", ""]  # fmt: skip


def _sequence(one: Explanation) -> Column | None:
    """Return the level's own counter: a number that grows by one from frame to frame."""
    if one.frames.on_change:
        return None
    best: tuple[float, int, Column] | None = None
    for column in one.frames.columns:
        if any(column.overlaps(other) for other in one.fields.values()):
            continue
        if column.order and any(c.order not in {"", column.order} for c in one.fields.values()):
            continue
        if column.kind not in {"u8", "u16", "text"} or column.step != 1.0:
            continue
        wraps = {"u8": 256.0, "u16": 65536.0}.get(column.kind, 1e12)
        share = float(np.mean(np.diff(column.values) % wraps == 1.0))
        if share > 0.7 and (best is None or (share, -column.size) > best[:2]):
            best = (share, -column.size, column)
    return best[2] if best else None


def _number(value: float) -> str:
    return repr(float(value))


def _toml(value: Any) -> str:
    if isinstance(value, str):
        plain = "".join(
            f"\\u{ord(c):04x}" if ord(c) < 0x20 or c in '\x7f"\\\\' else c for c in value
        )
        return f'"{plain}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {_toml(one)}' for key, one in value.items()) + " }"
    return str(value)
