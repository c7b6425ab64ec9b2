"""What a recording looks like in which nothing was found: a way to send that is not learned."""

import re
from collections import Counter

from drivers.learn.asked import Heard

_MINUTES = re.compile(
    rb"\d[ \t]*(?:\xc2\xb0|\xc2\xba|\xb0|\xba|deg)[ \t]*\d{1,2}(?:[.,]\d+)?[ \t]*(?:'|\xe2\x80\xb2|min)"
)
_LETTER = re.compile(rb"(?<![A-Za-z])([A-Za-z])[ \t]*\d|\d[ \t]*([A-Za-z])(?![A-Za-z])")
_OFTEN, _EACH = 0.3, 0.1
_ONE_LENGTH = 0.8
MINUTES = (
    "it looks like degrees and minutes, which are not learned: a profile written by hand reads them "
    "(`notation` in docs/profiles.md)"
)
LETTERS = (
    "it looks as if the letters {} were its signs, which are not learned: a profile written by hand "
    "reads them (`minus` and `plus` in docs/profiles.md)"
)
LENGTHS = (
    "its notifications are of several lengths, which are not learned: a profile written by hand reads "
    'those of one (`size` in docs/profiles.md: "at least" for a tail that may be missing)'
)


def looks_like(heard: Heard) -> str:
    """Return in words what was missing to learn it, "" where it looks like nothing known."""
    data = b"".join(part for _, part in heard.chunks)
    lines = [line for line in re.split(rb"[\r\n]+", data) if line]
    if lines and _share(lines, _MINUTES) > _OFTEN:
        return MINUTES
    letters = _signs(lines)
    if letters:
        return LETTERS.format(" and ".join(letters))
    sizes = Counter(len(part) for _, part in heard.chunks)
    often = max(sizes.values(), default=0)
    if heard.link == "ble-notify" and often < _ONE_LENGTH * len(heard.chunks):
        return LENGTHS
    return ""


def _share(lines: list[bytes], expression: re.Pattern[bytes]) -> float:
    return sum(bool(expression.search(line)) for line in lines) / len(lines)


def _signs(lines: list[bytes]) -> list[str]:
    """Return two letters of which each line has one, beside a number, and none has both."""
    found = [{(a or b).decode("ascii") for a, b in _LETTER.findall(line)} for line in lines]
    counts = Counter(letter for letters in found for letter in letters)
    often = sorted(one for one, count in counts.items() if _EACH < count / len(lines) < 1 - _EACH)
    for place, one in enumerate(often):
        for other in often[place + 1 :]:
            either = sum((one in letters) != (other in letters) for letters in found)
            if either > (1 - _EACH) * len(lines):
                return [one, other]
    return []
