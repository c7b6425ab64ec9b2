"""One hub over the years as a picture: in SVG, and in characters for a terminal. Pure."""

from collections.abc import Iterator, Sequence
from html import escape

from daemon.sheet.settings_of_hub import Angles, Setting
from shared.wording import blade_name

WIDTH, HEIGHT, LEFT, TOP = 640, 300, 60, 24
BESIDE = 2.5
"""So far beside the blade before it stands the next one, for no bar lies on another."""
SIGNS = "full: as left, hollow: as found, bar: expanded uncertainty (95 %), dashed: target"
FOUND_AT = -9.0
"""What was found stands so far beside what was left in the same session."""
INKS = ("#0b3d91", "#a30000", "#00561c", "#7a3e00", "#5b2a86", "#444444")


def plotted(settings: Sequence[Setting]) -> str:
    """Return an SVG: every blade's angle over the sessions, with its uncertainty and the target.

    A hollow point was found so; a full one was left so.
    """
    read = [angles for one in settings for _, angles in _drawn(one)]
    values = [v for angles in read for a, u in angles.values() for v in (a - u, a + u)]
    values += [one.target_deg for one in settings]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    margin = max(0.05, 0.1 * (high - low))
    low, high = low - margin, high + margin
    step = (WIDTH - LEFT - 130) / max(1, len(settings) - 1)

    def x(number: int) -> float:
        return LEFT + 20 + step * number

    def y(deg: float) -> float:
        return TOP + (HEIGHT - 2 * TOP) * (high - deg) / (high - low)

    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-size="11" '
            'font-family="sans-serif"><title>Blade angles of one hub</title>'
            f'<text x="4" y="12">{escape(_head(settings))}</text>'
        )
    ]
    parts += [
        f'<line x1="{x(n) - 12:.1f}" x2="{x(n) + 12:.1f}" y1="{y(one.target_deg):.1f}" '
        f'y2="{y(one.target_deg):.1f}" stroke="#888" stroke-dasharray="3 2"/>'
        f'<text x="{x(n):.1f}" y="{HEIGHT - 6}" text-anchor="middle">{one.started[:10]}</text>'
        for n, one in enumerate(settings)
    ]
    for deg in (low + margin, (low + high) / 2, high - margin):
        parts.append(f'<text x="4" y="{y(deg) + 4:.1f}">{deg:.2f}°</text>')
    for blade in sorted({b for angles in read for b in angles}):
        ink = INKS[(blade - 1) % len(INKS)]
        points = [
            (x(n) + BESIDE * (blade - 1) + (FOUND_AT if found else 0.0), *angles[blade], found)
            for n, one in enumerate(settings)
            for found, angles in _drawn(one)
            if blade in angles
        ]
        way = " ".join(f"{at:.1f},{y(a):.1f}" for at, a, _, _ in points)
        parts.append(f'<polyline points="{way}" fill="none" stroke="{ink}"/>')
        for at, a, u, found in points:
            parts.append(
                f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{y(a - u):.1f}" y2="{y(a + u):.1f}" '
                f'stroke="{ink}"/><circle cx="{at:.1f}" cy="{y(a):.1f}" r="3.5" '
                f'fill="{"#ffffff" if found else ink}" stroke="{ink}"/>'
            )
        at, a, *_ = points[-1]
        parts.append(
            f'<text x="{at + 10:.1f}" y="{y(a) + 4:.1f}" fill="{ink}">blade {blade}</text>'
        )
    return "\n".join([*parts, "</svg>"]) + "\n"


def _head(settings: Sequence[Setting]) -> str:
    hub = settings[-1].hub if settings else ""
    return f"hub {hub}; {SIGNS}" if hub else SIGNS


COLUMNS = 41
"""Of a chart in characters, the target in the middle."""


def in_characters(settings: Sequence[Setting]) -> Iterator[str]:
    """Yield a chart for a terminal: a row a blade and session, its uncertainty about the target.

    `x` was found so, `o` was left so, `-` is as far as its uncertainty reaches, `|` the target.
    """
    rows = [row for one in settings for row in _rows(one)]
    reach = max((abs(error) + u95 for *_, error, u95 in rows), default=0.0)
    if reach == 0.0:
        return
    yield f"{'':30}{-reach:<+.2f}{'finer | coarser':^{COLUMNS - 10}}{reach:>+.2f}"
    for day, name, mark, error, u95 in rows:
        yield f"{day}  {name:18}{_row(mark, error / reach, u95 / reach)}"


def _rows(one: Setting) -> Iterator[tuple[str, str, str, float, float]]:
    for blade in sorted({*one.found, *one.angles}):
        name = blade_name(blade, one.propeller.label(blade))
        for found, angles in _drawn(one):
            if blade in angles:
                angle, u95 = angles[blade]
                yield one.day, name, "x" if found else "o", angle - one.target_deg, u95


def _drawn(one: Setting) -> tuple[tuple[bool, Angles], ...]:
    """Return what was found and what was left, marked by whether it was found."""
    return (True, one.found), (False, {} if one.read_only else one.angles)


def _row(mark: str, at: float, half: float) -> str:
    """Return one row; at and half are shares of half its width."""
    middle = COLUMNS // 2
    cells = [" "] * COLUMNS
    low, high = (round(middle * (1 + at + side * half)) for side in (-1, 1))
    cells[low : high + 1] = "-" * (high + 1 - low)
    cells[middle] = "|"
    cells[round(middle * (1 + at))] = mark
    return "".join(cells).rstrip()
