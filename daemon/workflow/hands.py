"""What the hands do in a round before anything is read: check off, confirm the wrench, tighten. Pure.

stage       one for each                           pressed when
check off   line of the round's `before`, `after`  it is so
wrench      round that torques, with a wrench      somebody else has read its setting
tighten     pass over a group of bolts, or bolt    it is pulled
tighten     tightening round without groups        it is tight
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from shared.plan import Bolts, Plan, Round
from shared.torque import SAID

HandStage = Literal["check off", "wrench", "tighten"]


@dataclass(frozen=True, slots=True)
class Hand:
    """One thing that the hands do.

    say: what is checked off; "" for all else. share: of the group's torque, in this pass. bolt: its
    number, 0 where a pass is one press.
    """

    stage: HandStage
    say: str = ""
    group: Bolts | None = None
    share: float = 1.0
    bolt: int = 0


def hands_of(plan: Plan, one: Round) -> tuple[Hand, ...]:
    """Return what the hands do in a round, in order."""
    return tuple(_hands(plan, one))


def _hands(plan: Plan, one: Round) -> Iterator[Hand]:
    for text in one.before:
        yield Hand("check off", text)
    groups = [plan.group(name) for name in one.torque]
    if groups and plan.wrench is not None:
        yield Hand("wrench", group=groups[0], share=groups[0].passes[0])
    for group in groups:
        for share in group.passes:
            bolts = group.in_order if group.each else [0]
            yield from (Hand("tighten", group=group, share=share, bolt=bolt) for bolt in bolts)
    if one.tighten and not groups:
        yield Hand("tighten")
    for text in one.after:
        yield Hand("check off", text)


def torque_of(hand: Hand) -> str:
    """Return what is put into the bolts: "15.0 N·m"; "" where no torque is given."""
    if hand.group is None:
        return ""
    return f"{hand.group.at(hand.share):.1f} {SAID[hand.group.unit]}"


def dial_of(plan: Plan, hand: Hand) -> str:
    """Return what to set on the wrench: "13.2 N·m"; "" without a wrench or a torque."""
    if hand.group is None or plan.wrench is None:
        return ""
    dial = plan.wrench.dial(hand.group.at(hand.share), hand.group.unit)
    return f"{dial:.1f} {SAID[plan.wrench.unit]}"
