"""What hands did at the bolts, as somebody said it: what a wrench really pulled no record knows. Pure."""

from daemon.sheet.columns import Told
from shared.events import Answered, Body, Noted, StepChanged
from shared.sentences import clock

HANDS = ("check off", "wrench", "tighten")
"""Stages in which hands do what the sheet tells."""


def done_with_hands(bodies: Told) -> list[tuple[str, str, str]]:
    """Return what a person said to have done with the hands: when, in which round, what.

    What was taken back is not there.

    The next step is announced before the answer that this one is done.
    """
    found: list[tuple[str, str, str]] = []
    step = announced = None
    for t_ns, body in bodies:
        if isinstance(body, StepChanged):
            step, announced = announced, body
        elif step is not None and (did := _did(body)):
            if step.stage in HANDS and did == f"{step.stage} done":
                found.append((clock(t_ns), step.label, _of_the_hands(step)))
            elif did == "one step back" and found:
                found.pop()
    return found


def _did(body: Body) -> str:
    """Return what somebody did, by a press or by turning the level over; "": nothing."""
    if isinstance(body, Noted):
        _, turned, did = body.say.partition("the level was turned over: ")
        return did.removesuffix(".") if turned else ""
    return body.say if isinstance(body, Answered) and body.result == "done" else ""


def _of_the_hands(step: StepChanged) -> str:
    """Return what was done, without how."""
    if step.stage == "wrench":
        _, _, setting = step.say.partition("set to ")
        return f"a second person read the wrench: {setting.partition('? ')[0]}"
    words = step.say.removesuffix(" Press when done.")
    return words.partition(". ")[0].partition(": checked?")[0]
