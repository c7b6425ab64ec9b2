"""Trying the level: zero, noise, seating. Each may be left out, and is then said to be unproven."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass

from daemon.dialog.asking import Question, Talk
from daemon.dialog.line_by_line import Lines
from daemon.levels import proof
from daemon.levels.ear import Target
from daemon.measure.proving.checks import Found
from drivers.links import Patience

LONGEST_S = 300.0


@dataclass(frozen=True, slots=True)
class Check:
    """One check as a person is asked for it.

    Attributes:
        name: of the command that does it too.
        explain: what it is good for.
        made: the proof of a level.
    """

    name: str
    explain: tuple[str, ...]
    made: Callable[[Target], proof.Proof]


CHECKS = (
    Check(
        "zero",
        (
            "ZERO. Every level shows a little too much or too little. Laid down, turned end",
            "for end and laid on the same place, it gives that away. You need a steady,",
            "nearly level surface.",
        ),
        lambda level: proof.zero(level, written=True),
    ),
    Check(
        "noise",
        (
            "NOISE. How its numbers scatter while it lies still decides how long an average",
            "takes. It lies still for ten seconds or so.",
        ),
        proof.noise,
    ),
    Check(
        "seating",
        (
            "SEATING. Lifted and laid on the same place, a level never finds quite the same",
            "angle again; how far off decides what is called moved. Five placements, best",
            "on something like a blade.",
        ),
        proof.seating,
    ),
)
"""In this order."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a check came to; found: None where it was left out."""

    name: str
    found: Found | None


async def tried(talk: Talk, terminal: Lines, level: Target, patience: Patience) -> list[Tried]:
    """Put the checks to the person, one after the other."""
    found = []
    for check in CHECKS:
        if check.name == "noise" and level.profile.reporting.mode != "stream":
            found.append(Tried(check.name, None))
            continue

        async def work(check: Check = check) -> tuple[Tried, str]:
            return await _tried(talk, terminal, check, level, patience)

        key = f"{check.name} {level.entry.profile} {level.entry.port} {level.entry.settings}"
        found.append(await talk.step(key, check.name, work))
    return found


async def _tried(
    talk: Talk, terminal: Lines, check: Check, level: Target, patience: Patience
) -> tuple[Tried, str]:
    ask = "skip leaves it out, and the job file says that it is unproven"
    question = Question(check.name, check.name, ask, str, check.explain, default="begin")
    terminal.say("", *check.explain)
    while True:
        typed = await talk.line(question)
        if typed.lower() in {"s", "skip"}:
            return Tried(check.name, None), "skipped: unproven"
        if typed.lower() not in {"begin", "again"}:
            terminal.say(f"  {typed!r}: press Enter, or type skip or back.")
            continue
        found = await _attended(terminal, check.made(level), patience)
        if found is None:
            continue
        if found.settings and found.good:
            terminal.say("  the job file takes that out")
        if found.good or await _kept_all_the_same(talk, check, found):
            return Tried(check.name, found), found.lines[0]


async def _kept_all_the_same(talk: Talk, check: Check, found: Found) -> bool:
    """Ask what becomes of a result that is not good; one that leaves nothing is not asked about."""
    if not (found.settings or found.seating or found.noise):
        return False
    question = Question(
        check.name,
        check.name,
        "again does it once more; keep takes it as it is",
        str,
        default="again",
    )
    while (typed := (await talk.line(question)).lower()) not in {"again", "keep"}:
        talk.terminal.say(f"  {typed!r}: again, or keep.")
    return typed == "keep"


async def _attended(terminal: Lines, one: proof.Proof, patience: Patience) -> Found | None:
    """Run a proof until it has its answer, or Enter breaks it off; None: nothing was found."""
    terminal.say("  (Enter breaks it off)", "")
    async with asyncio.TaskGroup() as group:
        running = group.create_task(
            proof.run(one, terminal.stream, LONGEST_S, patience), name="proof"
        )
        typing = group.create_task(_typed(terminal), name="typed")
        await asyncio.wait({running, typing}, return_when=asyncio.FIRST_COMPLETED)
        broken = typing.done() and not running.done()
        running.cancel()
        typing.cancel()
    terminal.say("")
    if broken or running.cancelled():
        terminal.say("  broken off: nothing was found")
        return None
    return running.result().found


async def _typed(terminal: Lines) -> None:
    try:
        terminal.forget_typed()
        await terminal.quiet_line()
    except EOFError:
        return
