"""Angle against rpm: points, line, band and limits, as SVG and in the terminal. Pure."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape

from daemon.sheet.history_drawn import HEIGHT, INKS, LEFT, TOP, WIDTH
from daemon.trial.advice import advise
from daemon.trial.evidence import Evidence, weighed
from daemon.trial.forecast import Forecast
from daemon.trial.points import Run, Trial

RIGHT = 56
BESIDE_DEG = 0.5
RUN_INKS: dict[Run, str] = {"static": INKS[0], "climb": INKS[2], "level": INKS[4]}
ALLOWED = INKS[2]
MARKS: dict[Run, str] = {"static": "s", "climb": "c", "level": "l"}
ACROSS, DOWN = 64, 18


@dataclass(frozen=True, slots=True)
class Dot:
    """A point in one run, brought to the air of the line: degrees, rpm and their U95."""

    run: Run
    deg: float
    u95_deg: float
    rpm: float
    u95_rpm: float


@dataclass(frozen=True, slots=True)
class Plot:
    """What is drawn.

    band: degrees, lowest, middle and highest rpm (95 %) of each run. best: the middle of what is allowed with the ends of
    its 90 % range, where an angle is proposed or left.
    """

    dots: list[Dot]
    band: dict[Run, list[tuple[float, float, float, float]]]
    limits: list[tuple[str, float]]
    best: tuple[float, float, float] | None = None

    @property
    def degrees(self) -> tuple[float, float]:
        """Ends of the angles."""
        shown = [d.deg for d in self.dots] + list(self.best or ())
        return min(shown) - BESIDE_DEG, max(shown) + BESIDE_DEG

    @property
    def rpm(self) -> tuple[float, float]:
        """Ends of the rpm."""
        values = [v for d in self.dots for v in (d.rpm - d.u95_rpm, d.rpm + d.u95_rpm)]
        values += [v for rows in self.band.values() for row in rows for v in (row[1], row[3])]
        values += [rpm for _, rpm in self.limits]
        return min(values) - 20.0, max(values) + 20.0


def plot(trial: Trial) -> Plot | None:
    """Return what is to be drawn; None: no point counts."""
    advice = advise(trial)
    evidence = weighed(trial, trial.counting)
    if evidence.fitted is None:
        return None
    limits = [(f"{one.name} {one.rpm:.0f}", one.rpm) for one in trial.limit]
    best = _best(advice.forecast) if advice.kind in {"angle", "stay"} else None
    made = Plot(list(_dots(evidence)), {}, limits, best)
    low, high = made.degrees
    angles = [low + (high - low) * n / 40 for n in range(41)]
    band = {run: _band(evidence, run, angles) for run in evidence.runs}
    return Plot(made.dots, band, limits, best)


def _best(ahead: Forecast | None) -> tuple[float, float, float] | None:
    if ahead is None or ahead.low_deg is None or ahead.best_deg is None or ahead.high_deg is None:
        return None
    return ahead.low_deg, ahead.best_deg, ahead.high_deg


def _dots(evidence: Evidence) -> Iterator[Dot]:
    lines = evidence.lines
    for number, point in evidence.points:
        for one in evidence.readings:
            if one.point != number:
                continue
            there, _ = lines.at(one.run, one.angle_deg, one.air_kft)
            here, _ = lines.at(one.run, one.angle_deg, lines.middle_kft)
            seen = evidence.seen(point, one.run)
            rpm = one.rpm * math.exp((here - there) / 100.0)
            yield Dot(one.run, point.angle_deg, point.u95_deg, rpm, seen.u95_rpm if seen else 0.0)


def _band(
    evidence: Evidence, run: Run, angles: list[float]
) -> list[tuple[float, float, float, float]]:
    lines = evidence.lines
    return [(deg, *lines.band(run, deg, lines.middle_kft)) for deg in angles]


def svg(made: Plot) -> str:
    """Return the picture."""
    (left, right), (low, high) = made.degrees, made.rpm
    foot = HEIGHT - TOP

    def x(deg: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (deg - left) / (right - left)

    def y(rpm: float) -> float:
        return TOP + (foot - TOP) * (high - rpm) / (high - low)

    def at(deg: float, rpm: float) -> str:
        return f"{x(deg):.1f},{y(rpm):.1f}"

    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-size="11" '
            'font-family="sans-serif"><title>Angle against rpm: trial flights</title>'
        )
    ]
    for run, rows in made.band.items():
        ink = RUN_INKS[run]
        edge = [at(r[0], r[1]) for r in rows] + [at(r[0], r[3]) for r in reversed(rows)]
        parts.append(f'<polygon points="{" ".join(edge)}" fill="{ink}" fill-opacity="0.12"/>')
        middle = " ".join(at(r[0], r[2]) for r in rows)
        parts.append(f'<polyline points="{middle}" fill="none" stroke="{ink}"/>')
        parts.append(
            f'<text x="{x(right) + 4:.1f}" y="{y(rows[-1][2]) + 4:.1f}" fill="{ink}">{run}</text>'
        )
        parts += [
            f'<path d="M{at(dot.deg, dot.rpm - dot.u95_rpm)}L{at(dot.deg, dot.rpm + dot.u95_rpm)}'
            f"M{at(dot.deg - dot.u95_deg, dot.rpm)}L{at(dot.deg + dot.u95_deg, dot.rpm)}"
            f'" stroke="{ink}"/><circle cx="{x(dot.deg):.1f}" cy="{y(dot.rpm):.1f}" r="3.5" fill="{ink}"/>'
            for dot in made.dots
            if dot.run == run
        ]
    for words, rpm in made.limits:
        parts.append(
            f'<line x1="{LEFT}" x2="{x(right):.1f}" y1="{y(rpm):.1f}" y2="{y(rpm):.1f}" stroke="#a30000" '
            f'stroke-dasharray="5 3"/><text x="{LEFT + 4}" y="{y(rpm) - 4:.1f}" '
            f'fill="#a30000" stroke="white" stroke-width="3" paint-order="stroke">{escape(words)}</text>'
        )
    if made.best is not None:
        parts += _allowed([x(deg) for deg in made.best], made.best[1], foot)
    for rpm in _round(low, high):
        parts.append(
            f'<text x="{LEFT - 6}" y="{y(rpm) + 4:.1f}" text-anchor="end">{rpm:.0f}</text>'
            f'<path d="M{LEFT - 4},{y(rpm):.1f}h4" stroke="#444444"/>'
        )
    for deg in _round(left, right):
        parts.append(
            f'<text x="{x(deg):.1f}" y="{HEIGHT - 6}" text-anchor="middle">{deg:g}°</text>'
            f'<path d="M{x(deg):.1f},{foot}v4" stroke="#444444"/>'
        )
    parts.append(f'<text x="4" y="{TOP - 8}">rpm against blade angle; bands 95 %</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"


def _allowed(across: list[float], best_deg: float, foot: float) -> list[str]:
    """Return the bar of the best allowed setting and its range, at the foot."""
    low, best, high = across
    words = f"middle of what is allowed {best_deg:.2f}°; bar: 90 % range"
    return [
        f'<path d="M{low:.1f},{foot - 4:.1f}H{high:.1f}" stroke="{ALLOWED}" stroke-width="5" stroke-opacity="0.5"/>',
        f'<path d="M{best:.1f},{foot:.1f}V{TOP}" stroke="{ALLOWED}" stroke-dasharray="1 3"/>',
        f'<text x="{WIDTH - RIGHT}" y="{TOP - 8}" text-anchor="end" fill="{ALLOWED}">{words}</text>',
    ]


def _round(low: float, high: float) -> list[float]:
    """Return four to nine round numbers between two."""
    size = 10.0 ** math.floor(math.log10((high - low) / 4.0))
    step = next(n * size for n in (5.0, 2.0, 1.0) if (high - low) / (n * size) >= 4.0)
    first = math.ceil(low / step)
    return [n * step for n in range(first, math.floor(high / step) + 1)]


def trial_svg(trial: Trial | None) -> str:
    """Return the picture of a trial; "": it has no point that counts."""
    made = plot(trial) if trial else None
    return svg(made) if made else ""


def below(above: str, trial: Trial | None) -> str:
    """Return a hub's picture with that of its trial below it, where there is one."""
    under = trial_svg(trial)
    if not under:
        return above
    inner = [
        one.replace("<svg ", f'<svg y="{n * HEIGHT}" width="{WIDTH}" height="{HEIGHT}" ', 1)
        for n, one in enumerate((above, under))
    ]
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {2 * HEIGHT}">\n'
    return head + "".join(inner) + "</svg>\n"


def in_characters(trial: Trial) -> list[str]:
    """Return the picture for a terminal; nothing where no point counts."""
    made = plot(trial)
    return terminal(made) if made else []


def terminal(made: Plot) -> list[str]:
    """Return the picture in characters: a letter a point, dots the line, colons its band, dashes a limit."""
    (left, right), (low, high) = made.degrees, made.rpm
    cells = [[" "] * ACROSS for _ in range(DOWN)]

    def row(rpm: float) -> int:
        return min(DOWN - 1, max(0, round((DOWN - 1) * (high - rpm) / (high - low))))

    def column(deg: float) -> int:
        return min(ACROSS - 1, max(0, round((ACROSS - 1) * (deg - left) / (right - left))))

    def mark(deg: float, rpm: float, sign: str) -> None:
        cells[row(rpm)][column(deg)] = sign

    rows = [each for band in made.band.values() for each in band]
    for deg, least, _, most in rows:
        mark(deg, least, ":")
        mark(deg, most, ":")
    for _, rpm in made.limits:
        cells[row(rpm)] = ["-"] * ACROSS
    for deg, _, middle, _ in rows:
        mark(deg, middle, ".")
    for dot in made.dots:
        mark(dot.deg, dot.rpm, MARKS[dot.run])
    return _framed(made, cells)


def _framed(made: Plot, cells: list[list[str]]) -> list[str]:
    (left, right), (low, high) = made.degrees, made.rpm
    names: dict[int, list[str]] = {}
    for words, rpm in made.limits:
        at = round((DOWN - 1) * (high - rpm) / (high - low))
        names.setdefault(at, []).append(words)
    lines = []
    for n, each in enumerate(cells):
        rpm = high - (high - low) * n / (DOWN - 1)
        lines.append(f"{rpm:6.0f} |{''.join(each)}| {', '.join(names.get(n, []))}".rstrip())
    ends = f"{left:.2f}°".ljust(ACROSS - 7) + f"{right:.2f}°"
    key = ", ".join(f"{MARKS[run]} {run}" for run in made.band)
    return [*lines, f"  rpm   {ends}", f"        {key}, . line, : its 95 % band, - limit"]
