"""A recorded session played on the page, as it was, at its own pace or another."""

import asyncio
import time
from typing import TYPE_CHECKING

from daemon.cli.paged import show_link

if TYPE_CHECKING:
    from daemon.faces.page import Place
    from daemon.session.recording import Recording

PICTURES_A_SECOND = 20
FOLD_AT_ONCE = 200
"""Inputs folded between two looks at the clock."""


async def play_on_page(recording: "Recording", place: "Place", pace: float) -> None:
    """Play it from its beginning to its end, then leave the end on the page until stopped."""
    from daemon.faces.page import Page
    from daemon.session.playback import FoldedPlayback
    from daemon.shell.counter import Counter, Nobody
    from shared.inputs import NS

    playback = FoldedPlayback(recording)
    desk = Counter(Nobody(), [], playback.view(0))
    page = Page(desk, place, acts=False)
    async with asyncio.TaskGroup() as group:
        group.create_task(page.run(lambda: show_link(place)), name="page")
        begun, told, at_ns = time.monotonic(), 0, 0
        while at_ns < playback.reach_ns:
            await asyncio.sleep(1 / PICTURES_A_SECOND)
            at_ns = min(playback.reach_ns, int((time.monotonic() - begun) * pace * NS))
            while not playback.complete and playback.folded_ns < at_ns:
                playback.go_on(FOLD_AT_ONCE)
                await asyncio.sleep(0)
            events = [event for event in playback.events[told:] if event.t_ns <= at_ns]
            told += len(events)
            await desk.tell(events, playback.view(at_ns))
