"""docs/profiles.md: every key has a row and an example that works; the three profiles are whole."""

import importlib
import re
import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from drivers import codecs, profiles
from drivers.codecs._checks import NAMES
from shared import profile as profile_module
from shared.model import laid_over
from shared.profile import LevelProfile, Table, described
from shared.samples import Sample
from tests.drivers.encoders import nmea

TEXT = (Path(__file__).parents[2] / "docs" / "profiles.md").read_text("utf-8")
BASE: dict[str, Any] = {
    "stillblade_profile": 1,
    "kind": "x",
    "title": "x",
    "convention": "planar",
    "format": {"codec": "text-line"},
    "fields": {"angle": {}},
}
OPTIONS: dict[str, dict[str, Any]] = {
    "framed-binary": {"sync": "aa55", "layout": "counter:u8 angle:i16", "check": "sum8"},
    "ble-notify": {"layouts": {"0": "angle:i16"}},
}


def rows(text: str) -> dict[str, str]:
    """Example of every key, the spans of one cell as lines of TOML."""
    found = {}
    for line in text.splitlines():
        cells = line.strip("| ").split(" | ")
        if line.startswith("| `") and len(cells) == 3 and "=" in cells[1]:
            found[cells[0].strip("`")] = "\n".join(re.findall(r"`([^`]+)`", cells[1]))
    return found


def keys_of(model: type[BaseModel], before: str = "") -> dict[str, FieldInfo]:
    """Every key of a table and of the tables in it, as the page names them."""
    found = {}
    for key, field in model.model_fields.items():
        found[before + key] = field
        for inner in (field.annotation, *get_args(field.annotation)):
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                found |= keys_of(inner, f"{before}{key}.")
    return found


KEYS = sorted(keys_of(LevelProfile))
SECTIONS = {name: TEXT.split(f"\n### {name}\n")[1].split("\n#")[0] for name in codecs.names()}


def options_of(codec: str) -> type[Table]:
    module = importlib.import_module(f"drivers.codecs.{codec.replace('-', '_')}")
    options: type[Table] = module.Options
    return options


def test_every_key_has_a_row_and_no_row_is_of_another() -> None:
    there = rows(TEXT.split("\n## Every key\n")[1].split("\n## ")[0])
    assert sorted(there) == KEYS
    assert len(KEYS) > 60


@pytest.mark.parametrize("key", KEYS)
def test_every_example_is_a_profile(key: str) -> None:
    example: dict[str, Any] = tomllib.loads(rows(TEXT)[key])
    last = key.rpartition(".")[2]
    assert last in example, "the example shows its key"
    table = key.rpartition(".")[0]
    if table == "channels":
        example = {"channels": [example]}
    elif table == "fields":
        example = {"fields": {"angle": example}}
    elif table:
        example = {table: example}
    made = profiles.from_tables(laid_over(BASE, example), key)
    if table in {"transport", "reporting", "ask", "limits", "accuracy", "seating", "noise"}:
        default = type(getattr(made, table)).model_fields[last].default
        assert getattr(getattr(made, table), last) != default or last in {
            "link",
            "zero_deg",
        }, "an example that shows the default shows nothing"


@pytest.mark.parametrize("codec", codecs.names())
def test_every_option_has_a_row_and_a_description(codec: str) -> None:
    options = options_of(codec)
    there = rows(SECTIONS[codec])
    assert set(there) == set(options.model_fields)
    for key, text in there.items():
        example = tomllib.loads(text)
        assert key in example
        given = OPTIONS.get(codec, {}) | example
        if "layouts" in example and codec == "framed-binary":
            del given["layout"]
        options.model_validate(given)
    assert set(described(options)) == set(options.model_fields)


def test_every_key_in_the_schema_is_described() -> None:
    schema = profiles.schema()
    tables = [schema, *schema["$defs"].values()]
    bare = [
        f"{table.get('title')}.{key}"
        for table in tables
        for key, said in table.get("properties", {}).items()
        if not said.get("description", "").strip()
    ]
    assert not bare
    assert len(tables) == 1 + sum(
        isinstance(one, type)
        and issubclass(one, profile_module.Table)
        and one not in {profile_module.Table, LevelProfile}
        for one in vars(profile_module).values()
    )


def shown() -> list[LevelProfile]:
    blocks = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    return [profiles.read(block, "docs/profiles.md") for block in blocks]


def test_the_three_profiles_are_whole_and_explained() -> None:
    assert [one.kind for one in shown()] == [
        "yellow-level",
        "two-axis-sensor",
        "advertising-level",
    ]
    first = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)[0]
    written = [line for line in first.splitlines() if "=" in line.split("#")[0]]
    assert all("#" in line for line in written)


def test_the_three_profiles_read_what_the_page_says_they_read() -> None:
    text, binary, advert = map(codecs.make, shown())
    data = b"\r\n" + nmea("GPGGA,1,2") + nmea("PBLDA,4,12°30.0',D") + nmea("PBLDA,4,0°06.0',U")
    assert text.feed(0, data) == [
        Sample({"angle": -12.5, "mode": 4.0}),
        Sample({"angle": 0.1, "mode": 4.0}),
    ]

    def frame(kind: int, raw: int) -> bytes:
        body = bytes([0x55, kind]) + raw.to_bytes(2, "big", signed=True)
        return body + bytes([sum(body) & 0xFF])

    sent = frame(1, 8192) + frame(2, -4096) + frame(1, 8192) + frame(2, 32767)
    assert binary.feed(0, sent) == [Sample({"roll": 45.0, "pitch": -22.5})]
    assert dict(binary.refused) == {"no angle": 1}
    assert advert.feed(0, b"\x01\x2e\xfb\x50") == [Sample({"angle": -12.34, "battery": 80.0})]


def test_every_check_and_codec_is_named() -> None:
    for name in (*NAMES, *codecs.names()):
        assert f"`{name}`" in TEXT or f"### {name}" in TEXT, name


def test_every_refusal_of_the_codecs_is_explained() -> None:
    folder = Path(codecs.__file__).parent
    source = "".join(one.read_text("utf-8") for one in folder.glob("*.py"))
    said = set(re.findall(r'refused\[?\.?(?:add\()?"([a-z ]+)"', source))
    said |= set(re.findall(r'^[A-Z_]+ = "([a-z ]+)"$', source, re.MULTILINE)) - {"nothing"}
    table = TEXT.split("## Why a number is refused")[1].split("\n## ")[0]
    of_packets = {"repeated packet", "unknown object", "version", "encrypted"}
    assert len(said) > 12
    assert {one for one in said - of_packets if f"`{one}`" not in table} == set()
