"""Lines cut out of a stream, and numbers laid out in a message, at their limits."""

import struct
from collections import Counter

import pytest

from drivers.codecs._layout import Order, Place, parse_layout
from drivers.codecs._lines import Lines


def cut(*chunks: bytes, longest: int = 1024, end: bytes = b"") -> tuple[list[bytes], int]:
    """The lines of these chunks, and how many were too long."""
    refused: Counter[str] = Counter()
    lines = Lines(refused, longest=longest, end=end)
    found = [line for chunk in chunks for line in lines.feed(chunk)]
    assert set(refused) <= {"too long"}
    return found, refused["too long"]


def test_a_line_has_1024_bytes_at_most_unless_another_length_is_said() -> None:
    refused: Counter[str] = Counter()
    lines = Lines(refused)
    assert lines.feed(b"a" * 1024 + b"\n") == [b"a" * 1024]
    assert lines.feed(b"a" * 1025 + b"\nb\n") == [b"b"]
    assert dict(refused) == {"too long": 1}


@pytest.mark.parametrize("step", [1, 3, 64])
def test_a_line_that_is_too_long_is_dropped_whole_however_it_comes(step: int) -> None:
    data = b"one\r\n" + b"x" * 41 + b"\r\n" + b"y" * 40 + b"\r\ntwo\r\n"
    chunks = [data[at : at + step] for at in range(0, len(data), step)]
    assert cut(*chunks, longest=40) == ([b"one", b"y" * 40, b"two"], 1)


@pytest.mark.parametrize("step", [1, 2, 5, 64])
def test_a_mark_of_two_bytes_ends_a_line_that_is_too_long_though_it_comes_in_halves(
    step: int,
) -> None:
    data = b"\r\none;;" + b"x" * 41 + b";;two\n;;" + b"y" * 40 + b";;"
    chunks = [data[at : at + step] for at in range(0, len(data), step)]
    assert cut(*chunks, longest=40, end=b";;") == ([b"one", b"two", b"y" * 40], 1)


# struct, of the standard library: what C calls these numbers
CODES = {
    "u8": "B",
    "i8": "b",
    "u16": "H",
    "i16": "h",
    "u32": "I",
    "i32": "i",
    "f32": "f",
    "f64": "d",
}


@pytest.mark.parametrize("kind", sorted(CODES))
@pytest.mark.parametrize("order", ["little", "big"])
@pytest.mark.parametrize("value", [0, 1, 100, -100])
def test_numbers_read_as_struct_writes_them(kind: str, order: Order, value: int) -> None:
    if kind[0] == "u" and value < 0:
        return
    written = struct.pack(("<" if order == "little" else ">") + CODES[kind], value)
    layout = parse_layout(f"pad:1 it:{kind} next:u8", order)
    data = b"\xff" + written + b"\x07"
    assert layout.size == len(data)
    assert layout.places["it"].read(data) == value
    assert layout.places["next"].read(data) == 7.0


@pytest.mark.parametrize(("kind", "value"), [("u24", 0x010203), ("i24", -2), ("i24", 5)])
def test_three_bytes_are_the_lower_of_four(kind: str, value: int) -> None:
    four = struct.pack("<i", value)
    assert Place(1, kind, "little").read(b"\x00" + four[:3] + b"\x55") == value
    assert Place(1, kind, "big").read(b"\x00" + four[:3][::-1] + b"\x55") == value


def test_a_message_has_1024_bytes_at_most() -> None:
    assert parse_layout("pad:1023 it:u8", "little").size == 1024
    for text in ("pad:1024 it:u8", "pad:1025 it:u8", "pad:0 it:u8", "pad:4"):
        with pytest.raises(ValueError, match=r"1024 bytes|number of bytes"):
            parse_layout(text, "little")
