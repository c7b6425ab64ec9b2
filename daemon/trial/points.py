"""The file of trial flights: what the manuals allow, and the points that were flown.

The angle of a point is what a session measured after torque, never what it aimed at. The rpm are of whatever the
instrument and the manual's limits both mean, engine or propeller. Angles in degrees, U95 as everywhere: half the
width of what holds 95 % of the chance.
"""

from typing import Annotated, Literal, get_args

from pydantic import Field, model_validator

from daemon.trial.atmosphere import density_altitude_ft
from shared.model import Written

Run = Literal["static", "climb", "level"]
"""static: tied down, full throttle. climb, level: full throttle in flight."""
RUNS: tuple[Run, ...] = get_args(Run)
Rpm = Annotated[float, Field(ge=100, le=20_000)]
Angle = Annotated[float, Field(gt=-30, lt=80)]
Feet = Annotated[float, Field(ge=-2_000, le=30_000)]
Celsius = Annotated[float, Field(ge=-80, le=60)]
DAY = r"^\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}.*)?$"
REPEATABLE_PERCENT = 1.0
"""Half-width that 19 in 20 readings of one setting stay within; common practice, no source."""


class Propeller(Written):
    """Which propeller all points of the file are of, as the first session had it."""

    hub: str = ""
    blades: Annotated[int, Field(ge=2, le=6)]
    station: str
    serials: list[str] = []


class Limit(Written):
    """One limit, as a manual states it."""

    name: str
    manual: Annotated[str, Field(min_length=1)]
    """Where it is from: title, revision, page."""
    runs: Annotated[list[Run], Field(min_length=1)]
    """Which runs it holds for."""
    least_rpm: Rpm | None = None
    most_rpm: Rpm | None = None
    minutes: Annotated[float, Field(gt=0)] | None = None
    """So long at a time it may be used; None: for as long as wanted."""
    density_altitude_ft: Feet | None = None
    """Where it is stated for; None: wherever the aircraft is."""

    @model_validator(mode="after")
    def _one_side(self) -> "Limit":
        if (self.least_rpm is None) == (self.most_rpm is None):
            raise ValueError("give least_rpm or most_rpm: one limit has one side")
        return self

    @property
    def rpm(self) -> float:
        """The limit itself."""
        found = self.most_rpm if self.least_rpm is None else self.least_rpm
        assert found is not None
        return found

    @property
    def side(self) -> int:
        """+1: what is allowed lies above it, -1: below."""
        return -1 if self.least_rpm is None else 1


class Manual(Written):
    """What the manuals of engine, propeller and aircraft say of a change."""

    may_change: bool | None = None
    """Whether every one of them allows this change of setting; None: nobody has said."""
    sources: list[str] = []
    """The manuals that were looked into: title, revision, page."""
    step_deg: Annotated[float, Field(gt=0, le=5)] | None = None
    """The largest step that a manual allows at a time; None: it names none."""
    least_deg: Angle | None = None
    most_deg: Angle | None = None
    """The settings that the propeller's manual allows."""
    never_exceed_kt: Annotated[float, Field(gt=0, le=500)] | None = None
    """The never-exceed speed, true."""
    level_above_static_percent: Annotated[float, Field(ge=0, le=40)] | None = None
    """How far rpm at full throttle in level flight lies above the static one, as the propeller's maker says for this
    aircraft or as one of its kind with such a propeller shows; None: nobody has said. Asked for before the first flight
    only where a step might pass a limit of level flight."""
    level_above_u95_percent: Annotated[float, Field(gt=0, le=40)] = 4.0
    """How good that figure is."""
    induction: Literal["natural", "boosted"] = "natural"

    @model_validator(mode="after")
    def _in_order(self) -> "Manual":
        low, high = self.least_deg, self.most_deg
        if low is not None and high is not None and low >= high:
            raise ValueError("least_deg is not below most_deg")
        return self


class Point(Written):
    """One setting as it was flown, or run tied down."""

    session: str
    """Id of the session that measured the angle."""
    file: str = ""
    flown: Annotated[str, Field(pattern=DAY)]
    """Local date, or date and time."""
    angle_deg: Angle
    """Mean of all blades at the end of that session."""
    u95_deg: Annotated[float, Field(ge=0, le=10)]
    spread_deg: Annotated[float, Field(ge=0)] | None = None
    hub: str = ""
    serials: list[str] = []
    station: str = ""
    static_rpm: Rpm | None = None
    climb_rpm: Rpm | None = None
    level_rpm: Rpm | None = None
    true_airspeed_kt: Annotated[float, Field(gt=0, le=500)] | None = None
    """In the level run."""
    level_throttle: Literal["full", "part"] = "full"
    """part: it was opened only until a limit was reached, with more to spare: at full throttle it turns faster."""
    pressure_altitude_ft: Feet
    """Of the level run, and of every other where nothing else is said."""
    celsius: Celsius
    ground_altitude_ft: Feet | None = None
    """Pressure altitude of the place of the static run; with its temperature."""
    ground_celsius: Celsius | None = None
    wind_kt: Annotated[float, Field(ge=0, le=100)] | None = None
    """In the static run."""
    fuel: str = ""
    mass_kg: Annotated[float, Field(gt=0)] | None = None
    configuration: str = ""
    read_on: Annotated[str, Field(min_length=1)]
    """The instrument that showed the rpm."""
    checked_by: str = ""
    """How that instrument was checked, such as an optical one on the blades; "": it was not."""
    checked_rpm: Rpm | None = None
    shown_rpm: Rpm | None = None
    """What the check and the instrument showed at the same moment."""
    repeatability_percent: Annotated[float, Field(gt=0, le=20)] = REPEATABLE_PERCENT
    vibration: str = ""
    """What was felt; "": nothing."""
    withdrawn: str = ""
    """Why it does not count; "": it does."""

    @model_validator(mode="after")
    def _whole(self) -> "Point":
        if not any(self.rpm(run) for run in RUNS):
            raise ValueError("no rpm: give static_rpm, climb_rpm or level_rpm")
        given = [bool(self.checked_by), self.checked_rpm is not None, self.shown_rpm is not None]
        if any(given) != all(given):
            raise ValueError("a check needs checked_by, checked_rpm and shown_rpm")
        if self.level_throttle == "part" and self.level_rpm is None:
            raise ValueError("level_throttle is of the level run: give level_rpm")
        if (self.ground_altitude_ft is None) != (self.ground_celsius is None):
            raise ValueError("ground_altitude_ft and ground_celsius go together")
        return self

    def rpm(self, run: Run) -> float | None:
        """Return what the instrument showed in a run; None: it was not run."""
        return {"static": self.static_rpm, "climb": self.climb_rpm, "level": self.level_rpm}[run]

    def air_kft(self, run: Run) -> float:
        """Return the density altitude of a run, thousands of feet."""
        if run == "static" and self.ground_altitude_ft is not None:
            assert self.ground_celsius is not None
            return density_altitude_ft(self.ground_altitude_ft, self.ground_celsius) / 1000.0
        return density_altitude_ft(self.pressure_altitude_ft, self.celsius) / 1000.0


class Trial(Written):
    """All that is known of one propeller on one aircraft."""

    stillblade_trial: Literal[1]
    aircraft: str = ""
    propeller: Propeller
    manual: Manual = Manual()
    limit: list[Limit] = []
    point: list[Point] = []

    @property
    def counting(self) -> list[tuple[int, Point]]:
        """The points that were not withdrawn, each with its number from 1."""
        return [(n, one) for n, one in enumerate(self.point, 1) if not one.withdrawn]
