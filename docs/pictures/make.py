"""Draw the pictures of the README from a recorded demo.

    python docs/pictures/make.py

The demo runs on data time; its inputs are fed to a fresh engine up to a telling moment, and
the screen draws what it shows then. Needs rsvg-convert for the PNG.
"""

import asyncio
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from daemon.core.engine import Engine
from daemon.demo.fast import fast
from daemon.session.recording import Recording
from shared.events import Alarm, Event
from shared.view import View
from tui.picture import Still, picture

FOLDER = Path(__file__).parent
SIZE = (110, 34)


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


def setting(view: View, _: list[Event]) -> bool:
    """The second blade is being turned towards its angle."""
    error = view.live.error_deg
    near = error is not None and 0.1 < abs(error) < 1.5
    return view.stage == "set" and view.blade == 2 and near and view.live.motion != "in hand"


def main() -> None:
    """Write the pictures."""
    recording = fast("default", 2).recording
    for name, there in (("setting", setting), ("moved", alarm_open)):
        view, told = moment(recording, there)
        svg = asyncio.run(picture(Still([view], told), SIZE))
        # librsvg collapses runs of spaces unless told to keep them
        svg = svg.replace("&#160;", " ").replace("<text ", '<text xml:space="preserve" ')
        target = FOLDER / f"{name}.png"
        subprocess.run(
            ["rsvg-convert", "--width", "1320", "--output", str(target)],
            input=svg.encode(),
            check=True,
            timeout=60,
        )
        print(f"{target.name}: {target.stat().st_size // 1024} KiB")


if __name__ == "__main__":
    main()
