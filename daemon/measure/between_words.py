"""The one sentence, with its numbers, that explains a verdict. Degrees; + is coarser."""

from collections.abc import Mapping, Sequence

from shared.events import BladeId

SETTLE = "settle it after the nip: its play is wider than the tolerance"


def named(blade: BladeId, labels: Mapping[int, str]) -> str:
    """Return what to call a blade: its number, and the user's own mark where there is one."""
    if blade == "reference":
        return "the reference"
    label = labels.get(blade, "")
    return f"blade {blade}" if label in {"", str(blade)} else f"blade {blade} ({label})"


def change(change_deg: float, u95_deg: float) -> str:
    """Return "0.42 ± 0.10 finer": the size first, then the side."""
    side = "coarser" if change_deg > 0.0 else "finer"
    return f"{abs(change_deg):.2f} ± {u95_deg:.2f} {side}"


def together(names: Sequence[str]) -> str:
    """Return "a, b and c"."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def witnesses(steady: Sequence[str], others: int, reference: bool) -> str:
    """Return who agrees that only this blade changed; "" when nobody does."""
    if others and len(steady) == others:
        agreeing = ["the others" if others > 1 else steady[0]]
    else:
        agreeing = list(steady)
    if reference:
        agreeing.append("the reference")
    if not agreeing:
        return "; nothing else is known to agree"
    several = len(agreeing) > 1 or agreeing == ["the others"]
    return f"; {together(agreeing)} {'agree' if several else 'agrees'}"


def moved(name: str, size: str, agree: str, allowed: str) -> str:
    """A blade nobody may have touched is not where it was set."""
    return f"{name} is {size} than when it was set{allowed}{agree}"


def turned(name: str, size: str, stage: str, agree: str, allowed: str) -> str:
    """A blade that tightening may turn is not where it was."""
    return f"{name} was turned by tightening ({stage}): {size} than before{allowed}{agree}"


def steady(name: str, size: str, hide_deg: float, allowed: str) -> str:
    """Nothing was found, and this is what could hide."""
    return f"{name} is steady ({size}{allowed}): a move under {hide_deg:.2f} could hide"


def blunt(name: str, hide_deg: float, tolerance_deg: float, what_next: str) -> str:
    """Nothing was found, but too much could hide."""
    return (
        f"{name} is not known: a move under {hide_deg:.2f} could hide, "
        f"more than the tolerance of {tolerance_deg:.2f}; {what_next}"
    )


def again(name: str, size: str, probability: float) -> str:
    """Too close to call with what was read."""
    return f"{name} reads {size}, too close to say (probability {probability:.2f}): place again"


def open_still(name: str, size: str, placements: int, possible: Sequence[str]) -> str:
    """The placements are used up and it is still not clear."""
    times = "placement" if placements == 1 else "placements"
    return f"{name} is not known after {placements} {times} ({size}): {together(possible)} possible"


def waits(name: str, size: str) -> str:
    """A blade cannot be judged before the reference is."""
    return f"{name} reads {size}; not known until the reference has been read again"


def within_play(name: str, size: str, play_deg: float) -> str:
    """The change is no more than the blade's own play."""
    return f"{name} is within its play ({size}, play {play_deg:.2f})"


def exchanged(name: str, other: str, change_deg: float) -> str:
    """Two blades read like each other."""
    return (
        f"{name} and {other} read like each other ({name} by {change_deg:+.2f}): "
        "their labels were exchanged, or each turned by just the difference; look which is which"
    )


def shifted(size: str, blades: int, spared: int = 0) -> str:
    """Everything moved alike: the aircraft or the level did.

    blades: how many moved with the reference; spared: how many were set after the shift.
    """
    others = {0: "", 1: " and the held blade with it"}.get(
        blades, f" and the {blades} held blades with it"
    )
    after = {0: "", 1: "; one blade was set after it"}.get(
        spared, f"; {spared} blades were set after it"
    )
    return f"aircraft or level shifted: reference reads {size}{others}{after}"


def set_after(shift_deg: float) -> str:
    """What a shift means for a blade that does not show it, because it was set later."""
    way = "coarser" if shift_deg < 0 else "finer"
    return f", set after the shift: truly {abs(shift_deg):.2f} {way} than it was read"


def shift_suspected(size: str, probability: float) -> str:
    """A shift is likely but not yet to be concluded."""
    return (
        f"the reference reads {size}; a shift of aircraft or level is possible "
        f"(probability {probability:.2f}): read the reference again"
    )
