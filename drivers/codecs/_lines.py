"""Lines out of a byte stream, none of them without bound: CR, LF or both end one, or a mark."""

from collections import Counter

_LONGEST = 1024
_ENDS = bytes.maketrans(b"\r", b"\n")


class Lines:
    """Cut a byte stream into lines. Any chunking gives the same lines.

    A line longer than `longest` bytes is dropped whole and counted as "too long". With
    `skip_first`, what comes before the first line end after a start or a reset is dropped:
    its beginning may be missing, and half a number still looks like a number. With `end` only
    these bytes end a line; CR and LF around it are not part of it.
    """

    def __init__(
        self,
        refused: Counter[str],
        *,
        longest: int = _LONGEST,
        skip_first: bool = False,
        end: bytes = b"",
    ) -> None:
        self._refused = refused
        self._longest = longest
        self._kept = longest + max(len(end) - 1, 0)
        """A line as long as it may be, and its mark but for the last byte."""
        self._skip_first = skip_first
        self._end = end
        self._rest = b""
        self._dropping = False
        self._first = skip_first

    def feed(self, data: bytes) -> list[bytes]:
        """Take one chunk; return the lines it completed, without their ends, empty ones left out."""
        plain = data if self._end else data.translate(_ENDS)
        *whole, rest = (self._rest + plain).split(self._end or b"\n")
        lines = [line for line in map(self._one, whole) if line]
        if len(rest) > self._kept:
            self._dropping = True
            rest = rest[-self._kept :]  # its end may hold the beginning of the mark
        self._rest = rest
        return lines

    def reset(self) -> None:
        """Forget the half-received line."""
        self._rest = b""
        self._dropping = False
        self._first = self._skip_first

    def _one(self, line: bytes) -> bytes:
        first, self._first = self._first, False
        too_long = self._dropping or len(line) > self._longest
        self._dropping = False
        if first:
            return b""
        if too_long:
            self._refused["too long"] += 1
            return b""
        return line.strip(b"\r\n") if self._end else line
