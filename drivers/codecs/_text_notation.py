"""Ways to write an angle that are not one decimal number with its sign in front.

Degrees and minutes, and letters or trailing signs, are rewritten as signed decimal numbers
before a line is taken apart, so that the rest of the text codec knows one notation. What looks
like one of these and is not wholly so is refused: "4° 45'" is 4.75 or nothing, never 4.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

MINUTES = "minutes"
SIGN = "sign"
THOUSANDS = "thousands"
"""Refusals: not plainly degrees and minutes, no plain sign, or a number with a gap in it."""

_NUMBER = r"\d+(?:[.,]\d+)?"
_DEGREE = r"(?:[°º]|deg(?:ree)?s?\b)"
PRIMES = "'\N{PRIME}\N{RIGHT SINGLE QUOTATION MARK}\N{ACUTE ACCENT}"
_DOUBLE_PRIMES = '"\N{DOUBLE PRIME}\N{RIGHT DOUBLE QUOTATION MARK}'
_MINUTE = rf"(?:[{PRIMES}]|(?:arc)?min(?:ute)?s?\b)"
_SECOND = rf"(?:[{_DOUBLE_PRIMES}]|''|(?:arc)?sec(?:ond)?s?\b)"
_MARKED = {
    mark: re.compile(
        rf"(?:(?P<sign>[+-])[ \t]*)?(?<![\d{mark}])(?P<deg>\d+(?:[{mark}]\d+)?)[ \t]*{_DEGREE}"
        rf"[ \t]*(?P<min>\d+(?:[{mark}]\d+)?)[ \t]*{_MINUTE}"
        rf"(?:[ \t]*(?P<sec>\d+(?:[{mark}]\d+)?)[ \t]*{_SECOND})?",
        re.IGNORECASE,
    )
    for mark in ".,"
}
"""By the decimal mark: the other one may separate columns."""
_LEFT = re.compile(
    rf"(?:[°º]|(?:\d|\b)deg(?:ree)?s?|\dd)(?![a-z])[\s,;]*[+-]?{_NUMBER}[ \t]*(?:{_MINUTE}|m\b)",
    re.IGNORECASE,
)
"""Minutes behind degrees that could not be rewritten."""
_MARKS = re.compile(f"[{PRIMES}{_DOUBLE_PRIMES}]")
_BARE_BEHIND = re.compile(r"[ \t]*\d{1,2}(?:[.,]\d+)?(?=[ \t]|\Z)")
_UNMARKED = {
    "minutes": re.compile(
        rf"(?<![\d.,:])(?:(?P<sign>[+-])[ \t]*)?(?P<deg>\d{{1,3}})[ \t:°º]+(?P<min>{_NUMBER})(?P<sec>(?!))?"
        r"(?![\d.,:])"
    ),
    "seconds": re.compile(
        rf"(?<![\d.,:])(?:(?P<sign>[+-])[ \t]*)?(?P<deg>\d{{1,3}})[ \t:°º]+(?P<min>\d{{1,2}})[ \t:]+"
        rf"(?P<sec>{_NUMBER})(?![\d.,:])"
    ),
}


def _degrees(match: re.Match[str], mark: str) -> str | None:
    """Return the angle as a decimal number; None where degrees or minutes cannot be these."""
    deg, minutes, seconds = match["deg"], match["min"], match["sec"] or "0"
    parts = [deg, minutes] if match["sec"] else [deg]
    m, s = float(minutes.replace(",", ".")), float(seconds.replace(",", "."))
    if not all(part.isdecimal() for part in parts) or m >= 60.0 or s >= 60.0 or len(deg) > 3:
        return None
    return f"{match['sign'] or ''}{int(deg) + m / 60.0 + s / 3600.0:.9f}".replace(".", mark) + "°"


def without_minutes(text: str, notation: str, mark: str) -> tuple[str, str]:
    """Rewrite degrees and minutes; return the text, and what is wrong with it or "".

    notation: "minutes" or "seconds" where a level sends them without marks: then every number
        of the line is written so. Else only what carries marks is rewritten.
    mark: the decimal mark that numbers have.
    """
    unmarked = _UNMARKED.get(notation)
    if unmarked is not None:
        text = _MARKS.sub(" ", text)
    expression, done, at = unmarked or _MARKED[mark], "", 0
    for match in expression.finditer(text):
        angle = _degrees(match, mark)
        between = text[at : match.start()]
        bare = unmarked is None and _BARE_BEHIND.match(text, match.end())
        if angle is None or bare or (unmarked and re.search(r"\d", between)):
            return text, MINUTES
        done, at = done + between + angle, match.end()
    rest = text[at:]
    if unmarked is not None and (not at or re.search(r"\d", rest)):
        return text, MINUTES
    return done + rest, MINUTES if _LEFT.search(done + rest) else ""


@dataclass(frozen=True, slots=True)
class Signs:
    """Words for signs, before or behind a number: "D" and "U", "-" behind it.

    An empty word among `plus` means that a number without any word is positive.
    """

    minus: Sequence[str]
    plus: Sequence[str]
    expression: re.Pattern[str]

    def rewritten(self, text: str) -> tuple[str, str]:
        """Put a sign in front of every number that has a word; return "sign" if it has two."""
        done, at = "", 0
        for match in self.expression.finditer(text):
            if match["s1"] or match["s2"]:
                return text, SIGN
            word, number = (match["w1"], match["n1"]) if match["w1"] else (match["w2"], match["n2"])
            sign = "-" if word in self.minus else "+"
            done += text[at : match.start()] + sign + number + (match["u2"] or "")
            at = match.end()
        return done + text[at:], ""

    def signed(self, number: str) -> bool:
        """Tell whether a number's sign is known."""
        return number[:1] in {"+", "-"} or "" in self.plus


def signs(minus: Sequence[str], plus: Sequence[str], mark: str, separator: str) -> Signs | None:
    """Return how signs are written; None when it is the usual way.

    separator: what may stand between a number and its word ("" = blanks only).

    Raises:
        ValueError: a word stands for both signs, or only one sign can be told.
    """
    if not minus and not plus:
        return None
    words = sorted({*minus, *plus} - {""}, key=len, reverse=True)
    if set(minus) & set(plus) or "" in minus:
        raise ValueError("minus and plus need different words, and minus needs one")
    if not minus or not plus:
        raise ValueError('both minus and plus need a word; plus = [""] if it has none')
    any_word = "|".join(map(re.escape, words))
    before = "|".join(re.escape(word) for word in words if word.isalpha()) or r"(?!)"
    m, gap = re.escape(mark), rf"[ \t]*{re.escape(separator)}?[ \t]*"
    number = rf"(?>\d+(?:{m}\d*)?|{m}\d+)"
    expression = re.compile(
        rf"(?<![A-Za-z])(?P<w1>{before}){gap}(?:(?P<s1>[+-])[ \t]*)?(?P<n1>{number})"
        rf"|(?:(?P<s2>[+-])[ \t]*)?(?P<n2>{number})(?P<u2>[ \t]*(?:[°º]|deg(?:rees)?)?){gap}(?P<w2>{any_word})"
        rf"(?![A-Za-z0-9])"
    )
    return Signs(minus, plus, expression)
