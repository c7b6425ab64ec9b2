"""Everything one painting of the screen depends on, and the rule that old numbers die.

No number older than a second may look alive, whatever stopped: the level, the engine, or
the line between the Desk and this screen.
"""

from dataclasses import dataclass, field, replace
from typing import Literal

from shared.displays import unreadable
from shared.view import LevelView, Live, View
from tui.recall import Recall

ALIVE_S = 1.0


@dataclass(frozen=True, slots=True)
class Shown:
    """One moment of the screen.

    Attributes:
        view: the newest view, None before the first.
        age_s: how long ago the session's own time last advanced on this screen.
        status: the answer to the last command, for some seconds.
        over: why there is nothing more to come, "" while the session runs.
        past: it is a moment of a session that has been: there is nothing to answer.
        played: the hands of a demo are the viewer's, and their keys are offered.
    """

    view: View | None
    age_s: float = 0.0
    recall: Recall = field(default_factory=Recall)
    status: str = ""
    status_kind: Literal["good", "bad"] = "good"
    over: str = ""
    past: bool = False
    played: bool = False


def signal_age(view: View, age_s: float) -> float | None:
    """Age of the freshest sample of a level that is followed; None: there was none yet."""
    role = "watch" if view.stage == "watch" else "blade"
    ages = [
        level.age_s + age_s
        for level in view.levels
        if level.role == role and level.age_s is not None
    ]
    return min(ages, default=None)


def is_alive(view: View, age_s: float) -> bool:
    """Tell whether the live number may be shown as live."""
    signal_s = signal_age(view, age_s)
    return (
        view.live.angle_deg is not None
        and age_s <= ALIVE_S
        and signal_s is not None
        and signal_s <= ALIVE_S
    )


UNREAD = "no signal that can be read: its format, its speed?"


def silence_words(age_s: float | None) -> str:
    """Say how long there has been nothing; whole seconds, so that it does not flicker."""
    return "no signal" if age_s is None or age_s < 1 else f"no signal for {int(age_s)} s"


def _dead(view: View, age_s: float) -> Live:
    signal_s = signal_age(view, age_s)
    if view.live.angle_deg is None and age_s <= ALIVE_S and view.live.words:
        words = view.live.words
    else:
        words = UNREAD if unreadable(view) else silence_words(signal_s)
    return Live(
        angle_deg=None,
        error_deg=None,
        target_deg=None,  # it may have to stay hidden, and there is nothing to aim
        words=words,
        motion="no signal",
        progress=0.0,
        u_deg=None,
        may_take=False,
        taken=view.live.taken,
    )


def _aged(level: LevelView, age_s: float) -> LevelView:
    if level.age_s is None:
        return replace(level, tilt_deg=None)
    age = level.age_s + age_s
    silent = age > ALIVE_S
    return replace(
        level,
        age_s=age,
        tilt_deg=None if silent else level.tilt_deg,
        state="silent" if silent and level.state == "streaming" else level.state,
    )


def aged(view: View, age_s: float) -> View:
    """Return the view as it must look `age_s` after the session last said anything."""
    live = view.live if is_alive(view, age_s) else _dead(view, age_s)
    return replace(view, live=live, levels=tuple(_aged(level, age_s) for level in view.levels))
