"""The job file: whose propeller, which angle, which levels, in which order.

Angles in degrees. No tolerance has a default: no authority gives one number for all.
"""

from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, model_validator

from shared import carried as carrying
from shared.model import Written, first_problem
from shared.plan import Plan
from shared.profile import LevelProfile, NotNegative, Positive


class Propeller(Written):
    """The propeller and where on its blades the angle is measured."""

    blades: Annotated[int, Field(ge=2, le=6)]
    rotation: Literal["clockwise", "anticlockwise"]
    """Seen from behind the aircraft, looking forward."""
    layout: Literal["tractor", "pusher"]
    station: str
    """The station in the manual's own words, e.g. "75 % radius" or "150 mm in from the tip"."""
    radius_m: Positive | None = None
    """Radius of the station; with it, misplacing the level along the blade enters the budget."""
    station_u_mm: NotNegative = 1.0
    twist_deg_per_mm: float | None = None
    """Local twist where known; else constant pitch is assumed at `radius_m`."""
    labels: list[str] = []
    """The user's own names for the sockets, blade 1 first: a mark, a colour."""
    serials: list[str] = []
    hub: str = ""
    """The hub's serial number."""
    halves: list[str] = []
    """Serial numbers or match marks of the hub's halves."""
    match_marks: list[str] = []
    """Of the blades and their sockets, blade 1 first."""
    shims: list[str] = []
    """What lies under each blade, blade 1 first."""
    damage: str = ""
    """What was looked for on blades and hub, and what was found."""
    azimuths_deg: list[float] = []
    """Socket positions round the hub; default evenly spaced in the direction of rotation."""
    face_deg: float = 0.0
    """Inclination of the measured face to the span (taper, droop, pre-cone)."""
    face_u_deg: NotNegative = 0.0

    @model_validator(mode="after")
    def _one_each(self) -> "Propeller":
        for key in ("labels", "serials", "match_marks", "shims", "azimuths_deg"):
            given = len(getattr(self, key))
            if given not in {0, self.blades}:
                raise ValueError(f"{key} has {given} entries for {self.blades} blades")
        return self

    def label(self, blade: int) -> str:
        """Name of a blade for people: the user's own mark, or its number."""
        return self.labels[blade - 1] if self.labels else str(blade)


class Target(Written):
    """What is to be reached."""

    angle_deg: Annotated[float, Field(gt=-30, lt=80)]
    tolerance_deg: Positive
    spread_deg: Positive
    """Largest allowed difference between blades."""


class Person(Written):
    """Someone named in the record."""

    name: str
    role: str = ""


ReferenceBy = Literal["hub-face", "half-turn", "both-sides"]
"""Where the shaft's tilt is read: on the hub face with blade 1 horizontal; there, and half a
turn further on; or on blade 1, on both sides of the aircraft."""


Nose = Literal["", "up", "down"]


class Setup(Written):
    """How the blades are presented to the level."""

    reference: ReferenceBy = "hub-face"
    wobble_deg: NotNegative = 0.0
    """How far the reference surface may lean against the plane of rotation."""
    psi_u_deg: NotNegative = 1.0
    """Standard uncertainty of a blade's azimuth from horizontal where nothing measures it."""
    skew_u_deg: NotNegative = 1.0
    """Standard uncertainty of how squarely the level lies across the chord."""
    lift_u_deg: NotNegative = 0.01
    """Standard uncertainty of how far lifting the level turns a loose blade."""
    play_deg: NotNegative = 0.0
    """Full play of a loose blade at the station, as felt between coarse and fine."""
    nose: Nose = ""
    """Which way the shaft points: on the hub face a level of one axis cannot tell."""
    capture: Literal["by press", "by itself"] = "by itself"
    """by itself: a level laid down where and as the step expects it is taken without a press."""
    zero_days: Annotated[int, Field(ge=1)] | None = None
    """A level's zero must have been proven within so many days; None: nobody asks."""


class LevelEntry(Written):
    """One level used in this job."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]*$")]
    profile: str
    """A shipped kind ("nmea-xdr") or the path of a profile file beside the job."""
    port: str = ""
    """Serial: the stable link of the port. Bluetooth: the device's address."""
    role: Literal["blade", "hub", "watch"] = "blade"
    watches: Annotated[int, Field(ge=0, le=6)] = 0
    """role = "watch": the blade it is left on; 0 = the cowling."""
    settings: dict[str, Any] = {}
    """Tables laid over the profile: what differs on this very instrument."""


class Broker(Written):
    """An MQTT broker that the session is published to. Its password stands in no job file."""

    host: Annotated[str, Field(min_length=1, max_length=253)]
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    topic: Annotated[str, Field(pattern=r"^[^#+\x00/][^#+\x00]{0,199}$")] = "stillblade"
    """Everything is published below it."""
    user: str = ""
    password_file: str = ""
    """A file beside the job, which others may not read."""
    anonymous: bool = False
    """Without a user only where this says so."""
    tls: bool = False
    ca_file: str = ""
    """Certificate of whoever signed the broker's; "": those that the system trusts."""
    every_s: Annotated[float, Field(ge=0.05, le=3600)] = 0.5
    """The picture is published this often at most."""
    may_act: list[Annotated[str, Field(pattern=r"^[A-Za-z0-9_.-]{1,64}$")]] = []
    """Clients that may do what every face may; all others may only add notes and ask."""

    @model_validator(mode="after")
    def _known(self) -> "Broker":
        if not self.user and not self.anonymous:
            raise ValueError("user is missing; a broker that asks for none: anonymous = true")
        if bool(self.user) != bool(self.password_file):
            raise ValueError("user and password_file go together")
        if self.ca_file and not self.tls:
            raise ValueError("ca_file is of no use without tls = true")
        return self


class Thresholds(Written):
    """Numbers of the diagnosis, frozen into every session."""

    moved_probability: Annotated[float, Field(gt=0.5, lt=1)] = 0.9
    steady_probability: Annotated[float, Field(gt=0, lt=0.5)] = 0.1
    prior_shift: Annotated[float, Field(gt=0, lt=1)] = 0.05
    prior_moved: Annotated[float, Field(gt=0, lt=1)] = 0.05
    prior_tightened: Annotated[float, Field(gt=0, lt=1)] = 0.3
    move_sd_deg: Positive = 1.0
    shift_sd_deg: Positive = 1.0
    lift_deg: Positive = 8.0
    """A swing this fast or far means the level is in someone's hand."""


class Job(Written):
    """One job, as a person writes it."""

    stillblade_job: Literal[1]
    name: str
    aircraft: str = ""
    hours: str = ""
    """Of the aircraft, as its log says."""
    manual: str = ""
    """Of the propeller: title, revision and page that the numbers are from."""
    notes: str = ""
    people: list[Person] = []
    propeller: Propeller
    target: Target
    setup: Setup = Setup()
    plan: Plan = Plan()
    thresholds: Thresholds = Thresholds()
    broker: Broker | None = None
    level: Annotated[list[LevelEntry], Field(min_length=1)]

    @model_validator(mode="after")
    def _levels(self) -> "Job":
        names = [entry.name for entry in self.level]
        if len(set(names)) != len(names):
            raise ValueError("two levels have the same name")
        if all(entry.role == "hub" for entry in self.level):
            raise ValueError('no level has role "blade" or "watch"')
        if any(entry.watches > self.propeller.blades for entry in self.level):
            raise ValueError("a level watches a blade the propeller does not have")
        named = [*self.plan.clamps, *(one.blades for one in self.plan.in_order)]
        if any(blade > self.propeller.blades for blades in named for blade in blades):
            raise ValueError("the plan names a blade the propeller does not have")
        return self


class Header(Written):
    """Everything a session depends on besides its inputs, frozen at its start."""

    stillblade: str
    """Version of the program that wrote it."""
    format: Literal[1]
    rules: Annotated[int, Field(ge=1)]
    session: str
    procedure: Literal["set", "read", "watch"] = "set"
    """set: the whole job. read: everything is read as it was found, nothing is set. watch: levels
    left on blades, nothing else."""
    continues: str = ""
    """Session whose held blades and baselines this one starts from."""
    started: str
    """Wall time at t_ns = 0, ISO 8601, for people; no rule reads it."""
    job: Job
    profiles: dict[str, LevelProfile]
    """Whole profile by level name, with what was learned of noise and seating."""
    carried: dict[str, Any] = {}
    """State taken over from `continues`: the reference and the held blades."""
    earlier: str = ""
    """When this hub was set before, for people; "": nobody knows of it."""
    pulled_deg: Annotated[float, Field(ge=-10, le=10)] | None = None
    """How far its bolts then turned all blades alike, degrees, coarser positive."""
    remarks: list[str] = []
    """What is otherwise than then, or worth a look: said when the session opens."""
    unproven: dict[str, str] = {}
    """Levels whose zero was not proven within the job's `zero_days`, and when last ("": never)."""

    @model_validator(mode="after")
    def _whole(self) -> "Header":
        missing = [entry.name for entry in self.job.level if entry.name not in self.profiles]
        if missing:
            raise ValueError(f"there is no profile of level {missing[0]}")
        if self.carried:
            try:
                carrying.Carried.model_validate(self.carried)
            except ValidationError as error:
                where, problem, _ = first_problem(error)
                raise ValueError(f"carried.{where}: {problem}") from None
        return self
