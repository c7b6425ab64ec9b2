"""The app on a Desk that is not the program, with a clock that is turned by hand."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from textual.events import Key
from textual.pilot import Pilot

from shared.hands import Do
from shared.view import View
from tests.tui import scenes
from tests.tui.fake_desk import FakeDesk, HeldClock
from tui.app import Left, StillbladeApp


class Bench:
    """An app on a fake Desk with a held clock."""

    def __init__(
        self, desk: FakeDesk, size: tuple[int, int] = (80, 24), do: Do | None = None
    ) -> None:
        self.desk = desk
        self.clock = HeldClock()
        self.size = size
        self.app = StillbladeApp(desk, client="test", linger_s=0.01, now_s=self.clock, do=do)
        self.pilot: Pilot[Left]
        self.bells = 0

    async def settle(self) -> None:
        await self.pilot.pause()
        self.app.paint()
        await self.pilot.pause()

    def keys(self, *keys: str) -> None:
        """Send keys as the terminal does, without waiting for what they do."""
        for key in keys:
            char = " " if key == "space" else key if len(key) == 1 else None
            self.app.post_message(Key(key, char))

    async def typed(self, *keys: str) -> None:
        """Press keys one after the other, as a person does."""
        for key in keys:
            await self.pilot.press(key)
        await self.settle()

    def text(self) -> str:
        strips = self.app.screen._compositor.render_strips(self.app.size)
        return "\n".join(strip.text.rstrip() for strip in strips)

    def ring(self) -> None:
        self.bells += 1


@asynccontextmanager
async def bench(
    desk: FakeDesk,
    view: View | None = scenes.SET,
    size: tuple[int, int] = (80, 24),
    do: Do | None = None,
) -> AsyncIterator[Bench]:
    made = Bench(desk, size, do)
    made.app.bell = made.ring  # type: ignore[method-assign]
    async with made.app.run_test(size=made.size) as pilot:
        made.pilot = pilot
        if view is not None:
            desk.push(view)
        await made.settle()
        yield made
        if made.app._exit_renderables == [] and made.app.return_value is None:
            made.app.exit()


async def until(reached: Callable[[], bool]) -> None:
    async with asyncio.timeout(30):
        while not reached():  # noqa: ASYNC110 - nothing but the condition tells
            await asyncio.sleep(0)
