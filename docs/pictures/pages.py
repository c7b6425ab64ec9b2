"""Draw the pictures of docs/page.md from a recorded demo, in Debian's Chromium at a phone's size.

python -m docs.pictures.pages
"""

import asyncio
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from daemon.core.engine import Engine
from daemon.demo.fast import fast
from daemon.faces.page import Page, Place
from daemon.session.recording import Recording
from daemon.shell.counter import Counter, Nobody
from shared.events import Alarm, Event
from shared.view import View
from tests.faces.chromium import Chromium
from tests.faces.mosquitto import free_port

FOLDER = Path(__file__).parent
PHONE = (740, 304)


def moment(
    recording: Recording, there: Callable[[View, list[Event]], bool]
) -> tuple[View, list[Event]]:
    """Return what is seen and what was told where `there` is first true."""
    engine, told = Engine(recording.header), []
    for item in recording.inputs:
        told += engine.feed(item)
        view = engine.view()
        if there(view, told):
            return view, told
    raise SystemExit("the demo has no such moment")


def alarm_open(_: View, told: list[Event]) -> bool:
    """A blade was just called."""
    return any(isinstance(event.body, Alarm) for event in told)


def reading(view: View, _: list[Event]) -> bool:
    """A blade within tolerance is about to be read."""
    within = view.live.error_deg is not None and abs(view.live.error_deg) < 0.1
    return view.stage == "set" and view.blade == 2 and within and view.live.may_take


async def drawn(name: str, there: Callable[[View, list[Event]], bool]) -> None:
    """Write one picture."""
    view, told = moment(fast("default", 2).recording, there)
    page = Page(Counter(Nobody(), told, view), Place("127.0.0.1", free_port()))
    async with asyncio.TaskGroup() as group:
        ready = asyncio.Event()
        task = group.create_task(page.run(ready.set), name="page")
        await ready.wait()
        await asyncio.to_thread(_look, page.link, FOLDER / f"page-{name}.png")
        task.cancel()


def _look(link: str, path: Path) -> None:
    with Chromium(*PHONE) as browser:
        browser.go(link)
        browser.until(lambda: browser.text("largest") != "")
        browser.picture(path)


def main() -> None:
    """Write the pictures."""
    for name, there in (("reading", reading), ("alarm", alarm_open)):
        asyncio.run(drawn(name, there))


if __name__ == "__main__":
    main()
