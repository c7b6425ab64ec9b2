"""Lines of JSON: numbers by key, and nothing that is not plainly a number."""

from typing import Any

import pytest

from shared.errors import BadInputError
from shared.samples import Sample
from tests.drivers.making import bare_codec

KEEP = {"first_line": "keep"}


def read(
    data: str, fields: dict[str, Any], options: dict[str, Any] | None = None, **tables: Any
) -> Any:
    codec = bare_codec("json-line", KEEP | (options or {}), fields, **tables)
    return [one.values for one in codec.feed(0, data.encode() + b"\n")], dict(codec.refused)


@pytest.mark.parametrize(
    ("line", "source", "expected"),
    [
        ('{"angle": 12.5}', "", 12.5),
        ('{"a": -3}', "a", -3.0),
        ('{"tilt": {"roll": 1e1, "x": null}}', "tilt.roll", 10.0),
        ('{"acc": [1, 2, 3.5]}', "acc.2", 3.5),
        ('{"a": "12.5"}', "a", 12.5),
        ('  {"a":0}  ', "a", 0.0),
    ],
)
def test_numbers_by_key(line: str, source: str, expected: float) -> None:
    assert read(line, {"angle": {"source": source}}) == ([{"angle": expected}], {})


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ('{"a": NaN}', "format"),
        ('{"a": Infinity}', "format"),
        ('{"a": 1e999}', "number"),
        ('{"a": 1' + "0" * 400 + "}", "number"),
        ('{"a": true}', "number"),
        ('{"a": [1]}', "number"),
        ('{"a": "12,5"}', "number"),
        ('{"a": ""}', "number"),
        ('{"a": 1, "a": 2}', "several sensors"),
        ('{"a": 32767}', "no angle"),
        ('{"a": 400}', "out of range"),
        ('{"a": 1', "format"),
        ("[1]", "format"),
        ("12.5", "format"),
        ("[" * 1000, "format"),
        ('{"a":' * 150, "format"),
    ],
)
def test_refused_and_counted(line: str, reason: str) -> None:
    assert read(line, {"angle": {"source": "a"}}) == ([], {reason: 1})


def test_other_objects_are_someone_elses() -> None:
    fields = {"angle": {"source": "v"}}
    lines = '{"type": "tilt", "n": 1, "v": 2}\n{"type": "heading", "n": 1, "v": 170}\n{"v": 3}'
    assert read(lines, fields, {"only": {"type": "tilt", "n": "1"}}) == ([{"angle": 2.0}], {})


def test_battery_alone_and_a_button() -> None:
    fields = {
        "angle": {"source": "a"},
        "battery": {"source": "b", "unit": "percent", "none": [255]},
        "button": {"source": "p", "unit": "1"},
    }
    lines = '{"b": 80}\n{"a": 1, "b": 255, "p": true}\n{"text": "hello"}'
    assert read(lines, fields) == ([{"battery": 80.0}, {"angle": 1.0, "button": 1.0}], {})


def test_axes_in_objects_of_their_own() -> None:
    codec = bare_codec(
        "json-line",
        KEEP | {"gather": ["roll", "pitch"]},
        {"roll": {"source": "r"}, "pitch": {"source": "p"}},
        convention="roll-pitch",
    )
    assert codec.feed(0, b'{"r":1}\n{"p":2}\n{"r":3}\n') == [Sample({"roll": 1.0, "pitch": 2.0})]
    codec.reset()
    assert codec.feed(0, b'{"p":4}\n') == []
    assert dict(codec.refused) == {"incomplete": 1}


def test_one_key_for_two_axes_is_bad_input() -> None:
    fields = {"roll": {"source": "a"}, "pitch": {"source": "a"}}
    with pytest.raises(BadInputError, match="source of its own"):
        bare_codec("json-line", {}, fields, convention="roll-pitch")
