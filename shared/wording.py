"""What things are called in a sentence: a blade, a change. Degrees; positive is coarser."""

from collections.abc import Sequence

from shared.events import REFERENCE, BladeId

REASONS = (
    "measured again: it is right",
    "within what the manual allows",
    "corrected before the next flight",
    "known, and watched",
)
"""Why something may stay as it is, to pick from; any other is typed."""


VERDICTS = {"in": "in", "out": "OUT", "too close to say": "too close"}
"""A tolerance verdict as short as a cell of a table, by its name; what is out in capitals."""


def bare_name(blade: BladeId | None) -> str:
    """Return "blade 2", "reference" or "unassigned", as a log names them."""
    if blade is None:
        return "unassigned"
    return "reference" if blade == REFERENCE else f"blade {blade}"


def blade_name(blade: BladeId | None, label: str = "", form: str = " ({})") -> str:
    """Return "blade 2 (red)", "blade 2", "the reference" or "unassigned".

    label: the user's own mark of this blade; its number or "" where there is none.
    form: how the mark follows, {} standing for it.
    """
    name = bare_name(blade)
    if blade == REFERENCE:
        return f"the {name}"
    return name if blade is None or label in {"", str(blade)} else name + form.format(label)


def change(change_deg: float, u95_deg: float) -> str:
    """Return "0.42 ± 0.10 finer": the size first, then the side."""
    side = "coarser" if change_deg > 0.0 else "finer"
    return f"{abs(change_deg):.2f} ± {u95_deg:.2f} {side}"


def together(names: Sequence[str]) -> str:
    """Return "a, b and c"."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def so_many_readings(fewest: int, most: int) -> str:
    """Return how many readings a job wants: "about 15 to 17 readings if nothing moves"."""
    many = str(fewest) if fewest == most else f"{fewest} to {most}"
    return f"about {many} readings if nothing moves"
