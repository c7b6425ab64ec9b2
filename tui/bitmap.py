"""Large letters from our own five by seven bitmap, drawn in half blocks.

One terminal cell holds two square-looking pixels, one above the other. A glyph may be
narrower than five columns; glyphs stand one column apart.
"""

from functools import lru_cache
from itertools import zip_longest

from tui.ink import Ink, Line, Span

GLYPHS: dict[str, tuple[str, ...]] = {
    "0": (" ### ", "#   #", "#   #", "#   #", "#   #", "#   #", " ### "),
    "1": ("  #  ", " ##  ", "  #  ", "  #  ", "  #  ", "  #  ", " ### "),
    "2": (" ### ", "#   #", "    #", "   # ", "  #  ", " #   ", "#####"),
    "3": (" ### ", "#   #", "    #", "  ## ", "    #", "#   #", " ### "),
    "4": ("   # ", "  ## ", " # # ", "#  # ", "#####", "   # ", "   # "),
    "5": ("#####", "#    ", "#### ", "    #", "    #", "#   #", " ### "),
    "6": (" ### ", "#    ", "#    ", "#### ", "#   #", "#   #", " ### "),
    "7": ("#####", "    #", "   # ", "  #  ", "  #  ", "  #  ", "  #  "),
    "8": (" ### ", "#   #", "#   #", " ### ", "#   #", "#   #", " ### "),
    "9": (" ### ", "#   #", "#   #", " ####", "    #", "    #", " ### "),
    "A": (" ### ", "#   #", "#   #", "#####", "#   #", "#   #", "#   #"),
    "B": ("#### ", "#   #", "#   #", "#### ", "#   #", "#   #", "#### "),
    "C": (" ### ", "#   #", "#    ", "#    ", "#    ", "#   #", " ### "),
    "D": ("#### ", "#   #", "#   #", "#   #", "#   #", "#   #", "#### "),
    "E": ("#####", "#    ", "#    ", "#### ", "#    ", "#    ", "#####"),
    "F": ("#####", "#    ", "#    ", "#### ", "#    ", "#    ", "#    "),
    "G": (" ### ", "#   #", "#    ", "# ###", "#   #", "#   #", " ### "),
    "H": ("#   #", "#   #", "#   #", "#####", "#   #", "#   #", "#   #"),
    "I": ("###", " # ", " # ", " # ", " # ", " # ", "###"),
    "J": ("  ###", "   # ", "   # ", "   # ", "   # ", "#  # ", " ##  "),
    "K": ("#   #", "#  # ", "# #  ", "##   ", "# #  ", "#  # ", "#   #"),
    "L": ("#    ", "#    ", "#    ", "#    ", "#    ", "#    ", "#####"),
    "M": ("#   #", "## ##", "# # #", "# # #", "#   #", "#   #", "#   #"),
    "N": ("#   #", "##  #", "##  #", "# # #", "#  ##", "#  ##", "#   #"),
    "O": (" ### ", "#   #", "#   #", "#   #", "#   #", "#   #", " ### "),
    "P": ("#### ", "#   #", "#   #", "#### ", "#    ", "#    ", "#    "),
    "Q": (" ### ", "#   #", "#   #", "#   #", "# # #", "#  # ", " ## #"),
    "R": ("#### ", "#   #", "#   #", "#### ", "# #  ", "#  # ", "#   #"),
    "S": (" ####", "#    ", "#    ", " ### ", "    #", "    #", "#### "),
    "T": ("#####", "  #  ", "  #  ", "  #  ", "  #  ", "  #  ", "  #  "),
    "U": ("#   #", "#   #", "#   #", "#   #", "#   #", "#   #", " ### "),
    "V": ("#   #", "#   #", "#   #", "#   #", "#   #", " # # ", "  #  "),
    "W": ("#   #", "#   #", "#   #", "# # #", "# # #", "## ##", "#   #"),
    "X": ("#   #", "#   #", " # # ", "  #  ", " # # ", "#   #", "#   #"),
    "Y": ("#   #", "#   #", " # # ", "  #  ", "  #  ", "  #  ", "  #  "),
    "Z": ("#####", "    #", "   # ", "  #  ", " #   ", "#    ", "#####"),
    "b": ("#    ", "#    ", "# ## ", "##  #", "#   #", "#   #", "#### "),
    "f": ("  ##", " #  ", "####", " #  ", " #  ", " #  ", " #  "),
    "i": (" # ", "   ", "## ", " # ", " # ", " # ", "###"),
    "l": ("## ", " # ", " # ", " # ", " # ", " # ", "###"),
    "m": ("     ", "     ", "## # ", "# # #", "# # #", "# # #", "# # #"),
    "n": ("     ", "     ", "# ## ", "##  #", "#   #", "#   #", "#   #"),
    "t": (" #  ", " #  ", "####", " #  ", " #  ", " #  ", "  ##"),
    ".": ("  ", "  ", "  ", "  ", "  ", "##", "##"),
    "·": ("  ", "  ", "  ", "##", "##", "  ", "  "),
    ":": ("  ", "##", "##", "  ", "##", "##", "  "),
    ",": ("  ", "  ", "  ", "  ", "##", "##", " #"),
    "-": ("   ", "   ", "   ", "###", "   ", "   ", "   "),
    "~": ("   ",) * 7,  # room for a sign that is not there
    " ": ("   ",) * 7,
    "_": ("     ",) * 7,  # room for a digit that is not there
    "?": (" ### ", "#   #", "    #", "   # ", "  #  ", "     ", "  #  "),
    "!": ("##", "##", "##", "##", "##", "  ", "##"),
    "‼": (" ## ## ", " ## ## ", " ## ## ", " ## ## ", " ## ## ", "       ", " ## ## "),
    "▲": ("   #   ", "  ###  ", " ##### ", "#######", "  ###  ", "  ###  ", "  ###  "),
    "▼": ("  ###  ", "  ###  ", "  ###  ", "#######", " ##### ", "  ###  ", "   #   "),
    "=": ("       ", " ##### ", " ##### ", "       ", " ##### ", " ##### ", "       "),
    "●": ("  ###  ", " ##### ", "#######", "#######", "#######", " ##### ", "  ###  "),
    "‖": (" ## ## ",) * 7,
    "✓": ("      #", "     ##", "#   ## ", "## ##  ", " ###   ", "  #    ", "       "),
    "✗": ("##   ##", " ## ## ", "  ###  ", "   #   ", "  ###  ", " ## ## ", "##   ##"),
}
ROWS = 7
HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def glyph(char: str) -> tuple[str, ...]:
    """Rows of a character; one that is not drawn is a blank."""
    return GLYPHS.get(char, GLYPHS[" "])


def columns_of(text: str) -> int:
    """Pixels across a text at scale 1."""
    return sum(len(glyph(char)[0]) for char in text) + max(0, len(text) - 1)


def cells_high(scale: int) -> int:
    """Terminal rows a text takes at a vertical scale."""
    return (ROWS * scale + 1) // 2


def scale_for(columns: int, width: int, height: int) -> tuple[int, int]:
    """Return the largest (across, down) scale that fits `width` by `height` cells.

    Pixels stay square, or stand twice as high as wide where only the width is short.
    (0, 0): it does not fit at all.
    """
    down = 2 * height // ROWS
    across = min(width // max(columns, 1), down)
    if across < 1 or down < 1:
        return 0, 0
    return across, min(down, max(across, 2 if across == 1 else across))


def pixels(text: str, across: int, down: int) -> list[str]:
    """Return rows of "#" and blanks, scaled."""
    rows = []
    for row in range(ROWS):
        dots = " ".join(glyph(char)[row] for char in text)
        rows += ["".join(dot * across for dot in dots)] * down
    return rows


@lru_cache(maxsize=256)
def large(text: str, across: int, down: int, ink: Ink) -> tuple[Line, ...]:
    """Draw a text in half blocks, `cells_high(down)` lines of `across` times its columns."""
    rows = pixels(text, across, down)
    lines: list[Line] = []
    for upper, lower in zip_longest(rows[::2], rows[1::2], fillvalue=""):
        pairs = zip_longest(upper, lower, fillvalue=" ")
        lines.append((Span("".join(HALVES[u == "#", v == "#"] for u, v in pairs), ink),))
    return tuple(lines)
