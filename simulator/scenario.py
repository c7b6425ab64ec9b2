"""Scenario files: a job, a hangar, a person, what goes wrong, and what may be said of it.

`simulator/scenarios/NAME.toml`. Angles in degrees. Ranges are pairs [low, high], drawn evenly.
A file may begin `like = "default"`: its tables are laid over that scenario's, key by key; lists
(levels, incidents, words) are replaced whole.
"""

import tomllib
from difflib import get_close_matches
from importlib.resources import files
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, model_validator

from shared.errors import BadInputError
from shared.events import VerdictState
from shared.job import Job
from shared.model import Written, first_problem, laid_over
from shared.profile import NotNegative, Positive

Range = tuple[float, float]
Convention = Literal["planar", "projection", "roll-pitch", "vector"]


class LevelTable(Written):
    """What a level truly does; the job's settings say what the program is told of it."""

    convention: Convention = "planar"
    rate_hz: Annotated[float, Field(ge=1, le=100)] = 10.0
    noise_sd_deg: NotNegative = 0.03
    lag1: Annotated[float, Field(ge=0, lt=1)] = 0.3
    resolution_deg: Positive = 0.01
    zero_deg: Range = (-0.1, 0.1)
    gain_percent: float = 0.0
    seating_sd_deg: NotNegative = 0.02
    warmup_deg: float = 0.0
    """Zero error that dies away after switching on."""
    warmup_s: Positive = 600.0
    reports: Literal["stream", "on-change"] = "stream"
    """on-change: a number is sent only when it differs from the one before."""
    own_button: bool = False
    """The level has a button of its own, and the person presses that instead of the pedal."""
    spoilt_share: Annotated[float, Field(ge=0, le=0.5)] = 0.0
    """Share of bytes that the line changes, invents or loses."""
    battery_percent: float | None = None
    """Sent along with every sample where given."""


class HangarTable(Written):
    """The aircraft, its hub and the levels."""

    theta_deg: float = 3.0
    """Tilt of the shaft, nose-up positive."""
    wobble_deg: NotNegative = 0.0
    """Standard deviation of the reference surface's lie from placement to placement."""
    lean_deg: NotNegative = 0.0
    """How far the reference surface leans against the plane of rotation; it goes round with
    the hub."""
    psi_sd_deg: NotNegative = 0.4
    """How well a blade is brought to horizontal."""
    start_deg: Range = (-6.0, 6.0)
    """Where the blades lie at first, from the target."""
    turning_deg_s: Positive = 75.0
    turning_s: Range | None = None
    """How long it takes to turn the propeller to another blade, however far; None: by `turning_deg_s`."""
    """How fast the propeller is turned."""
    lift_sd_deg: NotNegative = 0.01
    """How far lifting the level turns a loose blade."""
    play_deg: NotNegative = 0.0
    """Full play of a loose blade; it rests at one end of it."""
    sway_deg: NotNegative = 0.0
    """The aircraft sways on tail and tyres: the shaft swings by so much to either side."""
    sway_hz: tuple[Positive, Positive] = (0.12, 0.4)
    """How often a second; drawn once a job."""
    relax_sd_deg: NotNegative = 0.02
    """How far a blade creeps back within some seconds of letting go."""
    level: Annotated[dict[str, LevelTable], Field(min_length=1)]


class PersonTable(Written):
    """The one at the blades."""

    name: str
    speed: Annotated[float, Field(ge=0.3, le=3)] = 1.0
    """1 = at ease; 2 = twice as fast."""
    skill: Annotated[float, Field(ge=0, le=1)] = 0.7
    """How exactly a blade is nudged."""
    bench: Annotated[float, Field(ge=0, le=1)] = 0.15
    """How often the level is laid on the bench between two placements."""
    patience: Annotated[int, Field(ge=0, le=10)] = 2
    """How often one blade is set again before its angle is accepted instead."""
    hands_free: bool = False
    """Lets a reading be taken by itself, and presses only where that does not come."""
    puts_back: Annotated[float, Field(ge=0, le=1)] = 0.0
    """By ear: how often the level goes back on the blade of the last reading instead of the next one."""
    by_ear: bool = False
    """Never looks: hears signals and a voice, and answers with the level in the hand."""
    aims_off: bool = False
    """Sets blades off the target where the program asks whether to."""


class When(Written):
    """The step an incident waits for; empty fields match any."""

    stage: str = ""
    blade: int | Literal["reference"] | None = None
    label: str = ""
    placement: int | None = None
    nth: Annotated[int, Field(ge=1)] = 1
    """Which matching step: the first, the second ..."""
    after_s: Range = (1.0, 3.0)
    """Delay from the step's announcement."""


IncidentKind = Literal[
    "knock",  # a blade that was let alone is turned
    "handle",  # the propeller is turned by this blade, which turns
    "tighten",  # bolts turn blades: `each` gives every blade's share
    "rock",  # the aircraft rocks and comes back
    "settle",  # a tyre settles: a lasting tilt
    "aboard",  # someone climbs in, and stays
    "visit",  # someone climbs in, and leaves after `seconds`
    "reversed",  # the level is put on end for end
    "swapped",  # another level of the kind takes its place: another zero
    "zero",  # the level's zero shifts
    "mode",  # the level goes into relative mode: it shows 0 where it is
    "dropped",  # the level falls off its seat
    "blows",  # blows of a wrench shake what lies on the hub
    "fan",  # something shakes everything for a while
    "warmup",  # the level's zero begins to drift
    "gaps",  # the battery is dying: silence now and then
    "creep",  # a blade turns slowly by itself
    "order",  # another blade is done first, and named
    "unsaid",  # another blade is done first, and not named
    "mixed",  # in a round another blade is read first, and not named: two labels exchanged
    "distracted",  # the person stands idle for `seconds`
    "unlifted",  # a reading is asked for twice without lifting the level between
    "flip",  # the blade falls to the other end of its play
    "unplug",  # the line is pulled and put back
]


class Incident(Written):
    """One thing that goes wrong."""

    kind: IncidentKind
    blade: Annotated[int, Field(ge=1, le=6)] | None = None
    """None: drawn by the seed where the kind needs a blade."""
    level: str = ""
    """Empty: the level that reads the blades."""
    size_deg: float | Range = 0.0
    """A range is drawn, with a drawn sign for knocks and creeps."""
    each: tuple[float | Range, ...] = ()
    """tighten: how far every blade turns, blade 1 first."""
    seconds: Range = (3.0, 3.0)
    count: int | list[int] = 1
    """How many of it; one of a list is drawn."""
    when: When | Literal["drawn"] = "drawn"
    """drawn: while another step is at hand, with the blade held and still to be read."""


class Allowed(Written):
    """What may be said, given the truth. The words of verdicts are `VerdictState`."""

    untouched: tuple[VerdictState, ...] = ("steady", "place again", "not known")
    """Of a blade that did not move."""
    touched: tuple[VerdictState, ...] = ("moved", "turned", "place again", "not known")
    """Of a blade that moved."""
    reference: tuple[VerdictState, ...] = ("steady", "place again", "not known")
    """Of the reference."""
    call_from_deg: Positive = 0.3
    """Moves from this size on must be called in the end."""
    hold_deg: NotNegative = 0.05
    """A blade that moved less than this counts as untouched."""
    error_deg: Positive = 0.4
    """No reading may be further from the truth than this."""
    asks: bool = False
    """Questions (wrong sign, mode, face) are in place."""
    unfinished: bool = False
    """The job may end unfinished."""


class Scenario(Written):
    """One scenario file, checked."""

    stillblade_scenario: Literal[1]
    title: str
    says: str = ""
    """What happens and what ought to come of it, in words."""
    job: Job
    hangar: HangarTable
    person: PersonTable
    incident: tuple[Incident, ...] = ()
    allowed: Allowed = Allowed()

    @model_validator(mode="after")
    def _fits(self) -> "Scenario":
        if {entry.name for entry in self.job.level} != set(self.hangar.level):
            raise ValueError("[hangar.level] and [[job.level]] must name the same levels")
        for incident in self.incident:
            if incident.blade is not None and incident.blade > self.job.propeller.blades:
                raise ValueError(f"{incident.kind} of blade {incident.blade}: no such blade")
            if incident.kind == "tighten" and len(incident.each) != self.job.propeller.blades:
                raise ValueError("tighten needs `each` with one entry a blade")
            if incident.level and incident.level not in self.hangar.level:
                raise ValueError(f"{incident.kind}: no level {incident.level!r}")
        return self


def names() -> list[str]:
    """Return the names of all shipped scenarios, in order."""
    shipped = files("simulator").joinpath("scenarios").iterdir()
    return sorted(entry.name[:-5] for entry in shipped if entry.name.endswith(".toml"))


def load(name: str) -> Scenario:
    """Read a shipped scenario.

    Raises:
        BadInputError: there is none of that name.
    """
    if name not in names():
        near = " or ".join(get_close_matches(name, names()))
        meant = f"did you mean {near}?" if near else "`stillblade scenarios` lists them"
        raise BadInputError(name, "", "no such scenario", meant)
    return parse(name, _shipped(name))


def parse(where: str, text: str) -> Scenario:
    """Check the text of a scenario file.

    Raises:
        BadInputError: it is not TOML, or not a scenario.
    """
    try:
        return Scenario.model_validate(_tables(where, text))
    except ValidationError as error:
        raise BadInputError(where, *first_problem(error)) from error


def _shipped(name: str) -> str:
    return files("simulator").joinpath("scenarios", f"{name}.toml").read_text("utf-8")


def _tables(where: str, text: str) -> dict[str, Any]:
    """Read a file and lay it over the one it is like, if any."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInputError(where, "", str(error)) from error
    like = tables.pop("like", None)
    if like is None:
        return tables
    if like not in names() or like == where:
        raise BadInputError(where, "like", f"no such scenario: {like!r}")
    return laid_over(_tables(like, _shipped(like)), tables)
