"""Scenes of an invented job: views and events as an engine could give them."""

from dataclasses import replace

from shared.events import (
    REFERENCE,
    Alarm,
    Asked,
    Body,
    Captured,
    Event,
    Held,
    JobResult,
    Linked,
    Noted,
    Opened,
    StepChanged,
    Summary,
)
from shared.inputs import NS, CommandKind
from shared.view import AlarmView, BladeView, BoltCircle, LevelView, Live, Question, View

ROUNDS = ("reference", "set", "check", "snug", "nip", "torque", "final")


def told(*bodies: Body) -> list[Event]:
    return [Event(n, n * 7 * NS, body) for n, body in enumerate(bodies, start=1)]


def level(**changes: object) -> LevelView:
    base = LevelView("blade-level", "blade", "streaming", 18.4, 0.05, 20.0, 80.0, 0)
    return replace(base, **changes)  # type: ignore[arg-type]


def blade(number: int, label: str, state: str = "not set", **changes: object) -> BladeView:
    base = BladeView(number, label, state, None, None, None, None, None, "", False, False)
    return replace(base, **changes)  # type: ignore[arg-type]


def held(number: int, label: str, angle: float) -> BladeView:
    return blade(
        number,
        label,
        "held",
        angle_deg=angle,
        u95_deg=0.07,
        error_deg=angle - 18.5,
        tolerance="in",
    )


REFERENCE_ROW = BladeView(
    REFERENCE, "reference", "held", 1.24, 0.05, None, None, None, "", False, False, read_ns=5 * NS
)
BLADES = (
    REFERENCE_ROW,
    held(1, "red", 18.52),
    blade(2, "white", "setting", working=True),
    blade(3, "blue"),
)
AIMING = Live(
    18.08,
    -0.42,
    18.5,
    "0.42 too fine: turn coarser",
    "moving",
    0.0,
    None,
    False,
    False,
    near_deg=0.2,
)
READING: tuple[CommandKind, ...] = (
    *("take", "name", "again", "set", "back", "withdraw", "assign", "note", "abandon"),
)
"""What the engine offers where readings are taken."""
HANDS: tuple[CommandKind, ...] = ("done", "set", "back", "withdraw", "assign", "note", "abandon")
SET = View(
    t_ns=125 * NS,
    seen=6,
    job="Demo: three blades",
    tolerance_deg=0.15,
    spread_tolerance_deg=0.2,
    step=4,
    stage="set",
    blade=2,
    label="white",
    placement=1,
    placements=1,
    say="Turn blade 2 (white) horizontal, leading edge up, level across the chord at the station;"
    " turn the blade at its root. Do not touch blade 1.",
    stand="Stand at the aircraft's left, facing aft; the flat face looks at the cowling.",
    live=AIMING,
    blades=BLADES,
    spread_deg=None,
    alarms=(),
    levels=(level(),),
    rounds=ROUNDS,
    next_say="lift the level, put it back, read blade 2 again",
    finished=False,
    press="take",
    offers=READING,
)
SETTLING = replace(
    SET,
    live=Live(
        18.47, -0.03, 18.5, "hold still", "settling", 0.55, 0.021, False, False, near_deg=0.2
    ),
)
READY = replace(
    SET,
    live=Live(
        18.47,
        -0.03,
        18.5,
        "within tolerance: press",
        "ready",
        1.0,
        0.011,
        True,
        False,
        near_deg=0.2,
    ),
)
TAKEN = replace(
    SET,
    live=Live(
        18.47, -0.03, 18.5, "taken: lift the level", "still", 1.0, 0.011, False, True, near_deg=0.2
    ),
)
REREADING = replace(
    SET,
    stage="final",
    blade=2,
    placement=1,
    placements=2,
    say="Read blade 2 (white) again, tools away. The target stays hidden until it is taken.",
    live=Live(18.61, None, None, "hold still", "settling", 0.4, 0.03, False, False),
    blades=(
        replace(REFERENCE_ROW, state="steady", change_deg=0.01, could_hide_deg=0.12),
        replace(held(1, "red", 18.52), state="steady", change_deg=0.02, could_hide_deg=0.14),
        replace(held(2, "white", 18.46), state="may have turned", working=True),
        replace(held(3, "blue", 18.55), state="may have turned"),
    ),
    spread_deg=0.09,
    levels=(level(), level(name="hub-witness", role="hub", battery_percent=12.0)),
    next_say="read blade 3 (blue)",
)
MOVED = AlarmView(
    3,
    1,
    "red",
    "moved",
    "Blade 1 (red) has moved: 18.17 now, 18.52 when set; change -0.35 ± 0.11, probability 0.99.",
    18.52,
    settable=True,
)
ALARM = replace(
    REREADING,
    press=None,
    offers=("name", "again", "set", "withdraw", "assign", "acknowledge", "note", "abandon"),
    stage="answer",
    blade=1,
    label="red",
    say="Blade 1 (red) has moved. Set it again, or accept it with name and reason.",
    alarms=(MOVED,),
    blades=(
        REREADING.blades[0],
        replace(
            held(1, "red", 18.17),
            state="moved",
            change_deg=-0.35,
            alarm=True,
            working=True,
            tolerance="out",
        ),
        replace(REREADING.blades[2], working=False),
        REREADING.blades[3],
    ),
)
SILENT = replace(
    SET,
    live=Live(
        None, None, 18.5, "no signal for 3 s", "no signal", 0.0, None, False, False, near_deg=0.2
    ),
    levels=(
        level(state="silent", age_s=3.2, tilt_deg=None),
        level(name="hub-witness", role="hub", state="down", age_s=9.0, tilt_deg=None),
    ),
)
FINISHED = replace(
    REREADING,
    press="done",
    offers=HANDS,
    stage="finished",
    blade=None,
    label="",
    placement=0,
    placements=0,
    say="All blades are within tolerance. Levels off, tools counted, plugs and leads back.",
    next_say="",
    live=replace(AIMING, words="", error_deg=None, target_deg=None, angle_deg=None),
    blades=(
        REREADING.blades[0],
        *(
            replace(held(n, label, angle), state="steady", change_deg=0.01, could_hide_deg=0.13)
            for n, label, angle in ((1, "red", 18.52), (2, "white", 18.46), (3, "blue", 18.55))
        ),
    ),
    finished=True,
    result="within",
    spread="in",
)
SIX = replace(
    SET,
    blades=(
        REFERENCE_ROW,
        *(held(n, label, 18.4 + n / 50) for n, label in ((1, "A"), (2, "B"), (3, "C"))),
        blade(4, "D", "setting", working=True),
        blade(5, "E"),
        blade(6, "F"),
    ),
    blade=4,
    label="D",
)
TIGHTEN = replace(
    SET,
    press="done",
    offers=HANDS,
    stage="tighten",
    blade=None,
    label="snug",
    placement=0,
    placements=0,
    say="Snug the clamp bolts in star order, then press.",
    live=replace(AIMING, error_deg=None, target_deg=None, words="", motion="in hand"),
)

PREPARE = replace(
    TIGHTEN,
    offers=("done", "note", "abandon"),
    stage="prepare",
    label="",
    say="Make safe: ignition off and its ground verified, battery isolated on electric power, "
    "fuel off, throttle closed, chocks in, a tag on the switch, one plug a cylinder out where "
    "the engine allows, nobody in the arc. Treat the propeller as live. Press when done.",
)
CAUTION = Noted("caution", "Treat the propeller as live: ignition off and its ground verified.")
HISTORY = told(
    Opened("demo-1", "Demo: three blades", 3, 18.5, 0.15, "at the aircraft's left"),
    Linked("blade-level", "up"),
    Captured(
        1,
        REFERENCE,
        "reference",
        1.24,
        0.05,
        40,
        "blade-level",
        88.76,
        None,
        None,
        "normal",
        1,
        "press",
    ),
    Held(1, 18.52, 0.07, -0.02, "in"),
    StepChanged(4, "set", 2, "white", 1, 1, "Set blade 2 (white)."),
    CAUTION,
)
LINK_LOST = [*HISTORY, Event(7, 120 * NS, Linked("hub-witness", "down", "cable pulled"))]
ALARMED = [*HISTORY, Event(7, 120 * NS, Alarm(3, 1, "moved", 18.52, MOVED.say))]
LOOK = "Blade 2 reads -18.50: look, leading edge up? flat face to you?"
ASKED = [*HISTORY, Event(7, 120 * NS, Asked(5, 2, -18.5, LOOK))]
QUESTION = replace(SET, offers=(*READING, "confirm"), question=Question(5, 2, LOOK))
WITHIN = "within: spread 0.09 ± 0.10 of 0.20"
SUMMED = [
    *HISTORY,
    Event(
        7,
        300 * NS,
        Summary(
            "finished",
            [],
            0.09,
            0.23,
            1.24,
            0.01,
            [],
            [],
            14,
            result="within",
            spread_u95_deg=0.1,
            spread="in",
            say=WITHIN,
        ),
    ),
]


# --- one of every display -----------------------------------------------------------------------


def read_again(angle: float) -> Captured:
    """Blade 1 was held at 18.52, and is read again."""
    return Captured(9, 1, "final", angle, 0.05, 40, "l", 16.9, None, None, "normal", 1, "press")


LYING = replace(
    REREADING,
    live=replace(REREADING.live, taken=True, words="taken: lift the level", motion="still"),
)
"""The level still lies on blade 1; the step is the next blade's already."""
IN_HAND = replace(REREADING, live=replace(REREADING.live, motion="in hand", words="in hand"))
SLACKEN = replace(
    TIGHTEN, stage="slacken", blade=2, label="white", say="Slacken the bolts of blade 2 (white)."
)
EXCHANGED = replace(ALARM, alarms=(replace(MOVED, kind="exchanged", partner=3),))
SPREAD_OUT = replace(
    ALARM,
    alarms=(replace(MOVED, kind="out", blades=(1, 3), say="The set is out: 0.34 of 0.20."),),
    blades=(REFERENCE_ROW, *(held(n, m, 18.4 + n / 9) for n, m in ((1, "red"), (2, "white")))),
)
WATCHING = replace(
    TIGHTEN,
    stage="watch",
    label="",
    press="done",
    live=replace(AIMING, error_deg=None, target_deg=None, words="blade 1: quiet since 0:40"),
    say="Leave the levels where they are.",
    levels=(level(role="watch"),),
)


ALARM_WAITS = replace(
    REREADING,
    alarms=(MOVED,),
    live=replace(AIMING, motion="in hand", error_deg=None, target_deg=None, taken=False),
)
"""An alarm of another blade, in the middle of a round that is read to its end first."""


HUB_BOLTS = BoltCircle("hub", (1, 4, 2, 5, 3, 6), 1, (), "25.0 N·m", each=False, dial="21.3 N·m")
TORQUE = replace(
    TIGHTEN,
    label="torque",
    placement=2,
    placements=3,
    bolts=HUB_BOLTS,
    say=(
        "Each of the 6 hub bolts to 25.0 N·m, wrench set to 21.3 N·m, in this order: 1 4 2 5 3 6 (2 of "
        "3). A smooth pull, one click; hold the hub, not a blade. Press when done."
    ),
)
BOLT_BY_BOLT = replace(
    TORQUE,
    placement=3,
    placements=6,
    bolts=replace(HUB_BOLTS, next=2, done=(1, 4), each=True, dial=""),
    say="Bolt 2 of the 6 hub bolts to 25.0 N·m, in this order: 1 4 2 5 3 6 (3 of 6). Press when done.",
)
WRENCH = replace(
    TORQUE,
    stage="wrench",
    placement=1,
    placements=1,
    say="A second person reads the wrench: wrench 3, calibrated until 2027-03, set to 21.3 N·m.",
)
CHECK_OFF = replace(
    TIGHTEN,
    stage="check off",
    label="rim",
    placement=1,
    placements=2,
    say="New washers: checked? Press when it is (1 of 2).",
)


def over(result: JobResult, **changes: object) -> View:
    """A job that came to this."""
    return replace(FINISHED, result=result, spread_deg=0.34, **changes)  # type: ignore[arg-type]


TAKEN_OF = [*HISTORY, Event(7, 120 * NS, read_again(18.55))]
SURPRISED = [*HISTORY, Event(7, 120 * NS, read_again(18.13))]
DISPLAYS: dict[str, tuple[View, list[Event]]] = {
    "taken": (LYING, TAKEN_OF),
    "surprise": (LYING, SURPRISED),
    "in-hand": (IN_HAND, HISTORY),
    "slacken": (SLACKEN, HISTORY),
    "exchanged": (EXCHANGED, ALARMED),
    "torque": (TORQUE, HISTORY),
    "bolt-by-bolt": (BOLT_BY_BOLT, HISTORY),
    "wrench": (WRENCH, HISTORY),
    "check-off": (CHECK_OFF, HISTORY),
    "spread-alarm": (SPREAD_OUT, ALARMED),
    "watching": (WATCHING, HISTORY),
    "out": (over("out", blades=ALARM.blades), HISTORY),
    "spread-out": (over("out"), HISTORY),
    "too-close": (over("too close to say"), HISTORY),
    "open": (over("open"), HISTORY),
    "abandoned": (over("abandoned"), HISTORY),
}
