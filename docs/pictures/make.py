"""Draw the pictures of README and docs/screens.md: each from a simulated job, at its moment.

    python docs/pictures/make.py [NAME ...]

A job runs on data time; it is played back until a display comes up, and the screen draws what it
shows then. Needs rsvg-convert for the PNG.
"""

import asyncio
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[2]))

from daemon.demo.fast import fast
from daemon.session.playback import FoldedPlayback
from daemon.session.recording import Recording
from shared.displays import Display, display
from shared.doing import doing_now
from shared.inputs import NS
from shared.view import View
from tests.workflow.jobs import played as watched
from tui.picture import Still, picture, picture_of_replay
from tui.recall import Recall

FOLDER = Path(__file__).parent
WIDE, SMALL = (110, 34), (80, 24)
LOOK_EVERY_NS = NS // 5
WATCH_ONLY = "watch-only"
"""No job of the simulated person: levels that are left on held blades, of tests/workflow."""

Wanted = Callable[[View, Display | None], bool]


class Picture(NamedTuple):
    """One picture: of which job, when, at which size of the terminal."""

    scenario: str
    seed: int
    wanted: Wanted
    size: tuple[int, int] = SMALL


def largest(text: str) -> Wanted:
    """The moment at which a display's largest line begins so."""
    return lambda _, shown: shown is not None and shown.largest.startswith(text)


def second(text: str) -> Wanted:
    """The moment at which its second line is this."""
    return lambda _, shown: shown is not None and shown.second == text


def doing(word: str) -> Wanted:
    """The moment at which this is what the hands do next, beside the number."""
    return lambda view, shown: shown is None and doing_now(view).word == word


def shaped(shape: str) -> Wanted:
    """The moment at which it has this shape."""
    return lambda _, shown: shown is not None and shown.shape == shape


def turning(view: View, shown: Display | None) -> bool:
    """The second blade is being turned towards its angle."""
    error = view.live.error_deg
    near = error is not None and 0.1 < abs(error) < 1.5
    return shown is None and view.stage == "set" and view.blade == 2 and near


def holding(view: View, shown: Display | None) -> bool:
    """A blade is being read again: its target is hidden."""
    return shown is None and view.stage == "check" and view.live.motion == "settling"


PICTURES: dict[str, Picture] = {
    "setting": Picture("default", 2, turning, WIDE),
    "moved": Picture("default", 2, second("MOVED"), WIDE),
    "safe": Picture("default", 2, largest("MAKE SAFE")),
    "place": Picture("default", 2, largest("PLACE IT")),
    "over": Picture("hands-free", 8, largest("TURN IT OVER")),
    "again": Picture("hands-free", 8, doing("LAY AGAIN")),
    "turn": Picture("default", 2, turning),
    "hold": Picture("default", 2, holding),
    "taken": Picture("default", 2, shaped("✓")),
    "surprise": Picture("default", 2, largest("BLADE 1?")),
    "alarm": Picture("default", 2, second("MOVED")),
    "out": Picture("tighten-unequal", 2, second("OUT: SET AGAIN")),
    "answered": Picture("by-ear", 1, second("SET AGAIN")),
    "exchanged": Picture("labels-exchanged", 3, second("READ SWAPPED")),
    "slacken": Picture("tighten-unequal", 2, largest("SLACKEN")),
    "tighten": Picture("default", 2, largest("SNUG")),
    "torque": Picture("two-rings", 3, second("HUB BOLTS"), WIDE),
    "wrench": Picture("two-rings", 3, second("TWO PERSONS")),
    "checked": Picture("two-rings", 3, largest("CHECK OFF")),
    "question": Picture("reversed", 2, largest("LAID RIGHT?")),
    "signal": Picture("unplug", 2, largest("NO SIGNAL")),
    "watching": Picture(WATCH_ONLY, 0, largest("WATCHING")),
    "close": Picture("tighten-six-unequal", 1, largest("UNDECIDED")),
    "within": Picture("default", 2, largest("ALL WITHIN")),
    "replay": Picture("default", 2, second("MOVED"), WIDE),
}


@cache
def played(scenario: str, seed: int) -> FoldedPlayback:
    """A job of the simulated person, whole."""
    if scenario == WATCH_ONLY:
        header, inputs, events = watched(WATCH_ONLY)
        recording = Recording(header, inputs, list(events), inputs[-1].t_ns)
    else:
        recording = fast(scenario, seed).recording
    playback = FoldedPlayback(recording)
    while not playback.complete:
        playback.go_on(10_000)
    return playback


def moment(one: Picture) -> int:
    """The first moment that is wanted; the end is looked at too."""
    playback, recall = played(one.scenario, one.seed), Recall()
    for t_ns in [*range(0, playback.reach_ns, LOOK_EVERY_NS), playback.reach_ns]:
        view = playback.view(t_ns)
        for event in playback.events[recall.last_n : view.seen]:
            recall.hear(event)
        if one.wanted(view, display(view, recall.heard)):
            return t_ns
    raise SystemExit(f"{one.scenario} with seed {one.seed} has no such moment")


def drawn(name: str) -> str:
    """The picture as SVG."""
    one = PICTURES[name]
    playback, t_ns = played(one.scenario, one.seed), moment(one)
    if name == "replay":
        return asyncio.run(picture_of_replay(playback, t_ns, one.size))
    view = playback.view(t_ns)
    return asyncio.run(picture(Still([view], playback.events[: view.seen]), one.size))


def main() -> None:
    """Write the pictures that are named, or all."""
    for name in sys.argv[1:] or PICTURES:
        # librsvg collapses runs of spaces unless told to keep them
        svg = drawn(name).replace("&#160;", " ")
        svg = svg.replace("<text ", '<text xml:space="preserve" ')
        target = FOLDER / f"{name}.png"
        width = "1320" if PICTURES[name].size == WIDE else "720"
        subprocess.run(
            ["rsvg-convert", "--width", width, "--output", str(target)],
            input=svg.encode(),
            check=True,
            timeout=60,
        )
        print(f"{target.name}: {target.stat().st_size // 1024} KiB")


if __name__ == "__main__":
    main()
