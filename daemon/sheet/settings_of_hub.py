"""What one hub was found at and set to over the years, and the differences between. Pure.

A difference is proven where it is more than the two uncertainties together, as independent (JCGM 100:2008,
5.1.2); what both readings share, such as the level's own zero, would make it smaller, so this asks for more.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from daemon.session.parts import REMEMBERED
from daemon.session.recording import Recording
from daemon.sheet.hands_done import done_with_hands
from daemon.sheet.pulls import pulls_of
from shared.events import Judged, Summary
from shared.job import Propeller
from shared.wording import blade_name, change

FOUND = "found"
"""The stage in which everything is read as it was found."""
Angles = dict[int, tuple[float, float]]
"""By the blade's number: its angle and U95, degrees."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What one finished session found, and what it left. Angles and uncertainties in degrees.

    angles: as it was left; where nothing was set, as it was found. found: before anything was touched,
    where that was read. pulls: by tightening round, how far each blade stood from where it was before
    any bolt. read_only: nothing was set. torqued: the rounds in which somebody said that bolts were
    torqued. propeller: with its parts, as the session's job has it.
    """

    name: str
    started: str
    job: str
    hours: str
    propeller: Propeller
    levels: str
    target_deg: float
    result: str
    spread_deg: float | None
    angles: Angles
    pulls: dict[str, dict[int, float]] = field(default_factory=dict)
    found: Angles = field(default_factory=dict)
    read_only: bool = False
    torqued: tuple[str, ...] = ()

    @property
    def hub(self) -> str:
        """Its serial number; "" where the job named none."""
        return self.propeller.hub

    @property
    def serials(self) -> dict[int, str]:
        """Serial numbers of the blades by socket; empty where the job named none."""
        return dict(enumerate(self.propeller.serials, 1))

    @property
    def day(self) -> str:
        """When it began, for people."""
        return self.started[:10] or "no date"


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
    if not isinstance(last, Summary) or header.procedure == "watch":
        return None
    read_only = header.procedure == "read"
    left = _angles(last.blades)
    return Setting(
        name=name,
        started=header.started,
        job=job.name,
        hours=job.hours,
        propeller=job.propeller,
        levels=", ".join(entry.profile for entry in job.level),
        target_deg=job.target.angle_deg,
        result=last.result or last.state,
        spread_deg=last.spread_deg,
        angles=left,
        pulls=pulls_of(recording),
        found=left if read_only else _as_found(recording),
        read_only=read_only,
        torqued=_torqued(recording),
    )


def _angles(blades: Sequence[Mapping[str, Any]]) -> Angles:
    return {
        one["blade"]: (one["angle_deg"], one["u95_deg"])
        for one in blades
        if one.get("angle_deg") is not None and one.get("u95_deg") is not None
    }


def _torqued(recording: Recording) -> tuple[str, ...]:
    done = done_with_hands([(event.t_ns, event.body) for event in recording.events])
    pulled = {label for _, label, _ in done}
    rounds = recording.header.job.plan.in_order
    torque = [one.name for one in rounds if one.torque or one.like == "torque"]
    return tuple(name for name in torque if name in pulled)


def _as_found(recording: Recording) -> Angles:
    """Return what was read before anything was touched, as it was judged last."""
    bodies = (event.body for event in reversed(recording.events))
    found = (one for one in bodies if isinstance(one, Judged) and one.stage == FOUND)
    return next((_angles(one.blades) for one in found), {})


def differences(earlier: Setting, later: Setting) -> list[Difference]:
    """Return the difference of every blade that both have, as they were left."""
    return between(earlier.angles, later.angles)


def between(earlier: Angles, later: Angles) -> list[Difference]:
    """Return the difference of every blade that both have."""
    return [
        Difference(
            blade,
            later[blade][0] - earlier[blade][0],
            math.hypot(later[blade][1], earlier[blade][1]),
        )
        for blade in sorted(set(earlier) & set(later))
    ]


def not_alike(earlier: Setting, later: Setting) -> list[str]:
    """Return what makes two settings no comparison of like with like, in words."""
    then, now = earlier.propeller, later.propeller
    found = []
    for what, one, other in (
        ("hub", then.hub, now.hub),
        ("station", then.station, now.station),
        ("hand of rotation", then.rotation, now.rotation),
        ("layout", then.layout, now.layout),
        ("face", _face(then), _face(now)),
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
    return [*found, *_other_parts(then, now)]


def _other_parts(then: Propeller, now: Propeller) -> Iterator[str]:
    """Yield which parts beside the blades are others, where both sessions named them."""
    for key in ("halves", "match_marks", "shims"):
        one, other = getattr(then, key), getattr(now, key)
        if one and other and one != other:
            yield f"other {REMEMBERED[key]}: {', '.join(one)}, then {', '.join(other)}"


def _face(propeller: Propeller) -> str:
    return f"{propeller.face_deg:g} degrees to the span"


def told(settings: Sequence[Setting], meanwhile: Sequence[tuple[str, str]] = ()) -> Iterator[str]:
    """Yield the history of one hub as lines, the oldest first.

    meanwhile: what was done between settings, each with its day, in order of days.
    """
    rest = list(meanwhile)
    for number, one in enumerate(settings):
        while rest and rest[0][0] < one.day:
            yield rest.pop(0)[1]
        yield from _setting_told(one, settings[:number])
    yield from (words for _, words in rest)
    yield from _since_torqued(settings)


def _setting_told(one: Setting, before: Sequence[Setting]) -> Iterator[str]:
    earlier = left_before(before)
    hours = f", {one.hours} h" if one.hours else ""
    result = f"read only: {one.result}" if one.read_only else one.result
    yield f"{one.day}{hours}{_hours_since(earlier, one)}  {one.job}  {result}  ({one.name})"
    if one.found:
        yield from _told(one, one.found, "found", earlier)
    if not one.read_only:
        yield from _told(one, one.angles, "left", earlier)
    if earlier:
        yield from (f"  {words}" for words in not_alike(earlier, one))
    for stage, pulled in one.pulls.items():
        mean = math.fsum(pulled.values()) / len(pulled)
        blades = "" if len(pulled) == one.propeller.blades else f" {_listed(pulled)}"
        yield f"  {stage} turned the blades{blades} by {mean:+.2f}° on average"
    if one.torqued:
        since = _hours_since(torqued_last(before), one)
        yield f"  bolts torqued: {', '.join(one.torqued)}{since}"


def torqued_last(settings: Sequence[Setting]) -> Setting | None:
    """Return the newest in which somebody said that bolts were torqued; None: in none."""
    return next((one for one in reversed(settings) if one.torqued), None)


def _since_torqued(settings: Sequence[Setting]) -> Iterator[str]:
    """Yield when the bolts were torqued last, as the check after so many hours wants to know."""
    last = torqued_last(settings)
    if last is None:
        return
    at = f", at {last.hours} h" if last.hours else ", hours not stated"
    newest = settings[-1]
    between = _hours_between(last, newest)
    age = f"; {between:.1f} h before {newest.day}" if between else ""
    yield f"bolts last torqued, as far as sessions know: {last.day}{at}{age}"


def left_before(settings: Sequence[Setting]) -> Setting | None:
    """Return the newest that set anything, else the newest; None: there is none."""
    return next((one for one in reversed(settings) if not one.read_only), None) or (
        settings[-1] if settings else None
    )


def _told(one: Setting, angles: Angles, how: str, earlier: Setting | None) -> Iterator[str]:
    """Yield a line a blade, against what the session before left, or found where it set nothing."""
    changes = {each.blade: each for each in between(earlier.angles, angles)} if earlier else {}
    for blade, (angle, u95) in sorted(angles.items()):
        words = f"  {blade_name(blade, one.propeller.label(blade)):18} as {how:5} {angle:6.2f}° ± {u95:.2f}"
        yield words + (f"  {_change(changes[blade])}" if blade in changes else "")


def _listed(blades: Iterable[int]) -> str:
    return ", ".join(map(str, sorted(blades)))


def _hours_since(earlier: Setting | None, one: Setting) -> str:
    """Return the hours between, in words; "" where no log tells them."""
    hours = _hours_between(earlier, one) if earlier else None
    return f" ({hours:.1f} h after {earlier.day})" if earlier and hours else ""


def _hours_between(earlier: Setting, later: Setting) -> float | None:
    """Return the hours between, where both logs say a number of hours and they went on."""
    try:
        then, now = (float(one.hours.replace(",", ".")) for one in (earlier, later))
    except ValueError:
        return None
    return now - then if math.isfinite(now - then) and now > then else None


def _change(one: Difference) -> str:
    if not one.proven:
        return f"no difference proven ({one.deg:+.2f} ± {one.u95_deg:.2f})"
    return change(one.deg, one.u95_deg)


def compared(earlier: Setting, later: Setting) -> list[str]:
    """Return two settings held against each other, as lines."""
    lines = [
        f"{blade_name(each.blade, later.propeller.label(each.blade))}: {_change(each)}"
        for each in differences(earlier, later)
    ]
    return [*not_alike(earlier, later), *(lines or ["no blade was read in both"])]


def to_data(one: Setting) -> dict[str, Any]:
    """Return a setting as what becomes JSON."""
    return {**asdict(one), "propeller": one.propeller.model_dump(exclude_defaults=True)}


def from_data(data: Mapping[str, Any]) -> Setting:
    """Rebuild one.

    Raises:
        ValueError: it is none.
    """
    try:
        whole = dict(data)
        whole["propeller"] = Propeller.model_validate(whole["propeller"])
        for key in ("angles", "found"):
            whole[key] = {int(n): (float(a), float(u)) for n, (a, u) in whole[key].items()}
        whole["pulls"] = {
            str(stage): {int(n): float(deg) for n, deg in each.items()}
            for stage, each in whole["pulls"].items()
        }
        whole["torqued"] = tuple(str(name) for name in whole["torqued"])
        return Setting(**whole)
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise ValueError(f"no setting: {error}") from error
