"""Pictures of the screen, without a terminal: for the README and for tests."""

import asyncio
from collections.abc import AsyncIterator, Sequence

from shared.desk import Desk
from shared.events import Answered, Event
from shared.inputs import Command
from shared.playback import Playback
from shared.view import View
from tui.app import StillbladeApp
from tui.palettes import DAY, NIGHT, Palette
from tui.replaying import ReplayApp

SETTLED_FRAMES = 3


class Still:
    """A Desk on which nothing happens: given views and events, then silence.

    Args:
        views: shown in this order; the last one stays.
        events: heard in this order.
    """

    def __init__(self, views: Sequence[View], events: Sequence[Event] = ()) -> None:
        self._views = views
        self._events = events

    async def views(self) -> AsyncIterator[View]:
        """Yield the given views, then end."""
        for view in self._views:
            yield view

    async def events(self, after: int) -> AsyncIterator[Event]:
        """Yield the given events, then wait for ever."""
        for event in self._events:
            if event.n > after:
                yield event
        await asyncio.Event().wait()

    async def send(self, command: Command) -> Answered:
        """Refuse."""
        return Answered(command.id, command.client, "refused", "a picture does nothing")


def _frozen() -> float:
    return 0.0


async def screen_of(
    desk: Desk, size: tuple[int, int], keys: Sequence[str] = (), palette: Palette = NIGHT
) -> tuple[str, list[str]]:
    """Return the screen as (SVG, text lines) after everything the Desk gives at once.

    The clock of the screen stands still, so nothing grows old in a picture. `keys` are
    pressed first. Same views, same bytes.
    """
    app = StillbladeApp(desk, now_s=_frozen, linger_s=3600.0)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        if palette is DAY:
            app.toggle_palette()
        await pilot.press(*keys)
        for _ in range(SETTLED_FRAMES):
            app.paint()
            await pilot.pause()
        strips = app.screen._compositor.render_strips(app.size)  # noqa: SLF001
        svg = app.export_screenshot(title="stillblade", simplify=True)
        return svg, [strip.text.rstrip() for strip in strips]


async def picture(
    desk: Desk, size: tuple[int, int], keys: Sequence[str] = (), palette: Palette = NIGHT
) -> str:
    """Return the screen as SVG (see `screen_of`)."""
    return (await screen_of(desk, size, keys, palette))[0]


async def picture_of_replay(playback: Playback, t_ns: int, size: tuple[int, int]) -> str:
    """Return the screen of a session that has been, paused at a moment, as SVG."""
    app = ReplayApp(playback, now_s=_frozen)
    async with app.run_test(size=size) as pilot:
        app.pause_at(t_ns)
        for _ in range(SETTLED_FRAMES):
            app.paint()
            await pilot.pause()
        return app.export_screenshot(title="stillblade", simplify=True)
