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


@pytest.mark.parametrize("view", [scenes.SET, scenes.ALARM], ids=["set", "alarm"])
def test_the_deeds_are_offered_beside_what_the_job_wants(view: View) -> None:
    keys = plain(compose(replace(Shown(view), played=True), 80, 24))[-1]
    assert ("SPACE" in keys) == (view is scenes.SET)
    assert ("set again" in keys) == (view is scenes.ALARM)
    wanted = ("lay", "off", "prop", "turn", "knock")[: 3 if view.alarms else 5]
    assert all(word in keys for word in wanted)
    assert "prop" not in plain(compose(Shown(view), 80, 24))[-1]


def test_what_the_level_says_turned_over_stands_beside_its_key() -> None:
    view = replace(scenes.ALARM, turnover="set again")
    assert " -  set again " in plain(compose(replace(Shown(view), played=True), 120, 36))[-1]
    assert " TURNED OVER  set again " in plain(compose(Shown(view), 120, 36))[-1]


def test_a_level_whose_bytes_nobody_can_read_is_not_called_silent() -> None:
    levels_ = tuple(replace(level, unread=True) for level in scenes.SILENT.levels)
    text = "\n".join(plain(compose(Shown(replace(scenes.SILENT, levels=levels_)), 80, 24)))
    assert "UNREADABLE bytes come that are no reading" in text
    assert "SILENT" not in text
