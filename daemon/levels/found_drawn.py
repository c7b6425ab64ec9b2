"""What a learned profile makes of a recording, over time, as SVG. Pure."""

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape

from drivers import codecs
from drivers.learn.asked import Heard, Mark
from shared.profile import LevelProfile

WIDTH, LEFT, RIGHT, ROW, TOP = 720, 92, 10, 96, 26
_MOST_POINTS = 700
_NS = 1_000_000_000
_INKS = ("#0b4f8a", "#8a3b0b", "#2d6a1f", "#5b2d7a")
Points = list[tuple[float, float]]


def shown(profile: LevelProfile, heard: Heard) -> dict[str, Points]:
    """Return seconds and number of every sample, by role."""
    codec, found = codecs.make(profile), dict[str, Points]()
    for t_ns, data in heard.chunks:
        for sample in codec.feed(0, data):
            for role, value in sample.values.items():
                found.setdefault(role, []).append((t_ns / _NS, value))
    return found


def fields_drawn(profile: LevelProfile, heard: Heard, marks: Sequence[Mark]) -> str:
    """Return an SVG: a row a field, the asked motions as bands behind all of them."""
    rows = shown(profile, heard)
    end_s = max([1e-3, *(points[-1][0] for points in rows.values())])
    end_s = max([end_s, *(mark.end_ns / _NS for mark in marks)])
    height = TOP + ROW * len(rows) + 20
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
            f'width="{WIDTH}" height="{height}" font-family="sans-serif" font-size="11">'
        ),
        f"<title>{escape(profile.title)}</title>",
        f'<rect width="{WIDTH}" height="{height}" fill="#ffffff"/>',
        *(part for mark in marks for part in _band(mark, end_s, height)),
    ]
    for number, (role, points) in enumerate(rows.items()):
        parts += _row(role, points, end_s, number)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        anchor = "end" if share == 1.0 else "middle"
        parts.append(
            f'<text x="{_x(share * end_s, end_s):.1f}" y="{height - 6}" text-anchor="{anchor}" '
            f'font-size="9">{share * end_s:.0f} s</text>'
        )
    return "\n".join([*parts, "</svg>"]) + "\n"


def _x(t_s: float, end_s: float) -> float:
    return LEFT + (WIDTH - LEFT - RIGHT) * t_s / end_s


def _band(mark: Mark, end_s: float, height: int) -> list[str]:
    left, right = _x(mark.start_ns / _NS, end_s), _x(mark.end_ns / _NS, end_s)
    deg = "" if mark.deg is None else f" {mark.deg:g}"
    return [
        (
            f'<rect x="{left:.1f}" y="{TOP - 4}" width="{right - left:.1f}" '
            f'height="{height - TOP - 14}" fill="#eef1f4"/>'
        ),
        f'<text x="{left + 2:.1f}" y="{TOP - 9}" font-size="9">{escape(mark.motion)}{deg}</text>',
    ]


def _row(role: str, points: Points, end_s: float, number: int) -> list[str]:
    values = sorted(value for _, value in points)
    low, high = values[len(values) // 100], values[-1 - len(values) // 100]
    room = max(high - low, 1e-9)
    top, ink = TOP + ROW * number, _INKS[number % len(_INKS)]

    def y(value: float) -> float:
        share = min(1.05, max(-0.05, (value - low) / room))
        return top + ROW - 14 - (ROW - 28) * share

    step = max(1, math.ceil(len(points) / _MOST_POINTS))
    line = " ".join(f"{_x(t_s, end_s):.1f},{y(value):.1f}" for t_s, value in points[::step])
    return [
        f'<text x="4" y="{top + ROW / 2:.0f}" fill="{ink}">{escape(role)}</text>',
        f'<text x="{LEFT - 4}" y="{y(high) + 4:.1f}" text-anchor="end" font-size="9">{high:.4g}</text>',
        f'<text x="{LEFT - 4}" y="{y(low) + 4:.1f}" text-anchor="end" font-size="9">{low:.4g}</text>',
        f'<polyline points="{line}" fill="none" stroke="{ink}" stroke-width="1"/>',
    ]
