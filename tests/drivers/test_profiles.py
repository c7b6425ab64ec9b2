"""Profiles: what is shipped, what is laid over it, and what is told of a bad one."""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from drivers import codecs, profiles
from drivers.codecs._scale import STANDARD_GRAVITY, scaled_fields
from shared.errors import BadInputError
from shared.job import LevelEntry
from tests.drivers.making import bare_profile, profile_of

GENERIC = [
    "ble-notify",
    "ble-uart",
    "bthome",
    "framed-binary",
    "json-line",
    "modbus-rtu",
    "nmea-xdr",
    "text-line",
]
SCHEMA = Path(profiles.__file__).parent / "level-profile.schema.json"


def test_generic_kinds_only() -> None:
    assert profiles.names() == GENERIC


@pytest.mark.parametrize("kind", GENERIC)
def test_shipped_profile_is_valid(kind: str) -> None:
    profile = profiles.load(kind)
    assert profile.kind == kind
    codecs.make(profile)
    text = (Path(profiles.__file__).parent / f"{kind}.toml").read_text("utf-8")
    jsonschema.validate(tomllib.loads(text), profiles.schema())


def test_schema_file_is_current() -> None:
    """Written anew by `stillblade schema level > drivers/profiles/level-profile.schema.json`."""
    written = json.loads(SCHEMA.read_text("utf-8"))
    assert {key: value for key, value in written.items() if key[0] != "$" or key == "$defs"} == (
        profiles.schema()
    )


def test_overlay_merges_tables_and_replaces_the_rest() -> None:
    profile = profile_of("nmea-xdr", transport={"baud": 4800}, fields={"angle": {"source": "X"}})
    assert (profile.transport.baud, profile.transport.link) == (4800, "serial")
    assert (profile.fields["angle"].source, profile.fields["angle"].unit) == ("X", "deg")
    assert profiles.overlay(profile, {}) is profile


def test_another_convention_replaces_the_fields() -> None:
    profile = profile_of(
        "text-line",
        convention="roll-pitch",
        fields={"roll": {"source": "1"}, "pitch": {"source": "2"}},
    )
    assert set(profile.fields) == {"roll", "pitch"}


@pytest.mark.parametrize(
    ("text", "key", "problem"),
    [
        ("stillblade_profile = ", "", "not TOML"),
        ("stillblade_profile = 1", "kind", "missing"),
        ("{base}\n[transport]\nbaud = 0", "transport.baud", "or more"),
        ("{base}\n[transport]\nbaut = 1", "transport.baut", "no such key"),
        ("{base}\nresolution_deg = nan", "resolution_deg", "finite"),
        ("{base}\n[format.options]\nspeed = 1", "format.options.speed", "no such key"),
        ('{base}\n[fields.angle]\nunit = "degC"', "fields.angle.unit", "no unit"),
        ("{base}\n[fields.tilt]", "fields.tilt", "fields.tilt: must be 'angle'"),
        ("{base}\n[fields.angle]\nscale = 0", "fields.angle", "scale = 0"),
        ("{base}\n[fields.angle]\nscale = 1e300", "fields.angle.scale", "less"),
        ("{base}\n[fields.angle]\noffset = -1e300", "fields.angle.offset", "or more"),
        ("{base}\n[limits]\nlow_deg = 60\nhigh_deg = -30", "limits", "low_deg must be less"),
        ("{base}\n[limits]\nhigh_deg = 1000", "limits.high_deg", "less"),
        ("{base}\n[reporting]\nrate_hz = 1e308", "reporting.rate_hz", "less"),
        ("{base}\n[reporting]\nrate_hz = 1e-308", "reporting.rate_hz", "or more"),
        ("{base}\n[transport]\nsilent_after_s = 1e308", "transport.silent_after_s", "less"),
        ("{base}\n[ask]\nevery_s = 1e308", "ask.every_s", "less"),
        ("{base}\n[ask]\npoll = '\u20ac'", "ask", "one byte"),
        ("{base}\n[accuracy]\nzero_deg = 1e308", "accuracy.zero_deg", "less"),
        ("{base}\n[noise]\nsd_deg = 1e308", "noise.sd_deg", "less"),
        ("{base}\n[seating]\nu_deg = 1e308", "seating.u_deg", "less"),
        ("{base}\n[[channels]]\n[[channels]]", "", "each number once"),
        ("deep = " + "[" * 5000 + "]" * 5000, "", "too deep"),
        ("deep = " + "{{a=" * 5000 + "1" + "}}" * 5000, "", "too deep"),
    ],
)
def test_bad_profile_says_which_key(text: str, key: str, problem: str) -> None:
    base = 'stillblade_profile = 1\nkind = "x"\ntitle = "x"\nconvention = "planar"\nformat.codec = "text-line"'
    if "[fields" not in text:
        base += "\nfields.angle.source = '1'"
    with pytest.raises(BadInputError) as caught:
        profiles.read(text.format(base=base), "mine.toml")
    assert caught.value.key.startswith(key)
    assert problem in str(caught.value)


def test_missing_angle_and_unknown_codec() -> None:
    with pytest.raises(BadInputError, match="needs fields"):
        bare_profile("text-line", {}, {"battery": {}})
    with pytest.raises(BadInputError, match="no codec"):
        bare_profile("morse", {}, {"angle": {}})


def test_profile_of_a_level(tmp_path: Path) -> None:
    text = (Path(profiles.__file__).parent / "text-line.toml").read_text("utf-8")
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    entry = LevelEntry(name="a", profile="mine.toml", settings={"transport": {"baud": 19200}})
    assert profiles.for_level(entry, tmp_path).transport.baud == 19200
    with pytest.raises(BadInputError, match="neither a shipped kind nor a readable file"):
        profiles.for_level(LevelEntry(name="a", profile="none.toml"), tmp_path)
    with pytest.raises(BadInputError, match="no profile"):
        profiles.load("none")


@pytest.mark.parametrize(
    ("role", "convention", "unit", "raw", "expected"),
    [
        ("angle", "planar", "percent", 100.0, 45.0),
        ("angle", "planar", "mm/m", -1000.0, -45.0),
        ("angle", "planar", "rad", 0.5, 28.64788975654116),  # 90 / pi
        ("angle", "projection", "g", 0.5, 30.0),
        ("angle", "projection", "mg", -500.0, -30.0),
        ("angle", "projection", "m/s2", STANDARD_GRAVITY, 90.0),
        ("angle", "projection", "g", 1.2, None),
        ("angle", "planar", "deg", float("inf"), None),
        ("angle", "planar", "deg", float("nan"), None),
        ("ax", "planar", "m/s2", 9.80665, 1.0),
        ("ax", "planar", "mg", 250.0, 0.25),
        ("ax", "planar", "1", 0.25, 0.25),
        ("temperature", "planar", "degF", 212.0, 100.0),
        ("battery", "planar", "percent", 55.0, 55.0),
    ],
)
def test_units(role: str, convention: str, unit: str, raw: float, expected: float | None) -> None:
    fields = {"angle": {"source": "1"}, role: {"source": "1", "unit": unit}}
    profile = bare_profile("text-line", {}, fields, convention=convention)
    field = next(one for one in scaled_fields(profile) if one.role == role)
    value = field.value(raw)
    assert value == (pytest.approx(expected, abs=1e-12) if expected is not None else "number")


def test_scale_and_offset_come_before_the_unit() -> None:
    profile = bare_profile(
        "text-line", {}, {"angle": {"scale": 10.0, "offset": -50.0, "unit": "percent"}}
    )
    assert scaled_fields(profile)[0].value(15.0) == pytest.approx(45.0)
    assert scaled_fields(profile)[0].value(1e308) == "number"
