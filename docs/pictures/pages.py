"""Draw the pictures of docs/page.md from a recorded demo, in Debian's Chromium at a phone's size.

python -m docs.pictures.pages
"""

import asyncio
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from daemon.faces.page import Page, Place
from daemon.shell.counter import Counter, Nobody
from docs.pictures.make import FOLDER, Picture, moment, played, second
from shared.displays import Display
from shared.view import View
from tests.faces.chromium import Chromium
from tests.faces.mosquitto import free_port

PHONE = (740, 304)


def reading(view: View, _: Display | None) -> bool:
    """A blade within tolerance is about to be read."""
    within = view.live.error_deg is not None and abs(view.live.error_deg) < 0.1
    return view.stage == "set" and view.blade == 2 and within and view.live.may_take


async def drawn(name: str, one: Picture) -> None:
    """Write one picture."""
    playback = played(one.scenario, one.seed)
    view = playback.view(moment(one))
    place = Place("127.0.0.1", free_port())
    page = Page(Counter(Nobody(), playback.events[: view.seen], view), place)
    async with asyncio.TaskGroup() as group:
        ready = asyncio.Event()
        task = group.create_task(page.run(ready.set), name="page")
        await ready.wait()
        await asyncio.to_thread(_look, place.link, FOLDER / f"page-{name}.png")
        task.cancel()


def _look(link: str, path: Path) -> None:
    with Chromium(*PHONE) as browser:
        browser.go(link)
        browser.until(lambda: browser.text("largest") != "")
        browser.picture(path)


def main() -> None:
    """Write the pictures."""
    for name, wanted in (("reading", reading), ("alarm", second("MOVED"))):
        asyncio.run(drawn(name, Picture("default", 2, wanted)))


if __name__ == "__main__":
    main()
