"""What one hub was set to over the years: settings, differences between them, how far its bolts pull. Pure.

A difference is proven where it is more than the two uncertainties together, as independent (JCGM 100:2008,
5.1.2); what both readings share, such as the level's own zero, would make it smaller, so this asks for more.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from daemon.session.recording import Recording
from shared.events import Judged, Summary
from shared.wording import blade_name, change

PULLS = ("snug", "nip", "torque")
BEFORE_BOLTS = "check"


@dataclass(frozen=True, slots=True)
class Setting:
    """What one finished session left. Angles and uncertainties in degrees, by the blade's number.

    pulls: by tightening, how far each blade stood from where it was before any bolt.
    """

    name: str
    started: str
    hub: str
    job: str
    hours: str
    station: str
    side: str
    levels: str
    target_deg: float
    result: str
    spread_deg: float | None
    labels: dict[int, str]
    serials: dict[int, str]
    angles: dict[int, tuple[float, float]]
    pulls: dict[str, dict[int, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Difference:
    """Of one blade, later less earlier; positive is coarser."""

    blade: int
    deg: float
    u95_deg: float

    @property
    def proven(self) -> bool:
        """It is more than the uncertainties could make."""
        return abs(self.deg) > self.u95_deg


def setting_of(name: str, recording: Recording) -> Setting | None:
    """Return what a session left; None where it is not finished, or only watched."""
    last = recording.events[-1].body if recording.events else None
    header, job = recording.header, recording.header.job
    if not isinstance(last, Summary) or header.procedure != "set":
        return None
    propeller = job.propeller
    numbers = range(1, propeller.blades + 1)
    return Setting(
        name=name,
        started=header.started,
        hub=propeller.hub,
        job=job.name,
        hours=job.hours,
        station=propeller.station,
        side=f"{propeller.layout}, {propeller.rotation}",
        levels=", ".join(entry.profile for entry in job.level),
        target_deg=job.target.angle_deg,
        result=last.result or last.state,
        spread_deg=last.spread_deg,
        labels={n: propeller.label(n) for n in numbers},
        serials=dict(zip(numbers, propeller.serials, strict=False)),
        angles={
            one["blade"]: (one["angle_deg"], one["u95_deg"])
            for one in last.blades
            if one.get("angle_deg") is not None and one.get("u95_deg") is not None
        },
        pulls=_pulls(recording),
    )


def _pulls(recording: Recording) -> dict[str, dict[int, float]]:
    before: dict[int, float] = {}
    found: dict[str, dict[int, float]] = {}
    for event in recording.events:
        body = event.body
        if not isinstance(body, Judged):
            continue
        angles = {
            one["blade"]: one["angle_deg"]
            for one in body.blades
            if one.get("angle_deg") is not None
        }
        if body.stage == BEFORE_BOLTS:
            before = angles
        elif body.stage in PULLS and body.stage not in found:
            found[body.stage] = {
                blade: round(angles[blade] - before[blade], 6)
                for blade in angles
                if blade in before
            }
    return {stage: each for stage, each in found.items() if each}


def differences(earlier: Setting, later: Setting) -> list[Difference]:
    """Return the difference of every blade that both have."""
    return [
        Difference(
            blade,
            later.angles[blade][0] - earlier.angles[blade][0],
            math.hypot(later.angles[blade][1], earlier.angles[blade][1]),
        )
        for blade in sorted(set(earlier.angles) & set(later.angles))
    ]


def not_alike(earlier: Setting, later: Setting) -> list[str]:
    """Return what makes two settings no comparison of like with like, in words."""
    found = []
    for what, one, other in (
        ("hub", earlier.hub, later.hub),
        ("station", earlier.station, later.station),
        ("side", earlier.side, later.side),
        ("kind of level", earlier.levels, later.levels),
    ):
        if one != other:
            found.append(
                f"not the same {what}: {one or 'none named'}, then {other or 'none named'}"
            )
    both = sorted(set(earlier.serials) & set(later.serials))
    found += [
        f"another blade in socket {n}: {earlier.serials[n]}, then {later.serials[n]}"
        for n in both
        if earlier.serials[n] != later.serials[n]
    ]
    return found


def told(settings: Sequence[Setting]) -> Iterator[str]:
    """Yield the history of one hub as lines, the oldest first."""
    for number, one in enumerate(settings):
        hours = f", {one.hours} h" if one.hours else ""
        yield f"{one.started[:10] or 'no date'}{hours}  {one.job}  {one.result}  ({one.name})"
        earlier = settings[number - 1] if number else None
        changes = {each.blade: each for each in differences(earlier, one)} if earlier else {}
        for blade, (angle, u95) in sorted(one.angles.items()):
            words = f"  {blade_name(blade, one.labels[blade]):18} {angle:6.2f}° ± {u95:.2f}"
            yield words + (f"  {_change(changes[blade])}" if blade in changes else "")
        if earlier:
            yield from (f"  {words}" for words in not_alike(earlier, one))
        for stage, pulled in one.pulls.items():
            mean = math.fsum(pulled.values()) / len(pulled)
            yield f"  {stage} turned the blades by {mean:+.2f}° on average"


def _change(one: Difference) -> str:
    if not one.proven:
        return f"no difference proven ({one.deg:+.2f} ± {one.u95_deg:.2f})"
    return change(one.deg, one.u95_deg)


def compared(earlier: Setting, later: Setting) -> list[str]:
    """Return two settings held against each other, as lines."""
    lines = [
        f"{blade_name(each.blade, later.labels[each.blade])}: {_change(each)}"
        for each in differences(earlier, later)
    ]
    return [*not_alike(earlier, later), *(lines or ["no blade was read in both"])]


def to_data(one: Setting) -> dict[str, Any]:
    """Return a setting as what becomes JSON."""
    return asdict(one)


def from_data(data: Mapping[str, Any]) -> Setting:
    """Rebuild one.

    Raises:
        ValueError: it is none.
    """
    try:
        whole = dict(data)
        for key in ("labels", "serials"):
            whole[key] = {int(n): str(text) for n, text in whole[key].items()}
        whole["angles"] = {int(n): (float(a), float(u)) for n, (a, u) in whole["angles"].items()}
        whole["pulls"] = {
            str(stage): {int(n): float(deg) for n, deg in each.items()}
            for stage, each in whole["pulls"].items()
        }
        return Setting(**whole)
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise ValueError(f"no setting: {error}") from error


# --- a picture ------------------------------------------------------------------------------------

WIDTH, HEIGHT, LEFT, TOP = 640, 300, 60, 24
INKS = ("#0b3d91", "#a30000", "#00561c", "#7a3e00", "#5b2a86", "#444444")


def plotted(settings: Sequence[Setting]) -> str:
    """Return an SVG: every blade's angle over the sessions, with its uncertainty and the target."""
    values = [v for one in settings for a, u in one.angles.values() for v in (a - u, a + u)]
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
    for blade in sorted({b for one in settings for b in one.angles}):
        ink = INKS[(blade - 1) % len(INKS)]
        points = [(n, *one.angles[blade]) for n, one in enumerate(settings) if blade in one.angles]
        way = " ".join(f"{x(n):.1f},{y(a):.1f}" for n, a, _ in points)
        parts.append(f'<polyline points="{way}" fill="none" stroke="{ink}"/>')
        for n, a, u in points:
            parts.append(
                f'<line x1="{x(n):.1f}" x2="{x(n):.1f}" y1="{y(a - u):.1f}" y2="{y(a + u):.1f}" '
                f'stroke="{ink}"/><circle cx="{x(n):.1f}" cy="{y(a):.1f}" r="3.5" fill="{ink}"/>'
            )
        n, a, _ = points[-1]
        parts.append(
            f'<text x="{x(n) + 10:.1f}" y="{y(a) + 4:.1f}" fill="{ink}">blade {blade}</text>'
        )
    return "\n".join([*parts, "</svg>"]) + "\n"
