"""What a watch says, in one sentence with its numbers. Degrees; + is coarser."""

from shared import wording


def moved(name: str, change: float, u95: float) -> str:
    """The witness did not follow."""
    return f"{name} moved {wording.change(change, u95)} while watched; the witness did not follow"


def changed(name: str, change: float, u95: float) -> str:
    """One level alone cannot say more."""
    return (
        f"{name} or the aircraft changed: {wording.change(change, u95)}; one level cannot say which"
    )


def replaced(name: str, change: float, u95: float) -> str:
    """The level was off the blade in between, or silent so long that it may have been."""
    return f"{name} reads {wording.change(change, u95)} since its level was lifted or silent: read it again"


def witness_changed(name: str, change: float, u95: float) -> str:
    """The other one was knocked."""
    return (
        f"the witness changed: {wording.change(change, u95)}; {name} did not: look at the witness"
    )


def creeping(name: str, per_second: float, change: float, witness: bool) -> str:
    """It goes on slowly."""
    who = name if witness else f"{name} or the aircraft"
    side = "coarser" if per_second > 0.0 else "finer"
    return f"{who} is creeping {side} by {abs(per_second):.3f} a second, {abs(change):.2f} so far"


def wandered(name: str, change: float, u95: float) -> str:
    """Many small steps, or a drift no level should have."""
    return f"{name} has come {wording.change(change, u95)}, little by little, since it is watched"


def shaken(name: str, change: float, u95: float) -> str:
    """It came back."""
    return f"{name} was shaken and came back: {wording.change(change, u95)}"


def followed(name: str, change: float, u95: float) -> str:
    """The aircraft moved, and everything with it."""
    return f"the aircraft shifted {wording.change(change, u95)}, the witness with it; {name} did not move"


def lifted(name: str) -> str:
    """The level is in someone's hand."""
    return f"the level was lifted off {name}"


def no_signal(name: str) -> str:
    """Nothing is heard."""
    return f"no signal from the level on {name}: it is not watched"


def quiet(name: str, least: float) -> str:
    """Watching, and what could hide."""
    return f"{name} is watched: a move over {least:.2f} will be called"


def never_still(name: str, seconds: float) -> str:
    """No rest to judge."""
    return (
        f"{name} has been shaken for {seconds:.0f} s: nothing can be said of it until it is still"
    )
