"""What docs/levels.md says is what the program has."""

import re
import tomllib
from pathlib import Path

from drivers import codecs, profiles
from drivers.codecs._checks import NAMES
from shared.job import LevelEntry

ROOT = Path(__file__).parent.parent.parent
TEXT = (ROOT / "docs" / "levels.md").read_text("utf-8")


def test_example_is_a_level() -> None:
    block = next(
        one for one in re.findall(r"(?:^    .*\n|^\n)+", TEXT, re.MULTILINE) if "[[level]]" in one
    )
    tables = tomllib.loads(re.sub(r"^    ", "", block, flags=re.MULTILINE))
    entry = LevelEntry.model_validate(tables["level"][0])
    profile = profiles.for_level(entry, ROOT)
    line = b"0\rROLL=-1,50\xc2\xb0 ; PITCH=2,25\xc2\xb0\r"
    found = codecs.make(profile).feed(0, line)
    assert [one.values for one in found] == [{"roll": -1.5, "pitch": 2.25}]
    assert profile.transport.baud == 19200


def test_every_kind_codec_and_check_is_named() -> None:
    options = (ROOT / "docs" / "profiles.md").read_text("utf-8")
    for name in (*profiles.names(), *codecs.names(), *NAMES):
        assert f"`{name}`" in TEXT + options or f"### {name}" in options, name
    assert all(f"| `{name}` |" in TEXT for name in profiles.names())


def test_every_fault_names_a_test_that_is_there() -> None:
    there = "".join(one.read_text("utf-8") for one in (ROOT / "tests" / "radio").glob("*.py"))
    table = TEXT[TEXT.index("### Fault table") : TEXT.index("Each test checks")]
    names = re.findall(r"`(test_\w+)`", table)
    assert len(names) >= 13
    assert all(f"def {name}(" in there for name in names)
