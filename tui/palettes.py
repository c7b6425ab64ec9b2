"""The two palettes, day and night, and the contrast they promise.

WCAG 2.2 (W3C Recommendation), success criteria 1.4.3 and 1.4.6: 4.5:1 for text, 7:1 for
enhanced contrast. The large number keeps 7:1, everything else at least 4.5:1. Colour never
carries a meaning alone: each ink stands beside a word or a shape.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from rich.style import Style

from tui.ink import Ink


@dataclass(frozen=True, slots=True)
class Colours:
    """Foreground and background as "#rrggbb"."""

    fore: str
    back: str
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Palette:
    """One theme: colours by ink."""

    name: str
    dark: bool
    inks: Mapping[Ink, Colours]

    def style(self, ink: Ink) -> Style:
        """Return the ink as a style of the terminal."""
        colours = self.inks[ink]
        return Style(color=colours.fore, bgcolor=colours.back, bold=colours.bold)


def _channel(value: int) -> float:
    share = value / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance of "#rrggbb", 0 black to 1 white (WCAG 2.2, definitions)."""
    red, green, blue = (_channel(int(colour[i : i + 2], 16)) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, definitions)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


NIGHT = Palette(
    "night",
    dark=True,
    inks={
        "plain": Colours("#e8e8e8", "#000000"),
        "strong": Colours("#ffffff", "#000000", bold=True),
        "dim": Colours("#a8a8a8", "#000000"),
        "good": Colours("#5cff8f", "#000000", bold=True),
        "warn": Colours("#ffd23f", "#000000", bold=True),
        "bad": Colours("#ff8a80", "#000000", bold=True),
        "number": Colours("#ffffff", "#000000"),
        "number in": Colours("#5cff8f", "#000000"),
        "title": Colours("#ffffff", "#20303c"),
        "key": Colours("#000000", "#d8d8d8", bold=True),
        "alarm": Colours("#ffffff", "#a30000", bold=True),
        "question": Colours("#000000", "#ffd23f", bold=True),
        "caution": Colours("#ffd23f", "#000000"),
        "status": Colours("#000000", "#9ad8ff", bold=True),
    },
)
DAY = Palette(
    "day",
    dark=False,
    inks={
        "plain": Colours("#111111", "#ffffff"),
        "strong": Colours("#000000", "#ffffff", bold=True),
        "dim": Colours("#4a4a4a", "#ffffff"),
        "good": Colours("#00572b", "#ffffff", bold=True),
        "warn": Colours("#7a4100", "#ffffff", bold=True),
        "bad": Colours("#a30000", "#ffffff", bold=True),
        "number": Colours("#000000", "#ffffff"),
        "number in": Colours("#00572b", "#ffffff"),
        "title": Colours("#ffffff", "#20303c"),
        "key": Colours("#ffffff", "#303030", bold=True),
        "alarm": Colours("#ffffff", "#a30000", bold=True),
        "question": Colours("#000000", "#ffc400", bold=True),
        "caution": Colours("#7a4100", "#ffffff"),
        "status": Colours("#ffffff", "#004a80", bold=True),
    },
)
PALETTES: tuple[Palette, ...] = (NIGHT, DAY)
