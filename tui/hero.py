"""The part that is read from four metres: number, shape, word, needle, progress."""

from collections.abc import Sequence

from shared import wording
from shared.displays import Display, Tone
from shared.doing import LACKING, Doing, doing_now
from shared.view import View
from tui.bitmap import cells_high, columns_of, large, scale_for
from tui.ink import Ink, Line, Span, centred, fit, line
from tui.legible import LARGEST_ARCMIN, OTHERS_ARCMIN, scale_for_arcmin
from tui.strip import strip

FIGURES = "-88.88"
SYMBOL_COLUMNS = 7
MIN_NUMBER_ROWS = 7


def figures(angle_deg: float) -> str:
    """The angle for the bitmap: two decimals, room for a sign and two digits before the point.

    The room is always there, so that 9.99 and 10.00 stand in the same place.
    """
    text = f"{abs(angle_deg):.2f}"
    return ("-" if angle_deg < 0 and float(text) else "~") + text.rjust(5, "_")


TONES: dict[Tone, Ink] = {"plain": "strong", "good": "good", "warn": "warn", "bad": "bad"}


def number_ink(view: View) -> Ink:
    """Ink of the large number: another while the blade under the level is within tolerance."""
    error, held = view.live.error_deg, view.live.motion == "in hand"
    within = error is not None and abs(error) <= view.live.near_deg
    return "number in" if within and not held else "number"


def _number_scale(text: str, width: int, rows: int) -> tuple[int, int, bool]:
    """Scale of the number, and whether the shape fits beside it."""
    with_symbol = columns_of(text) + 2 + SYMBOL_COLUMNS
    across, down = scale_for(with_symbol, width, rows)
    alone = scale_for(columns_of(text), width, rows)
    if down and cells_high(down) >= min(MIN_NUMBER_ROWS, cells_high(max(alone[1], 1))):
        return across, down, True
    return *alone, False


def number(view: View, width: int, rows: int, doing: Doing) -> list[Line]:
    """Draw the live angle with its shape, or one word instead, at most `rows` high, centred."""
    angle = view.live.angle_deg or 0.0
    text = figures(angle)
    template = text if len(text) > len(FIGURES) else FIGURES
    across, down, beside = _number_scale(template, width, rows)
    if not down:
        return [centred(line(Span(f"{angle:.2f}°", "strong")), width)]
    drawn: Sequence[Line] = large(text, across, down, number_ink(view))
    if beside:
        gap = Span(" " * (2 * across))
        shape = large(doing.shape, across, down, doing.tone)
        drawn = [(*a, gap, *b) for a, b in zip(drawn, shape, strict=True)]
    full = across * (columns_of(template) + (2 + SYMBOL_COLUMNS if beside else 0))
    left = Span(" " * max(0, (width - full) // 2))
    return [fit((left, *row) if left.text else row, width) for row in drawn]


def _centred_large(text: str, ink: Ink, width: int, rows: int) -> list[Line]:
    across, down = scale_for(columns_of(text), width, rows)
    if not down:
        return [centred(line(Span(text, ink)), width)]
    return [centred(row, width) for row in large(text, across, down, ink)]


def words(view: View, width: int, ink: Ink) -> Line:
    """The engine's own words about the live number, in one bold line."""
    of = f"{wording.blade_name(view.blade, view.label)}: " if isinstance(view.blade, int) else ""
    told = f"{of}{view.live.words}"
    told = told if len(told) <= width else view.live.words
    return centred(line(Span(told, "strong" if ink == "plain" else ink)), width)


MOTION_WORDS = {
    "no signal": "no signal",
    "in hand": "in hand: place it",
    "moving": "moving",
    "creeping": "creeping: let go",
    "settling": "settling: hold still",
    "still": "still: hold still",
    "ready": "ready",
}


def motion_words(view: View) -> str:
    """How far the reading is, in the person's words."""
    if view.live.taken:
        return "taken: lift the level"
    word = doing_now(view).word
    if word == "PRESS":
        return f"{view.live.motion}: press"
    if word in {"COARSER", "FINER"}:
        return view.live.motion
    return MOTION_WORDS[view.live.motion]


def progress(view: View, width: int) -> Line:
    """Motion in words, a bar towards a good enough average, and the uncertainty so far."""
    live = view.live
    if live.motion == "no signal":
        return ()
    share = 1.0 if live.taken else max(0.0, min(1.0, live.progress))
    spread = f" u {live.u_deg:.3f}°" if live.u_deg is not None and not live.taken else ""
    left, right = f" {motion_words(view)} ".ljust(24), f" {share:4.0%}{spread}"
    room = max(0, min(60, width - len(left) - len(right) - 2))
    full = round(room * share)
    ink: Ink = "good" if live.taken or live.may_take else "plain"
    bar = (Span("█" * full, ink), Span("░" * (room - full), "dim"))
    return centred((Span(left, "strong"), *bar, Span(right, "dim")), width)


WORD_ROWS = 4
"""The least of a large word."""


def _shares(view: View, width: int, rows: int, doing: Doing) -> tuple[int, int, int]:
    """Rows for the number, the large word and the strip, out of what words and bar leave.

    Where something else is to be done than what the number says, the word has its rows first.
    """
    room = rows - 2
    strip_rows = 0 if view.live.error_deg is None else (2 if room < 13 else 3 if room < 18 else 5)
    room -= strip_rows
    template = columns_of(FIGURES) + 2 + SYMBOL_COLUMNS
    _, down = scale_for(template, width, room)
    number_rows = max(min(room, MIN_NUMBER_ROWS), cells_high(down))
    if doing in LACKING.values():
        number_rows = max(_first_rows(width), min(number_rows, room - 1 - WORD_ROWS))
    word_rows = room - number_rows - 1
    return number_rows, word_rows if word_rows >= WORD_ROWS else 0, strip_rows


def hero(view: View, width: int, rows: int, shown: Display | None = None) -> list[Line]:
    """Fill exactly `rows` lines: the display, or the number that is followed."""
    return _displayed(shown, width, rows) if shown else _followed(view, width, rows)


USUAL_ROWS = 11
"""What a number that is followed gets where there is room."""


def rows_wanted(shown: Display | None, width: int, doing: Doing | None = None) -> tuple[int, int]:
    """How many rows it should have, and how many at least: then the largest is still legible.

    doing: what the hands do next, where a number is followed.
    """
    first = _first_rows(width)
    if shown is None:
        around = 4  # words, needle and band, progress
        if doing in LACKING.values():
            around = 2 + 1 + WORD_ROWS  # words and progress; the large word with its gap
        return max(USUAL_ROWS, first + around), first + around
    others = [text for text in (shown.second, shown.third) if text]
    large = sum(_other_rows(text, width, as_letters=True) for text in others)
    return first + large, first + len(others)


def _first_rows(width: int) -> int:
    return cells_high(scale_for_arcmin(LARGEST_ARCMIN, width))


def _other_rows(text: str, width: int, *, as_letters: bool) -> int:
    """Rows of a second or third line: large where it fits across, else one of words."""
    if not text:
        return 0
    rows = cells_high(scale_for_arcmin(OTHERS_ARCMIN, width))
    return rows if as_letters and scale_for(columns_of(text.upper()), width, rows)[1] else 1


def _rows_of(shown: Display, width: int, rows: int) -> tuple[int, int, int]:
    """Share the rows out: the third line turns to words first, then the second."""
    second = third = 0
    for letters in ((True, True), (True, False), (False, False)):
        second = _other_rows(shown.second, width, as_letters=letters[0])
        third = _other_rows(shown.third, width, as_letters=letters[1])
        if _first_rows(width) + second + third <= rows:
            break
    gaps = sum(one > 1 for one in (second, third))
    first = rows - second - third
    used = cells_high(scale_for(columns_of(shown.largest), width, first)[1])
    spare = first - used - gaps
    if gaps and spare > 0:  # the width holds the largest back: the others may grow, to two thirds
        more = min(spare // gaps, max(0, 2 * used // 3 - max(second, third)))
        second, third = (one + more if one > 1 else one for one in (second, third))
    return max(1, used), second, third


def _displayed(shown: Display, width: int, rows: int) -> list[Line]:
    """The largest line as large as there is room, the second and third under it."""
    ink = TONES[shown.tone]
    first, second, third = _rows_of(shown, width, rows)
    gap = 1 if first + second + third + 2 <= rows else 0
    drawn = list(_with_shape(shown, width, first, ink))
    for text, high in ((shown.second, second), (shown.third, third)):
        if high > 1:
            drawn += [()] * gap + _centred_large(text.upper(), ink, width, high)
        elif high:
            drawn.append(centred(line(Span(text, "strong")), width))
    return _spread_out(drawn, rows)


def _with_shape(shown: Display, width: int, rows: int, ink: Ink) -> list[Line]:
    """Draw the largest line, its shape before it where that costs no size."""
    alone = scale_for(columns_of(shown.largest), width, rows)
    both = f"{shown.shape} {shown.largest}"
    beside = bool(shown.shape) and scale_for(columns_of(both), width, rows) == alone
    return _centred_large(both if beside else shown.largest, ink, width, rows)


def _followed(view: View, width: int, rows: int) -> list[Line]:
    """The number first, everything else as room allows."""
    doing = doing_now(view)
    number_rows, word_rows, strip_rows = _shares(view, width, rows, doing)
    drawn = number(view, width, number_rows, doing)
    if word_rows:
        drawn += [(), *_centred_large(doing.word, doing.tone, width, min(word_rows, 11))]
    drawn.append(words(view, width, doing.tone))
    aim = strip(view.live.error_deg, view.live.near_deg, min(width - 4, 120), strip_rows)
    drawn += [centred(row, width) for row in aim]
    drawn.append(progress(view, width))
    return _spread_out(drawn, rows)


def _spread_out(drawn: Sequence[Line], rows: int) -> list[Line]:
    spare = max(0, rows - len(drawn))
    above = spare // 2
    return [*[()] * above, *drawn[:rows], *[()] * (spare - above)]
