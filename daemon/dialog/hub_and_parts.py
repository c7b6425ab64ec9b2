"""What is asked of the hub and its blades as parts: once, because a hub that was set before is known."""

from collections.abc import Callable
from typing import Any

from daemon.dialog import understood
from daemon.dialog.asking import Question, Talk
from daemon.session.parts import REMEMBERED, Known, otherwise
from shared.job import Propeller

Tables = dict[str, Any]
Recall = Callable[[str], Known | None]
"""Returns what is known of a hub by its serial number; None: nothing."""
LISTS = tuple(key for key in REMEMBERED if key != "labels")
AS_BEFORE = "as before"


def nothing_known(hub: str) -> Known | None:
    """Know no hub."""
    del hub
    return None


async def parts(talk: Talk, told: Tables, recall: Recall) -> Tables:
    """Ask for the hub and its parts; return the keys of [propeller] that they are.

    told: what was said of the propeller before.
    """
    hub = await talk.ask(
        Question(
            "hub",
            "serial number of the hub",
            "The hub's serial number?",
            understood.said,
            ("By it the next job of this hub finds what this one left. Enter: it is not kept.",),
            default="",
        )
    )
    if not hub:
        return {}
    known = recall(hub)
    same = known is not None and await _as_before(talk, told, known)
    lists = _of(known.propeller) if known and same else await _asked(talk, told["blades"], known)
    return {"hub": hub, **lists, "damage": await _damage(talk, known)}


async def _as_before(talk: Talk, told: Tables, known: Known) -> bool:
    """Ask whether the parts are those that are known; False without asking where they cannot be."""
    then, lists = known.propeller, _of(known.propeller)
    now = then.model_copy(
        update={"labels": [], **{key: told[key] for key in ("blades", "layout", "rotation")}}
    )
    different = [f"     {words}" for words in otherwise(now, then, known.when)]
    if then.blades != told["blades"] or not lists:
        talk.terminal.say(*different)
        return False
    had = [f"     {REMEMBERED[key]}: {', '.join(each)}" for key, each in lists.items()]
    return await talk.ask(
        Question(
            "as before",
            "parts as before",
            "Are they the same, each in its place? yes or no",
            understood.yes,
            (f"On {known.when} this hub had, blade 1 first:", *had, *different),
        )
    )


def _of(propeller: Propeller) -> dict[str, list[str]]:
    return {key: getattr(propeller, key) for key in LISTS if getattr(propeller, key)}


async def _asked(talk: Talk, blades: int, known: Known | None) -> dict[str, list[str]]:
    """Ask for each; Enter says of a part that is known what a session would take over for it."""
    asks = {
        "serials": ("The blades' serial numbers, blade 1 first", blades),
        "halves": ("Serial numbers or marks of the hub's halves", 0),
        "match_marks": ("Match marks of blades and sockets, blade 1 first", blades),
        "shims": ("What lies under each blade, blade 1 first", blades),
    }
    then = known if known and known.propeller.blades == blades else None
    found = {key: await _list(talk, key, *ask, then) for key, ask in asks.items()}
    return {key: each for key, each in found.items() if each}


async def _list(talk: Talk, key: str, ask: str, count: int, then: Known | None) -> list[str]:
    had: list[str] = getattr(then.propeller, key) if then else []

    def read(text: str) -> list[str]:
        return had if had and text == AS_BEFORE else understood.listed(text, count)

    shown = [f"On {then.when}: {', '.join(had)}"] if then and had else []
    default = AS_BEFORE if had else ""
    ask = f"{ask}, between commas?"
    return await talk.ask(Question(key, REMEMBERED[key], ask, read, shown, default))


async def _damage(talk: Talk, known: Known | None) -> str:
    """Ask what was found today; what was found before is shown, and is no answer."""
    before = known.propeller.damage if known else ""
    shown = [f"     {known.when}: {before}"] if known and before else []
    return await talk.ask(
        Question(
            "damage",
            "damage looked for",
            "What damage was looked for today, and what was found?",
            understood.said,
            ("Of blades and hub, as the manual has it inspected. Enter: it is not said.", *shown),
            default="",
        )
    )
