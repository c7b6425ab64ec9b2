"""Text from outside, made fit to be printed: nothing in it moves a cursor or hides a word.

Names that levels advertise, labels, notes and a line of a damaged file may hold anything. Every
face puts them through here before a terminal sees them.
"""

import re
from typing import TextIO, cast

_JSON_HIDDEN = re.compile(r"[^ -~]")


def plain(text: str) -> str:
    """Return the text on one line with what cannot be printed as backslash escapes.

    Control characters, marks that turn the direction of writing, and halves of a character
    that no encoding can write.
    """
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() else _escape(char) for char in text)


def plain_lines(text: str) -> str:
    """Return the text with every line made plain; line ends and tabs stay."""
    return "\n".join("\t".join(map(plain, line.split("\t"))) for line in text.split("\n"))


def plain_json(text: str) -> str:
    """Return JSON with what cannot be printed as JSON escapes: it means the same."""

    def escaped(found: re.Match[str]) -> str:
        char = found.group()
        if char.isprintable():
            return char
        pair = char.encode("utf-16-be", "surrogatepass")
        return "".join(f"\\u{pair[at]:02x}{pair[at + 1]:02x}" for at in range(0, len(pair), 2))

    return _JSON_HIDDEN.sub(escaped, text)


def _escape(char: str) -> str:
    code = ord(char)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


class _Plainly:
    """A stream in front of another, for code that prints what it hears."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write the text, every line made plain."""
        return self._stream.write(plain_lines(text))

    def flush(self) -> None:
        """Write out what is held."""
        self._stream.flush()


def plainly(stream: TextIO) -> TextIO:
    """Return a stream that makes everything plain that is printed to it."""
    return cast(TextIO, _Plainly(stream))
