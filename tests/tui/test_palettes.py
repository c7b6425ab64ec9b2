"""Contrast, by the formula of WCAG 2.2 (W3C Recommendation, relative luminance, contrast ratio).

Reference pairs: black on white is 21:1 by the definition; #767676 on white passes 4.5:1
and #777777 does not, #595959 passes 7:1 and #5a5a5a does not (widely published, from memory).
"""

from typing import get_args

import pytest
from rich.color import Color

from tests.tui import scenes
from tui.app import StillbladeApp
from tui.ink import Ink
from tui.palettes import DAY, NIGHT, PALETTES, Palette, contrast
from tui.picture import Still

TEXT = 4.5
ENHANCED = 7.0


@pytest.mark.parametrize(
    ("colour", "limit", "passes"),
    [
        ("#767676", TEXT, True),
        ("#777777", TEXT, False),
        ("#595959", ENHANCED, True),
        ("#5a5a5a", ENHANCED, False),
    ],
)
def test_the_formula_against_published_pairs(colour: str, limit: float, passes: bool) -> None:
    assert (contrast(colour, "#ffffff") >= limit) == passes


def test_the_ends_of_the_scale() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == 1.0


@pytest.mark.parametrize("palette", PALETTES, ids=lambda one: str(one.name))
def test_every_ink_is_legible(palette: Palette) -> None:
    assert set(palette.inks) == set(get_args(Ink))
    for ink, colours in palette.inks.items():
        limit = ENHANCED if ink.startswith("number") else TEXT
        assert contrast(colours.fore, colours.back) >= limit, ink


def hexed(colour: Color) -> str:
    return colour.get_truecolor().hex


@pytest.mark.parametrize("palette", [NIGHT, DAY], ids=lambda one: str(one.name))
@pytest.mark.parametrize("keys", [(), ("c",), ("q",), ("f1",), ("u",), ("n", "a", "b")], ids=str)
async def test_what_is_really_drawn_is_legible(palette: Palette, keys: tuple[str, ...]) -> None:
    """Dialogs take their colours from the framework: so look at the cells, not the intent."""
    app = StillbladeApp(Still([scenes.ALARM], scenes.ALARMED), now_s=lambda: 0.0, linger_s=3600)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        if palette is DAY:
            app.toggle_palette()
        app.paint()
        await pilot.press(*keys)
        await pilot.pause()
        for strip in app.screen._compositor.render_strips(app.size):
            for segment in strip:
                style = segment.style
                if not segment.text.strip() or style is None:
                    continue
                assert style.color is not None
                assert style.bgcolor is not None
                fore, back = hexed(style.color), hexed(style.bgcolor)
                if style.reverse:
                    fore, back = back, fore
                assert contrast(fore, back) >= TEXT, (segment.text, fore, back)
        app.exit()
