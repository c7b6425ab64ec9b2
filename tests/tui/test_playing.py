"""The keys of a demo that is played: each is a deed of the hands, and they are offered."""

from dataclasses import replace
from typing import Any

import pytest
from textual.binding import Binding
from textual.screen import Screen

from shared.hands import KEYS, Deed
from shared.view import View
from tests.tui import scenes
from tests.tui.fake_desk import FakeDesk, HeldClock
from tui.app import StillbladeApp
from tui.dialogs import YesNo
from tui.ink import plain
from tui.layout import compose
from tui.measuring import Measuring
from tui.playing import Playing
from tui.replaying import Replaying
from tui.shown import Shown
from tui.uncertainty import Uncertainty


async def test_every_key_is_its_deed_and_what_is_done_is_said() -> None:
    done: list[Deed] = []

    def do(deed: Deed) -> str:
        done.append(deed)
        return f"done: {deed}"

    app = StillbladeApp(FakeDesk(), now_s=HeldClock(), do=do)
    async with app.run_test(size=(80, 24)) as pilot:
        app._view = scenes.SET
        for deed, (key, _) in KEYS.items():
            await pilot.press(key)
            assert f"done: {deed}" in "\n".join(plain(app.composed(80, 24)))
        assert done == list(KEYS)
        await pilot.press("question_mark")
        await pilot.pause()
        strips = app.screen._compositor.render_strips(app.size)
        text = "\n".join(strip.text for strip in strips)
        assert "knock another blade" in text
        assert "leave the screen" in text, "every key of the job"
        assert "any key closes this" in text, "the page fits 24 rows"


@pytest.mark.parametrize(
    "screen", [Measuring, Playing, Replaying, Uncertainty, YesNo], ids=lambda one: one.__name__
)
def test_a_letter_is_the_same_key_with_caps_lock(screen: type[Screen[Any]]) -> None:
    for binding in screen.BINDINGS:
        assert isinstance(binding, Binding)
        keys = binding.key.split(",")
        assert {key.upper() for key in keys if len(key) == 1} <= set(keys)


def test_no_deed_has_a_key_of_the_job() -> None:
    of_the_job = {key for b in Measuring.BINDINGS for key in getattr(b, "key", "").split(",")}
    assert not of_the_job & {key for key, _ in KEYS.values()}


DEEDS = ("lay", "off", "prop", "turn", "knock")


@pytest.mark.parametrize(
    ("view", "wanted"),
    [
        (scenes.SET, ("off", "turn", "knock")),
        (scenes.IN_HAND, ("lay", "prop", "knock")),
        (scenes.ALARM, ("off", "turn", "knock")),
        (replace(scenes.IN_HAND, blades=scenes.IN_HAND.blades[:1]), ("lay", "prop")),
        (scenes.SILENT, DEEDS),
        (scenes.FINISHED, ()),
    ],
)
def test_only_the_deeds_that_do_something_now_are_offered(
    view: View, wanted: tuple[str, ...]
) -> None:
    """Keys stood there that were answered with "the level is in the hand"."""
    keys = plain(compose(replace(Shown(view), played=True), 120, 36))[-1]
    assert tuple(word for word in DEEDS if f"  {word} " in keys) == wanted
    assert ("set again" in keys) == (view is scenes.ALARM)
    assert "prop" not in plain(compose(Shown(view), 120, 36))[-1]


async def test_where_there_is_room_the_page_says_what_the_signs_mean_too() -> None:
    app = StillbladeApp(FakeDesk(), now_s=HeldClock(), do=str)
    async with app.run_test(size=(120, 36)) as pilot:
        await pilot.press("question_mark")
        await pilot.pause()
        strips = app.screen._compositor.render_strips(app.size)
        text = "\n".join(strip.text for strip in strips)
        assert "could hide" in text
        assert "leave the screen" in text
        assert "any key closes this" in text


def test_what_the_level_says_turned_over_stands_beside_its_key() -> None:
    view = replace(scenes.ALARM, turnover="set again")
    assert " -  set again " in plain(compose(replace(Shown(view), played=True), 120, 36))[-1]
    assert " TURNED OVER  set again " in plain(compose(Shown(view), 120, 36))[-1]


def test_a_level_whose_bytes_nobody_can_read_is_not_called_silent() -> None:
    levels_ = tuple(replace(level, unread=True) for level in scenes.SILENT.levels)
    text = "\n".join(plain(compose(Shown(replace(scenes.SILENT, levels=levels_)), 80, 24)))
    assert "UNREADABLE bytes come that are no reading" in text
    assert "SILENT" not in text
