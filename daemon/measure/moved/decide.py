"""From the odds to a state for each blade and for the reference: a table, first row that fits.

The rules in words. Each marginal probability is compared with two limits: above the one it is
called, below the other there is nothing, between them a member is placed again until the
placements are used up.

- Two blades that read like each other are exchanged, before anyone is accused.
- Without the reference no shift is concluded, and while one is possible nobody is judged. Nor is a blade
  placed again that would be called, were a shift ruled out: the reference rules it out.
- A loose blade that changed by more than noise, but not more than noise and its play, is within it.
- Steady is a claim: it needs a ruled-out shift, and that nothing over the tolerance could hide.
- Where more could hide than is worth finding, placements are asked for as long as those that are left
  reach it, or the next one lessens it enough.
- A shift is concluded when it is likely and the reference was read often enough.
- The reference is placed again with a shift that is not concluded, for a call that only a shift stands
  against, and when half the blades are in doubt.
"""

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from daemon.measure.moved.could_hide import could_hide
from daemon.measure.moved.model import (
    Change,
    Decided,
    Decision,
    Reason,
    Shift,
    ShiftStage,
    Terms,
)
from daemon.measure.moved.odds import Odds, believed, fixed_variance, own_variance, prior_moved
from daemon.measure.quantiles import K95
from shared.events import REFERENCE, VerdictState

Mark = Literal[
    "labels exchanged",
    "no reference",
    "shift possible",  # or likely, and not concluded
    "shift likely",  # and not concluded
    "shift concluded",
    "moved",
    "but for a shift",  # it would be called, were a shift ruled out, and the reference may be read again
    "tightened",
    "within play",
    "wide play",
    "in doubt",
    "placements left",
    "blunt",  # more than the tolerance could hide; asked only where nothing was found, as is the next
    "worth another",  # more could hide than is worth finding, and another placement helps
]
"""One thing that holds of a member; `marks` says when."""


class Row(NamedTuple):
    """Where all that it needs holds: the state, and why.

    told: the probability that is told. hides: what could hide is told, as nothing was found.
    again: the member is placed again.
    """

    needs: tuple[Mark, ...]
    state: VerdictState
    reason: Reason
    told: Literal["moved", "exchanged", "larger", "shift"]
    hides: bool = False
    again: bool = False


BLADE = (
    Row(("labels exchanged",), "exchanged", "labels exchanged", "exchanged"),
    Row(("no reference", "shift possible"), "not known", "reference first", "moved"),
    Row(("moved", "tightened"), "turned", "moved", "moved"),
    Row(("moved",), "moved", "moved", "moved"),
    Row(("within play", "wide play"), "within play", "within wide play", "moved", hides=True),
    Row(("within play",), "within play", "within play", "moved", hides=True),
    Row(("but for a shift",), "not known", "reference first", "moved"),
    Row(("in doubt", "placements left"), "place again", "in doubt", "larger", again=True),
    Row(("in doubt",), "not known", "in doubt to the end", "larger"),
    Row(("shift likely",), "not known", "reference first", "moved"),
    Row(("blunt", "wide play"), "not known", "blunt within play", "moved", hides=True),
    Row(
        ("worth another", "placements left"), "not known", "blunt", "moved", hides=True, again=True
    ),
    Row(("blunt", "placements left"), "not known", "blunt for good", "moved", hides=True),
    Row(("blunt",), "not known", "blunt to the end", "moved", hides=True),
    Row((), "steady", "steady", "moved", hides=True),
)
"""What became of a blade."""
SHAFT = (
    Row(("shift concluded",), "shifted", "shift concluded", "shift"),
    Row(("shift possible", "placements left"), "place again", "shift in doubt", "shift"),
    Row(("shift possible",), "not known", "shift in doubt to the end", "shift"),
    Row((), "steady", "steady", "shift", hides=True),
)
"""What became of the reference."""


class Evidence(NamedTuple):
    """The numbers that the marks of one member are made from.

    change_deg: its own; noise_deg: what of it noise explains, 19 times in 20. moved, exchanged:
    probabilities; unshifted: what moved would be, were a shift ruled out. settled: whether it was turned decides
    nothing. referred: so often the reference was read in this round.
    """

    moved: float
    unshifted: float
    exchanged: float
    change_deg: float
    noise_deg: float
    placements: int
    tightened: bool
    settled: bool
    shift: ShiftStage
    referred: int


SECOND_LOOK = 2
"""Placements of a blade of which it decides nothing whether it was turned: one may be laid badly."""


def marks(seen: Evidence, terms: Terms) -> frozenset[Mark]:
    """Return all that holds of a member, but for what could hide."""
    limits = terms.thresholds
    reach = terms.play_deg + seen.noise_deg
    most = min(SECOND_LOOK, terms.max_placements) if seen.settled else terms.max_placements
    holds: dict[Mark, bool] = {
        "labels exchanged": seen.exchanged > limits.moved_probability,
        "no reference": not seen.referred,
        "shift possible": seen.shift in {"possible", "likely"},
        "shift likely": seen.shift == "likely",
        "shift concluded": seen.shift == "concluded",
        "moved": seen.moved > limits.moved_probability,
        "but for a shift": seen.moved <= limits.moved_probability < seen.unshifted
        and seen.referred < terms.max_placements
        and not seen.settled,
        "tightened": seen.tightened,
        "within play": terms.play_deg > 0.0 and seen.noise_deg < abs(seen.change_deg) <= reach,
        "wide play": terms.play_deg > terms.tolerance_deg,
        "in doubt": max(seen.moved, seen.exchanged) >= limits.steady_probability,
        "placements left": seen.placements < most,
    }
    return frozenset(mark for mark, held in holds.items() if held)


def row_for(table: Sequence[Row], held: frozenset[Mark]) -> Row:
    """Return the first row all of whose needs are held."""
    return next(row for row in table if held.issuperset(row.needs))


def decide(changes: Sequence[Change], odds: Odds, terms: Terms) -> Decided:
    """Decide what became of every member."""
    reference = next((one for one in changes if one.blade == REFERENCE), None)
    read = 0 if reference is None else reference.placements
    shift = Shift(shift_stage(odds.shifted, read, terms), odds.shifted, odds.shift, odds.shift_u)
    decisions = tuple(
        _decision(changes, place, odds, shift, terms, read) for place in range(len(changes))
    )
    again = tuple(one.blade for one in decisions if one.again)
    if _reference_again(decisions, shift, read < terms.max_placements):
        again = (*again, REFERENCE)
    return Decided(decisions, again, shift)


def shift_stage(probability: float, read: int, terms: Terms) -> ShiftStage:
    """Return how far a shift is established, the reference having been read so often."""
    if probability < terms.thresholds.steady_probability:
        return "none"
    if probability <= terms.thresholds.moved_probability:
        return "possible"
    enough = min(terms.reference_placements, terms.max_placements)
    return "concluded" if read >= enough else "likely"


def _reference_again(decisions: Sequence[Decision], shift: Shift, left: bool) -> bool:
    """Whether it is placed again, where placements are left: for a shift or what waits for it, or half the blades."""
    blades = [one for one in decisions if one.blade != REFERENCE]
    doubted = sum(one.reason == "in doubt" for one in blades)
    half = doubted > 0 and 2 * doubted >= len(blades)
    waits = any(one.reason == "reference first" for one in blades)
    return left and (half or waits or shift.stage in {"possible", "likely"})


def _decision(
    changes: Sequence[Change], place: int, odds: Odds, shift: Shift, terms: Terms, referred: int
) -> Decision:
    one = changes[place]
    spared = shift.stage == "concluded" and odds.spared[place]
    change, u = _own(one, shift, spared, terms)
    partner, exchanged = _partner(place, odds)
    seen = Evidence(
        moved=odds.moved[place],
        unshifted=odds.unshifted[place],
        exchanged=exchanged,
        change_deg=change,
        noise_deg=K95 * math.sqrt(one.u_old_deg**2 + one.u_new_deg**2 + one.u_common_deg**2),
        placements=one.placements,
        tightened=one.blade in terms.tightened,
        settled=one.blade in terms.settled,
        shift=shift.stage,
        referred=referred,
    )
    table, held = SHAFT if one.blade == REFERENCE else BLADE, marks(seen, terms)
    row = row_for(table, held)
    hide = _could_hide(one, shift, terms) if row.hides else None
    if hide is not None:
        row = row_for(table, held | _too_much_hides(one, shift, terms, hide))
    return Decision(
        one.blade,
        row.state,
        row.reason,
        change,
        K95 * u,
        _told(row, seen, shift),
        one.placements,
        hide,
        None if partner is None else changes[partner].blade,
        spared,
        row.again,
        exchanged,
    )


def _told(row: Row, seen: Evidence, shift: Shift) -> float:
    """Return the probability that is told."""
    return {
        "moved": seen.moved,
        "exchanged": seen.exchanged,
        "larger": max(seen.moved, seen.exchanged),
        "shift": shift.probability,
    }[row.told]


def _own(one: Change, shift: Shift, spared: bool, terms: Terms) -> tuple[float, float]:
    """Return a member's own change and its standard uncertainty.

    A concluded shift is the reference's own change, and is taken off the blades that show it.
    """
    variance = own_variance(one, terms.play_deg)
    if shift.stage == "concluded" and one.blade == REFERENCE:
        return shift.shift_deg, shift.u_deg
    if shift.stage == "concluded" and not spared:
        return one.change_deg - shift.shift_deg, math.sqrt(variance + shift.u_deg**2)
    return one.change_deg, math.sqrt(variance + one.u_common_deg**2)


def _partner(place: int, odds: Odds) -> tuple[int | None, float]:
    """With whom this blade's label was most likely exchanged, and how likely that is."""
    pairs = {pair: p for pair, p in odds.exchanged.items() if place in pair}
    if not pairs:
        return None, 0.0
    pair = max(pairs, key=lambda key: pairs[key])
    return pair[0] + pair[1] - place, pairs[pair]


def _too_much_hides(one: Change, shift: Shift, terms: Terms, hide_deg: float) -> frozenset[Mark]:
    """Return the marks that what could hide makes of a member of which nothing was found."""
    held: set[Mark] = {"blunt"} if hide_deg > terms.tolerance_deg else set()
    if hide_deg > terms.find_deg:
        after_one = _could_hide(one, shift, terms, after=1)
        after_all = _could_hide(one, shift, terms, after=terms.max_placements - one.placements)
        if after_all <= terms.find_deg or after_one <= hide_deg * (1.0 - terms.least_gain):
            held.add("worth another")
    return frozenset(held)


def _could_hide(one: Change, shift: Shift, terms: Terms, after: int = 0) -> float:
    """Return the smallest move (of the reference: shift) called by the looks that are left.

    after: with so many placements more.
    """
    limits, fixed = terms.thresholds, fixed_variance(one, terms.play_deg)
    first = one.placements + after
    prior, sd = prior_moved(one, terms), limits.move_sd_deg
    if one.blade == REFERENCE:
        prior, sd = limits.prior_shift, limits.shift_sd_deg
    elif shift.stage == "concluded":
        fixed += shift.u_deg**2
    return could_hide(
        believed(fixed),
        one.u_new_deg**2 * one.placements,
        tuple(range(first, max(terms.max_placements, first) + 1)),
        prior=prior,
        sd=sd,
        low=limits.steady_probability,
        high=limits.moved_probability,
    )
