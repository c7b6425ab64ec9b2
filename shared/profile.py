"""The level profile: all the program must know about one kind of level.

A profile is a TOML file; this module is its meaning. Angles in degrees.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from shared.model import Written
from shared.samples import Role

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Axis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]


class Transport(Written):
    """How bytes arrive."""

    link: Literal["serial", "modbus", "ble-notify", "ble-advert"] = "serial"
    baud: Annotated[int, Field(ge=300, le=4_000_000)] = 9600
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1
    silent_after_s: Positive = 1.0
    """No valid sample for this long: the level is shown as silent."""


class Channel(Written):
    """One stream of bytes of a level: a characteristic, an advertisement, a poll entry."""

    number: Annotated[int, Field(ge=0, le=255)] = 0
    service_uuid: str = ""
    characteristic_uuid: str = ""
    advert_uuid: str = ""
    unit: Annotated[int, Field(ge=0, le=247)] = 1
    function: Literal[3, 4] = 3
    address: Annotated[int, Field(ge=0, le=65535)] = 0
    count: Annotated[int, Field(ge=1, le=125)] = 1


class Format(Written):
    """Which codec reads the bytes; `options` are the codec's own and checked by it."""

    codec: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    options: dict[str, str | int | float | bool | list[str] | dict[str, str]] = {}


class FieldOf(Written):
    """Where one role's number stands in a message, and how to scale it.

    value = (raw * scale + offset), then from `unit` to the unit of the role.
    """

    source: str = ""
    """Name or position in the codec's own terms: a transducer name, a struct field, a group."""
    scale: float = 1.0
    offset: float = 0.0
    unit: Literal["deg", "rad", "percent", "mm/m", "g", "m/s2", "mg", "degC", "degF", "1"] = "deg"


class Limits(Written):
    """Plausibility: a sample outside is refused by the gate and counted."""

    low_deg: float = -180.0
    high_deg: float = 180.0
    step_deg: Positive = 360.0
    """Largest credible change between neighbouring samples."""


class Mounting(Written):
    """How the level's own axes lie when it sits on a blade, leading edge up.

    chord points to the leading edge, span to the tip, normal away from the seat.
    """

    chord: Axis = "+x"
    span: Axis = "+y"
    normal: Axis = "+z"

    @model_validator(mode="after")
    def _three_axes(self) -> "Mounting":
        if len({axis[1] for axis in (self.chord, self.span, self.normal)}) != 3:
            raise ValueError("chord, span and normal must name three different axes of the level")
        return self


class Accuracy(Written):
    """The maker's statement, as half-widths of a rectangular distribution."""

    zero_deg: NotNegative = 0.1
    zero_date: Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    """When the zero of this very instrument was last proven; "": not known."""
    gain_percent: NotNegative = 0.0
    cross_axis_percent: NotNegative = 0.0
    temperature_deg_per_k: NotNegative = 0.0
    temperature_span_k: NotNegative = 5.0


class Seating(Written):
    """How well the level finds the same seat again: standard uncertainty of one placement."""

    u_deg: NotNegative = 0.03
    n: Annotated[int, Field(ge=0)] = 0
    """Placements it was learned from; 0 = assumed, not measured."""
    date: str = ""


class Noise(Written):
    """Sample noise of the level at rest: standard deviation and lag-1 autocorrelation."""

    sd_deg: NotNegative = 0.03
    lag1: Annotated[float, Field(ge=0, lt=1)] = 0.0
    n: Annotated[int, Field(ge=0)] = 0
    """Samples it was learned from; 0 = assumed, not measured."""
    date: str = ""


class Reporting(Written):
    """When the level sends."""

    mode: Literal["stream", "on-change", "on-press"] = "stream"
    rate_hz: Positive = 10.0


class Battery(Written):
    """When to say that the level's battery is low."""

    low_percent: Annotated[float, Field(ge=0, le=100)] = 15.0


class Ask(Written):
    """What to send to the level to make or keep it talking. Escapes as in TOML strings."""

    on_connect: str = ""
    poll: str = ""
    every_s: Positive = 1.0


class LevelProfile(Written):
    """One kind of level, complete."""

    stillblade_profile: Literal[1]
    kind: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    title: str
    convention: Literal["planar", "projection", "roll-pitch", "vector"]
    """What the level reports: never guessed, because the error of a wrong guess is large."""
    resolution_deg: NotNegative = 0.01
    transport: Transport = Transport()
    channels: list[Channel] = [Channel()]
    format: Format
    fields: dict[Role, FieldOf]
    mounting: Mounting = Mounting()
    limits: Limits = Limits()
    accuracy: Accuracy = Accuracy()
    seating: Seating = Seating()
    noise: Noise = Noise()
    reporting: Reporting = Reporting()
    battery: Battery = Battery()
    ask: Ask = Ask()

    @model_validator(mode="after")
    def _has_its_angle(self) -> "LevelProfile":
        needed: dict[str, set[Role]] = {
            "planar": {"angle"},
            "projection": {"angle"},
            "roll-pitch": {"roll", "pitch"},
            "vector": {"ax", "ay", "az"},
        }
        missing = needed[self.convention] - set(self.fields)
        if missing:
            raise ValueError(
                f"a {self.convention} level needs fields {sorted(missing)} under [fields]"
            )
        return self
