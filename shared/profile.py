"""The level profile: all the program must know about one kind of level.

A profile is a TOML file; this module is its meaning, and the text under every key is what the
JSON Schema says of it. Angles in degrees.
"""

import ast
import inspect
import textwrap
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from shared.model import Written
from shared.samples import Role

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Seconds = Annotated[float, Field(gt=0, le=86_400)]
SmallAngle = Annotated[float, Field(ge=0, le=90)]
Percent = Annotated[float, Field(ge=0, le=100)]
Count = Annotated[int, Field(ge=0)]
Axis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]


class Table(Written):
    """A table of a profile: the text under a key describes it in the schema."""

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Return the schema with those texts: pydantic itself would read this source at every start."""
        made = handler(core_schema)
        properties = handler.resolve_ref_schema(made)["properties"]
        for key, words in described(cls).items():
            properties[key]["description"] = words
        return made


def described(table: type[Table]) -> dict[str, str]:
    """Return the text under every key of a table, and under those of the tables it builds on."""
    found: dict[str, str] = {}
    for each in reversed(table.__mro__[: table.__mro__.index(Table)]):
        (body,) = ast.parse(textwrap.dedent(inspect.getsource(each))).body
        assert isinstance(body, ast.ClassDef)
        for key, under in pairwise(body.body):
            match key, under:
                case (
                    ast.AnnAssign(target=ast.Name(id=name)),
                    ast.Expr(value=ast.Constant(value=str(words))),
                ):
                    found[name] = inspect.cleandoc(words)
    return found


class Transport(Table):
    """How bytes arrive."""

    link: Literal["serial", "modbus", "ble-notify", "ble-advert"] = "serial"
    """A serial stream, Modbus polls on a serial line, notifications, or advertisements."""
    baud: Annotated[int, Field(ge=300, le=4_000_000)] = 9600
    """Speed of a serial line, bits a second."""
    parity: Literal["none", "even", "odd"] = "none"
    """Parity bit of a serial line."""
    stop_bits: Literal[1, 2] = 1
    """Stop bits of a serial line."""
    silent_after_s: Seconds = 1.0
    """No valid sample for this long: the level is shown as silent."""


class Channel(Table):
    """One stream of bytes of a level: a characteristic, an advertisement, a poll entry."""

    number: Annotated[int, Field(ge=0, le=249)] = 0
    """Number of the channel in recordings and in the codec's options; each once. Those from
    250 on are battery, signal strength and information of every Bluetooth link."""
    service_uuid: str = ""
    """Bluetooth: the service that holds the characteristic; 4 or 32 hexadecimal digits."""
    characteristic_uuid: str = ""
    """Bluetooth: the characteristic that notifies."""
    advert_uuid: str = ""
    """Bluetooth: the service data of advertisements under this UUID."""
    manufacturer_id: Annotated[int, Field(ge=0, le=65535)] | None = None
    """Bluetooth: the manufacturer data of advertisements under this company identifier."""
    unit: Annotated[int, Field(ge=0, le=247)] = 1
    """Modbus: address of the unit on the bus."""
    function: Literal[3, 4] = 3
    """Modbus: 3 reads holding registers, 4 input registers."""
    address: Annotated[int, Field(ge=0, le=65535)] = 0
    """Modbus: first register, counted from 0."""
    count: Annotated[int, Field(ge=1, le=125)] = 1
    """Modbus: how many registers."""


class Format(Table):
    """Which codec reads the bytes; `options` are the codec's own and checked by it."""

    codec: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    """Name of the codec; `stillblade levels list` shows a profile of each."""
    options: dict[str, str | int | float | bool | list[str] | dict[str, str]] = {}
    """What the codec must know of this level; docs/profiles.md lists them by codec."""


class FieldOf(Table):
    """Where one role's number stands in a message, and how to scale it.

    value = (raw * scale + offset), then from `unit` to the unit of the role.
    """

    source: str = ""
    """Name or position in the codec's own terms: a transducer name, a struct field, a key."""
    scale: Annotated[float, Field(ge=-1e9, le=1e9)] = 1.0
    """The raw number is multiplied by this; never 0."""
    offset: Annotated[float, Field(ge=-1e12, le=1e12)] = 0.0
    """Then this is added, in the field's unit."""
    unit: Literal["deg", "rad", "percent", "mm/m", "g", "m/s2", "mg", "degC", "degF", "1"] = "deg"
    """Unit of the number after scale and offset."""
    none: list[float] = []
    """Raw numbers that mean "no number": refused, never scaled."""

    @model_validator(mode="after")
    def _scales(self) -> Self:
        if abs(self.scale) < 1e-12:
            raise ValueError("scale = 0 makes every number the same")
        return self


class Limits(Table):
    """Plausibility: a sample outside is refused by the gate and counted.

    They are of the angle as the program has it, within -180 to 180. Before that, a codec
    refuses what means "no angle" and what lies outside one turn (-180 to 360).
    """

    low_deg: Annotated[float, Field(ge=-180, le=180)] = -180.0
    """Smallest credible angle."""
    high_deg: Annotated[float, Field(ge=-180, le=180)] = 180.0
    """Largest credible angle."""
    step_deg: Annotated[float, Field(gt=0, le=360)] = 360.0
    """Largest credible change between neighbouring samples."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low_deg >= self.high_deg:
            raise ValueError("low_deg must be less than high_deg")
        return self


class Mounting(Table):
    """How the level's own axes lie when it sits on a blade, leading edge up.

    chord points to the leading edge, span to the tip, normal away from the seat.
    """

    chord: Axis = "+x"
    """The level's own axis that points to the leading edge."""
    span: Axis = "+y"
    """The level's own axis that points to the tip."""
    normal: Axis = "+z"
    """The level's own axis that points away from the seat."""

    @model_validator(mode="after")
    def _three_axes(self) -> Self:
        if len({axis[1] for axis in (self.chord, self.span, self.normal)}) != 3:
            raise ValueError("chord, span and normal must name three different axes of the level")
        return self


class Accuracy(Table):
    """The maker's statement, as half-widths of a rectangular distribution."""

    zero_deg: SmallAngle = 0.1
    """Zero error: what it may show on a level surface."""
    zero_date: Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    """When the zero of this very instrument was last proven; "": not known."""
    gain_percent: Percent = 0.0
    """Gain error, percent of the angle."""
    cross_axis_percent: Percent = 0.0
    """How much of a tilt of the other axis shows in this one, percent."""
    temperature_deg_per_k: SmallAngle = 0.0
    """Drift with temperature, degrees a kelvin."""
    temperature_span_k: Annotated[float, Field(ge=0, le=200)] = 5.0
    """How far the temperature may change during a job."""


class Seating(Table):
    """How well the level finds the same seat again: standard uncertainty of one placement."""

    u_deg: SmallAngle = 0.03
    """Standard uncertainty of one placement."""
    n: Count = 0
    """Placements it was learned from; 0 = assumed, not measured."""
    date: str = ""
    """When it was learned, for people."""


class Noise(Table):
    """Sample noise of the level at rest: standard deviation and lag-1 autocorrelation."""

    sd_deg: SmallAngle = 0.03
    """Standard deviation of one sample at rest."""
    lag1: Annotated[float, Field(ge=0, lt=1)] = 0.0
    """Correlation of neighbouring samples: near 1 for a level that smooths by itself."""
    n: Count = 0
    """Samples it was learned from; 0 = assumed, not measured."""
    date: str = ""
    """When it was learned, for people."""


class Reporting(Table):
    """When the level sends."""

    mode: Literal["stream", "on-change", "on-press"] = "stream"
    """All the time, only when its angle changes, or only when its button is pressed."""
    rate_hz: Annotated[float, Field(ge=0.001, le=100_000)] = 10.0
    """Samples a second of a stream; for Modbus, polls a second."""


class Battery(Table):
    """When to say that the level's battery is low."""

    low_percent: Percent = 15.0
    """At or under this it is said."""


class Ask(Table):
    """What to send to the level to make or keep it talking. Escapes as in TOML strings."""

    on_connect: str = ""
    """Sent once after connecting; each character is one byte."""
    poll: str = ""
    """Sent again and again; each character is one byte."""
    every_s: Seconds = 1.0
    """Time between two polls."""
    service_uuid: str = ""
    """Bluetooth: the service of the characteristic to write; empty: any."""
    characteristic_uuid: str = ""
    """Bluetooth: the characteristic to write. Empty: the first writable one of the first
    channel's service beside the one that notifies."""

    @model_validator(mode="after")
    def _bytes(self) -> Self:
        for key in ("on_connect", "poll"):
            if any(ord(character) > 255 for character in getattr(self, key)):
                raise ValueError(f'{key}: each character is one byte, "\\u0000" to "\\u00ff"')
        return self


class LevelProfile(Table):
    """One kind of level, complete."""

    stillblade_profile: Literal[1]
    """Version of this form of file: 1."""
    kind: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    """Name of the profile: small letters, digits, hyphens."""
    title: str
    """What it is, in words."""
    convention: Literal["planar", "projection", "roll-pitch", "vector"]
    """What the level reports: never guessed, because the error of a wrong guess is large."""
    resolution_deg: SmallAngle = 0.01
    """The last digit it sends."""
    transport: Transport = Transport()
    """The link, and the speed of a line."""
    channels: list[Channel] = [Channel()]
    """The streams of bytes; a serial line has one and needs no entry."""
    format: Format
    """Which codec reads the bytes."""
    fields: dict[Role, FieldOf]
    """Where each number stands, by its role."""
    mounting: Mounting = Mounting()
    """How the level lies on a blade."""
    limits: Limits = Limits()
    """Which angles are credible."""
    accuracy: Accuracy = Accuracy()
    """What its maker states."""
    seating: Seating = Seating()
    """How well it finds the same seat again."""
    noise: Noise = Noise()
    """How much its samples scatter at rest."""
    reporting: Reporting = Reporting()
    """When it sends."""
    battery: Battery = Battery()
    """When its battery is low."""
    ask: Ask = Ask()
    """What to send to it."""

    @model_validator(mode="after")
    def _has_its_angle(self) -> Self:
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

    @model_validator(mode="after")
    def _channels_differ(self) -> Self:
        numbers = [channel.number for channel in self.channels]
        if len(set(numbers)) != len(numbers) or not numbers:
            raise ValueError("[[channels]]: at least one, and each number once")
        return self
