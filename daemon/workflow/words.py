"""What the program says to the person at the blades: short, in the words of the trade."""

from collections.abc import Mapping, Sequence
from typing import Literal

from daemon.measure.angle.correction import Correction
from daemon.measure.angle.geometry import rising_side
from daemon.measure.angle.verdict import SetVerdict
from daemon.workflow.hands import Hand, dial_of, torque_of
from daemon.workflow.ledger import Entry
from daemon.workflow.plan import Step
from daemon.workflow.referred import SECOND
from shared import wording
from shared.events import REFERENCE, BladeId
from shared.job import Job
from shared.pauses import TAKE_BACK_S

PRESS_DONE = "Press when done."
PREPARE = (
    "Make safe. Ignition off and its ground verified, battery isolated on electric power, fuel "
    "off, throttle closed, chocks in, a tag on the switch, one plug a cylinder out where the "
    "engine allows, nobody in the arc. Treat the propeller as live. The manuals come first. "
    "Press when done."
)
TIGHTEN = {
    "snug": (
        "Snug the clamp bolts, in star order. Hold the hub, not a blade, while the wrench pulls. "
        "Do not touch the blades. Press when done."
    ),
    "nip": (
        "Nip the clamp bolts, in star order. Hold the hub, not a blade, while the wrench pulls. "
        "Do not touch the blades. Press when done."
    ),
    "torque": (
        "Torque the clamp bolts in star order, in passes. To the manual's value: wrench in "
        "calibration, a smooth pull, the setting read by a second person. Hold the hub, not a "
        "blade, while the wrench pulls. Press when done."
    ),
}
CAUTIONS = {
    "reference": (
        "Strap the propeller: with a plug out it swings under a level's weight. Tether the level; "
        "magnets do not hold on wood, composite or aluminium, clips mark edges. On a tail-dragger "
        "with its tail raised: trestle and ballast, mind the wind."
    ),
    "set": (
        "Take the level off before the propeller is turned. Turn it by the hub, only the way the "
        "manual allows: never by a blade that is set."
    ),
    "snug": "Tightening turns blades: hands off them; everything is read again afterwards.",
    "nip": "A nipped blade may turn its neighbour: everything is read again afterwards.",
    "torque": (
        "The manual's torque, a wrench in calibration and inside its range, the prevailing torque "
        "of self-locking nuts added, single-use fasteners renewed, threads clean and dry unless "
        "the manual says otherwise. An adapter changes the setting. If it chatters: back off, "
        "torque again."
    ),
    "slacken": (
        "Slackening may turn every blade that these bolts hold: all are read again after "
        "tightening. Renew single-use fasteners as the manual says."
    ),
    "finished": (
        "Too fine a setting overspeeds the engine in take-off, climb or dive, too coarse may not "
        "develop static rpm: a tied-down ground run before flight, and small steps. Check the "
        "bolts again after the first flight and at the manual's interval. The manuals and local "
        "rules come first; release is for those entitled to it: this program signs nothing off."
    ),
}
"""Said once, when the work first comes to a stage (or to tightening for a round)."""
SAME_SIDE = (
    "These blades have play: bring each up to its angle from the same side every time, past it "
    "and back where it went too far, so that the play is always taken up alike."
)
"""Said with the caution of setting, where blades have play."""
BOTH_SIDES = (
    "This reference does not see a change of the level itself: prove the level's zero before the "
    "work and after it."
)
"""Said with the caution of the reference, where one blade is read on both sides."""
ALL_ALIKE = (
    "all blades changed alike and the tilt of the shaft did not: a level whose zero has shifted "
    "looks just like that, and a reference from both sides of a blade does not see it. Prove the "
    "level's zero before any blade is set again."
)
BORNE_OUT = (
    "the reference shifted as far as the witness on the hub saw the aircraft tilt: it was the "
    "aircraft. The new reference counts from here, for what was read before too."
)
WAS_NOT_THERE = (
    "This blade is held, and did not stand there when it was: it has moved, or the aircraft has. "
    "Read the reference; set the blade again."
)
"""Said of a held blade that its level cannot tell any more."""
TURNED_AFTER = "turned under the level after it was read"
AFTER = {
    "check": "before tightening",
    "snug": "after snugging",
    "nip": "after nipping",
    "torque": "after torque",
    "final": "final reading, tools away",
    "found": "as found",
    "look": "once more, in between",
}


def unproven(job: Job, levels: Mapping[str, str]) -> str:
    """Name the levels whose zero was not proven in time; "" where there are none."""
    if not levels:
        return ""
    return (
        f"The zero of {_with_dates(levels)} was not proven within the {job.setup.zero_days} "
        "days that the job states: prove it first (levels zero)."
    )


def was_unproven(job: Job, levels: Mapping[str, str]) -> str:
    """Name the same levels beside a result."""
    return f"zero of {_with_dates(levels)} not proven within {job.setup.zero_days} days"


def _with_dates(levels: Mapping[str, str]) -> str:
    return wording.together([f"{name} (last: {date or 'never'})" for name, date in levels.items()])


def caution(job: Job, about: str) -> str:
    """Return the caution for a stage, or "" where there is none."""
    text = CAUTIONS.get(about, "")
    if about == "reference" and job.setup.reference == "both-sides":
        return f"{text} {BOTH_SIDES}"
    if about == "set" and job.setup.play_deg > 0.0:
        return f"{text} {SAME_SIDE}"
    return text


def named(job: Job, blade: BladeId | None) -> str:
    """Return "blade 2, red", "blade 2", "the reference" or "unassigned"."""
    label = "" if blade is None or blade == REFERENCE else job.propeller.label(int(blade))
    return wording.blade_name(blade, label, ", {}")


def after(job: Job, stage: str) -> str:
    """Return when a round is: "after snugging"; a round of the job's own: "after rim bolts"."""
    like = next((one.like for one in job.plan.in_order if one.name == stage), "")
    if stage in AFTER:
        return AFTER[stage]
    clamp = stage.removeprefix(like).strip()
    return f"{AFTER[like]} {clamp}" if like in AFTER else f"after {stage}"


def label(job: Job, step: Step) -> str:
    """Return the short name a screen shows for a step."""
    if step.stage in {"tighten", "wrench", "check off"}:
        return step.round
    if step.blade is None:
        return ""
    return "reference" if step.blade == REFERENCE else job.propeller.label(int(step.blade))


TakenBy = Literal["press", "landing", "gesture"]
TAKEN_BY: dict[TakenBy, str] = {
    "press": "Press once when it lies",
    "landing": "Leave it until it is taken",
    "gesture": "Turn it over and back, then lay it; or press once when it lies",
}


def instruction(job: Job, step: Step, hand: Hand | None = None, by: TakenBy = "press") -> str:
    """Return what to do now.

    hand: what the hands do next in this round. by: what takes a reading of this step.
    """
    match step.stage:
        case "":
            return ""
        case "prepare":
            return PREPARE
        case "tighten":
            return _tighten(job, step, hand)
        case "wrench":
            return _confirm_wrench(job, hand)
        case "check off":
            return f"{hand.say if hand else ''}: checked? {_press_done(step)}"
        case "slacken":
            return _slacken(named(job, step.blade))
        case "answer" | "finished" | "watch":
            return WAITS[step.stage]
        case _:
            return _place(job, step, f"{TAKEN_BY[by]}{_many(step)}.")


WAITS = {
    "answer": "An alarm needs an answer. Set the blade again, or accept with a reason.",
    "finished": (
        "All blades are read. If a hand was on hub or blade since, look at all of them again. "
        "Bolts locked as the manual says, witness marks across them, then the track. Every level "
        "off, tools counted, plugs and leads back. Press to close the record."
    ),
    "watch": (
        "Watching the blades that levels were left on. Work elsewhere on the hub; do not turn "
        "the propeller. Take every level off before anyone swings it."
    ),
}
"""What is said in stages in which nothing is read and no bolt is touched."""


def _slacken(name: str) -> str:
    return (
        f"Slacken until {name} just turns by hand. The clamp bolts in reverse order, a little at a "
        "time. Hands off every other blade. Press when done."
    )


def _place(job: Job, step: Step, taken: str) -> str:
    """Return what to lay the level on, and how; taken: what takes the reading."""
    if step.blade == REFERENCE:
        return _read(step, _at_the_reference(job, step), taken)
    name, stands, at_station = named(job, step.blade), _stands(job), _at_station(job)
    match step.stage:
        case "found":
            return (
                f"As found: level on {name}, {stands}. {at_station}, before a bolt is touched. "
                f"{taken}"
            )
        case "set":
            return (
                f"Set {name}, {stands}. {at_station}. "
                "Turn the blade at its root until the angle is right, then let go."
            )
        case "baseline":
            return f"Hands off {name}: lift the level, lay it on again. {at_station}. {taken}"
        case _:
            what = f"Level on {name}, {stands}. {at_station}, {after(job, step.stage)}."
            return _read(step, what, taken)


def _read(step: Step, what: str, taken: str) -> str:
    """Return what a round reads, and which placement of it; the reference before all rounds too."""
    if step.round and step.placement > 1:
        what = f"Once more: l{what.removeprefix('L')} Lift it and place it again."
    return f"{what} {taken}"


def _tighten(job: Job, step: Step, hand: Hand | None) -> str:
    """Return what the wrench does now: a round's own words, or those of the round it is like."""
    one = next((one for one in job.plan.in_order if one.name == step.round), None)
    if one is None:
        return TIGHTEN.get(step.round, "")
    if hand is None or hand.group is None:
        do = one.say or TIGHTEN.get(one.like, f"Tighten for {one.name!r}, as the manual says.")
        of = f" Only the bolts that hold {_blades(job, one.blades)}." if one.blades else ""
        return f"{do.removesuffix(PRESS_DONE).strip()}{of} {PRESS_DONE}"
    return f"{one.say} {_pull(job, step, hand)}".strip()


def _pull(job: Job, step: Step, hand: Hand) -> str:
    """Return one pass over a group of bolts, or one bolt of it."""
    group, dial = hand.group, dial_of(job.plan, hand)
    if group is None:
        return ""
    order = " ".join(map(str, group.in_order))
    which = f"bolt {hand.bolt} of" if hand.bolt else "each of"
    set_to = f", wrench set to {dial}" if dial and dial != torque_of(hand) else ""
    inside = " The prevailing torque is in it." if group.prevailing else ""
    return (
        f"{which.capitalize()} the {group.count} {group.name} bolts to {torque_of(hand)}{_many(step)}. "
        f"In this order: {order}{set_to}.{inside} A smooth pull, one click; hold the hub, not a blade. "
        f"{PRESS_DONE}"
    )


def _confirm_wrench(job: Job, hand: Hand | None) -> str:
    """Return what a second person confirms before the first pull."""
    wrench = job.plan.wrench
    if wrench is None or hand is None:
        return ""
    date = (
        f", calibrated until {wrench.calibrated}"
        if wrench.calibrated
        else ", calibration not stated"
    )
    adapter = " with its adapter on" if wrench.adapter_mm else ""
    return (
        f"A second person reads the wrench: set to {dial_of(job.plan, hand)}"
        f"{adapter}? {wrench.name}{date}. The program cannot know what a bolt gets. {PRESS_DONE}"
    )


def _blades(job: Job, blades: Sequence[int]) -> str:
    return wording.together([named(job, blade) for blade in blades])


def _press_done(step: Step) -> str:
    return f"Press when it is{_many(step)}."


def _station(job: Job) -> str:
    """Return where on the blade the level goes, in the manual's own words."""
    station = job.propeller.station.strip()
    return f"at the station ({station})" if station else "at the station"


def _at_station(job: Job) -> str:
    """Return how the level has to lie on a blade."""
    return f"Across the chord {_station(job)}, leading edge up"


def _stands(job: Job) -> str:
    """Return how a blade has to stand."""
    return f"horizontal on the aircraft's {rising_side(job.propeller.rotation)}"


def _at_the_reference(job: Job, step: Step) -> str:
    """Return how hub and level have to be for the reference, by the way it is read."""
    mark = job.propeller.label(1)
    first = "blade 1" + (f" ({mark})" if mark != "1" else "")
    if job.setup.reference == "both-sides":
        if step.half == 1:
            return (
                f"Level on {first}, horizontal, leading edge up. Across the chord at the station; it "
                "must not turn in its socket before its other side is read."
            )
        return (
            f"Propeller half a turn on: {first} horizontal, leading edge down. By the hub; level on it "
            "as before, the same end to the leading edge."
        )
    if step.half == SECOND:
        return (
            f"Propeller half a turn on: {first} horizontal. Level on the hub face, the way it "
            "pointed before."
        )
    return f"Level on the hub face, {first} horizontal. In the plane of rotation."


def not_where_set(job: Job, blade: BladeId, off_deg: float) -> str:
    """Return why a blade that was set is laid on once more."""
    return (
        f"{named(job, blade)} reads {abs(off_deg):.2f} {_direction(off_deg)} than it was set to: it turned when "
        "it was let go, or the level is not at the same place. It is laid on once more."
    )


def wobble(lean_deg: float) -> str:
    """Return what two positions of the hub showed of the surface."""
    return (
        f"half a turn apart the hub face reads {2.0 * lean_deg:.2f} differently: it leans by "
        f"{lean_deg:.2f} against the plane of rotation, and the mean is the shaft's tilt"
    )


def _many(step: Step) -> str:
    """Return which of how many it is; nothing where it is the only one."""
    return f" ({step.placement} of {step.placements})" if step.placements > 1 else ""


def tilted(by_deg: float, *, setting: bool, reading: bool) -> str:
    """Return what the witness on the hub saw of the aircraft, and what follows."""
    way = "up" if by_deg > 0 else "down"
    then = ""
    if setting:
        then = " The reference is read again first."
    elif reading:
        then = " Everything in this round is read once more, the reference first."
    return (
        f"the aircraft has tilted nose-{way} by {abs(by_deg):.2f} since the hub last stood like "
        f"this: the witness on the hub saw it.{then}"
    )


def proven(level: str) -> str:
    """Return that the job goes without a press from here on."""
    return (
        f"{level} was turned over: from here on it is read where it is laid down as expected. Turned over "
        "once more it says that work is done, or takes a reading back."
    )


def turned_over(did: str) -> str:
    """Return what a level that was turned over stood for."""
    return f"the level was turned over: {did}."


def not_left(did: str) -> str:
    """Return what was done because nobody took it back."""
    return f"nobody took it back: {did}."


def set_again_soon(job: Job, blades: Sequence[BladeId]) -> str:
    """Return that the level was turned over for an alarm, and how to take that back."""
    which = " and ".join(named(job, blade) for blade in blades)
    return (
        f"the level was turned over: {which} to be set again, in {TAKE_BACK_S:.0f} s. Turned over once "
        "more, or pressed, before that: the alarm stands."
    )


def unproven_hearing(why: str) -> str:
    """Return that every reading wants a press again."""
    return f"{why}: one press a reading, until the level is turned over once more."


def aimed(at: str, deg: float, pulled_deg: float | None) -> str:
    """Return what is aimed at from now on, for the record."""
    why = {
        "target": "the target",
        "held": "the mean of the blades that are held",
        "off": f"as far beside the target as these bolts turned all blades ({pulled_deg or 0.0:+.2f})",
    }
    return f"blades are set to {deg:.2f} from here: {why.get(at, at)}."


def turns_alike(pulled_deg: float) -> str:
    """Return the proposal to aim off, said while a blade is set."""
    return (
        f"These bolts turned all blades {abs(pulled_deg):.2f} {_direction(pulled_deg)} the last time: set "
        f"them that much {_direction(-pulled_deg)} this time?"
    )


def earlier(when: str) -> str:
    """Return the proposal to read everything as it was found."""
    return f"This hub was set before ({when}): read it as found, before a bolt is touched?"


def _direction(deg: float) -> str:
    return "coarser" if deg > 0 else "finer"


def stood_still(away_s: float) -> str:
    """Return that nobody was there."""
    return f"the work stood still for {away_s / 60.0:.0f} minutes"


def read_first(why: str, *, again: bool) -> str:
    """Return what follows from it. again: readings of the round before it do not count any more."""
    then = "this round starts over" if again else "the reference and what is held are read first"
    return f"{why}: {then}."


def not_tilted(saw_deg: float, change_deg: float) -> str:
    """Return what to look at when the reference does not bear the witness out."""
    return (
        f"the witness on the hub moved by {abs(saw_deg):.2f}, and the shaft's tilt by "
        f"{change_deg:+.2f} only. Look: does the witness still sit as it was taped?"
    )


def witness_asks(job: Job, stands: int, blade: int) -> str:
    """Return the question when the hub witness sees another blade than the step asks for."""
    return (
        f"the witness on the hub sees {named(job, stands)} horizontal, and the step asks for "
        f"{named(job, blade)}. Look: which blade is the level on?"
    )


def no_witness(level: str) -> str:
    """Return what `watch` says of a level on the hub."""
    return (
        f"level {level} on the hub is no witness while watching: a hub may turn under the wrench. For "
        'one of the aircraft lay a level on the cowling, with role = "watch" and watches = 0.'
    )


def disagreement(job: Job, blade: BladeId, apart_deg: float, entries: Sequence[Entry]) -> str:
    """Say that the placements of one pass cannot all be of this member."""
    name, listed = named(job, blade), placements(entries)
    return (
        f"the placements of {name} disagree by {apart_deg:.2f} ({listed}): withdraw the wrong one"
    )


def placements(entries: Sequence[Entry]) -> str:
    """Return "reading 3: 21.05, reading 4: 18.20"."""
    return ", ".join(f"reading {e.id}: {e.angle.angle_deg:.2f}" for e in entries)


def tightened(stage: str, *, touched: bool) -> str:
    """Return what turned a blade in a round. touched: no round before the bolts excludes a hand."""
    return f"{stage}, or touched before it" if touched else stage


def set_is_out(
    job: Job,
    verdict: SetVerdict,
    angles_deg: Mapping[int, float],
    aim_deg: float,
    out: Sequence[int],
    found: Correction,
) -> str:
    """Return what is out after a round, and which blades to set again.

    angles_deg: by blade; aim_deg: what they are judged by; out: blades out of tolerance.
    """
    target = job.target
    parts = [
        f"{named(job, blade)} out: {off(angles_deg[blade] - aim_deg)} of {target.tolerance_deg:.2f}"
        for blade in out
    ]
    if verdict.spread == "out":
        parts.append(f"spread out: {verdict.spread_deg:.2f} of {target.spread_deg:.2f}")
    names = wording.together([named(job, blade) for blade in found.blades])
    beside = abs(found.aim_deg - aim_deg) >= AIM_BESIDE_DEG
    aim = f" to {found.aim_deg:.2f}, for the others stay" if beside else ""
    return f"{'; '.join(parts)}. Setting {names} again{aim} puts it right"


AIM_BESIDE_DEG = 0.005
"""An aim so far beside the target is said."""


def turned_after(job: Job, entry: Entry, by_deg: float, *, void: bool) -> str:
    """Say that what a level lies on was turned after its reading; by_deg: of what it shows."""
    name, of = named(job, entry.blade), f"reading {entry.id}"
    if not void:
        return f"{name} was turned by {by_deg:+.2f} after {of}: its fresh placements count."
    return (
        f"{name} or the aircraft was turned under the level by {by_deg:+.2f} after {of}, or the "
        f"level slid: {of} does not count. Lift the level and read it again."
    )


def turned_at_bolts(job: Job, entry: Entry, by_deg: float) -> str:
    """Say that what a level was left on was turned while the bolts were worked on."""
    return (
        f"{named(job, entry.blade)} was turned under the level by {by_deg:+.2f} at the bolts: "
        "it is read again after them. Take the level off before the wrench pulls."
    )


def crept(job: Job, entry: Entry) -> str:
    """Return what to do when the angle creeps under the level just after a reading."""
    return (
        f"{named(job, entry.blade)} creeps under the level after reading {entry.id}: it may "
        "have crept while it was read. Let go, wait until it rests, and read it again or take "
        "that reading back."
    )


def sways(by_deg: float, *, again: bool) -> str:
    """Return that the aircraft sways, and what that does to the readings.

    again: the reference has to be read again.
    """
    reference = " The reference is read again first." if again else ""
    return (
        f"the aircraft sways by about {by_deg:.2f} to either side: readings take longer, and those "
        f"before now are held for off by as much.{reference} Chock the wheels, support the tail, "
        "keep everybody off it, or wait for the wind to drop."
    )


def careless_azimuth(job: Job, times: float) -> str:
    """Return that blades are not brought to horizontal as well as the job states."""
    stated_deg = job.setup.psi_u_deg
    return (
        "the blades changed each by another amount, as they do where they are not brought to "
        f"horizontal alike. Within {stated_deg:.1f} is stated (psi_u_deg); from now on it is held "
        f"for {times * stated_deg:.1f}, and every angle is as unsure as that. Bring each blade to "
        "horizontal with a level along its span and strap it; a witness on the hub measures it."
    )


def error_words(error_deg: float, near_deg: float) -> str:
    """Return how far off a blade is and which way to turn it; near_deg: so near it may be let go."""
    if abs(error_deg) <= near_deg:
        return f"{abs(error_deg):.2f} {_side(error_deg)}: in, let go"
    turn = "finer" if error_deg > 0 else "coarser"
    return f"{abs(error_deg):.2f} too {_side(error_deg)}: turn {turn}"


def off(error_deg: float) -> str:
    """Return how far off, without advice: "0.42 too coarse"."""
    return f"{abs(error_deg):.2f} too {_side(error_deg)}"


def _side(error_deg: float) -> str:
    return "coarse" if error_deg > 0 else "fine"
