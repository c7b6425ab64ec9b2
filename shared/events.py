"""What the core says: numbered, recorded, verified. One dataclass a kind of event.

Readers ignore unknown fields and keep unknown kinds. Angles in degrees; every number that
leaves the engine is rounded to a millionth (`shared.angles.stated`).
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

REFERENCE: Literal["reference"] = "reference"
BladeId = int | Literal["reference"]
"""A blade by its number from 1, or the reference surface."""

Sense = Literal["normal", "reversed"]
"""Which way the level points: `reversed` is turned end for end."""
Half = Literal[0, 1, 2]
"""Which half of a reference that is read in two: at the first hub position or side, or half a
turn further on; 0 = anything else."""
VerdictState = Literal[
    "moved",
    "turned",  # by tightening
    "steady",
    "place again",
    "shifted",  # the reference: aircraft or level
    "not known",  # what could hide exceeds the tolerance, or a shift is suspected
    "within play",
    "exchanged",  # two labels
]
Tolerance = Literal["in", "out", "too close to say"]
JobResult = Literal["within", "too close to say", "out", "open", "abandoned"]
"""What a job came to, by tolerance and spread; the worst of what holds: abandoned, open, out,
too close to say, within."""
Result = Literal["done", "stale", "late", "refused"]
"""What became of a command."""
Wants = Literal["", "nose"]
"""What the answer to a question has to say besides yes: which way the shaft points."""
AlarmKind = Literal[
    "moved",
    "turned",  # by tightening
    "not known",  # placed as often as the plan allows, and still not clear
    "exchanged",
    "shifted",  # the reference: aircraft or level
    "out",  # out of tolerance; after a round the whole set, by tolerance or spread
    "changed",  # while watching: blade or aircraft
    "creeping",
    "level",  # swapped, stuck, in another mode
]


@dataclass(frozen=True, slots=True)
class Opened:
    """The first event of a session."""

    session: str
    job: str
    blades: int
    target_deg: float
    tolerance_deg: float
    stand: str
    """Where to stand and how the blade lies, in words."""
    continues: str = ""
    event: Literal["opened"] = "opened"


@dataclass(frozen=True, slots=True)
class Linked:
    """A level came up or went away, or is silent though its link is up."""

    level: str
    state: Literal["up", "down", "silent", "back", "stuck", "mode", "swapped"]
    reason: str = ""
    gap_s: float = 0.0
    event: Literal["link"] = "link"


@dataclass(frozen=True, slots=True)
class Refused:
    """Something on the line was not a sample; said at the 1st, 10th, 100th ... of a reason."""

    level: str
    reason: str
    count: int
    event: Literal["refused"] = "refused"


@dataclass(frozen=True, slots=True)
class StepChanged:
    """The plan proposes this now. Commands that had not seen it are stale."""

    step: int
    """Counts up with every change of step."""
    stage: str
    """See `daemon.workflow.plan`: reference, set, tighten ... or the name of a round."""
    blade: BladeId | None
    label: str
    placement: int
    """Which placement of this step, from 1."""
    placements: int
    """How many are wanted; more when a verdict asks for them."""
    say: str
    """The instruction, in words."""
    half: Half = 0
    event: Literal["step"] = "step"


@dataclass(frozen=True, slots=True)
class Captured:
    """A reading was taken."""

    id: int
    """Number of the reading in its session; readings are never deleted."""
    blade: BladeId | None
    """None: unassigned, which is legal."""
    stage: str
    angle_deg: float
    """Blade angle; for the reference the shaft's tilt, nose-up positive. Half of a reference
    from both sides: the blade angle as it would be were the shaft level."""
    u95_deg: float
    samples: int
    level: str
    reading_deg: float
    """The level's own averaged tilt, before reference and mounting."""
    error_deg: float | None
    """angle - target; None for the reference."""
    tolerance: Tolerance | None
    sense: Sense
    placement: int
    by: Literal["turn", "press", "button", "landing", "gesture"]
    """What confirmed that the level was on this blade."""
    reached: bool = True
    """False: it was taken before the average was good enough, after the longest time or by a press."""
    half: Half = 0
    event: Literal["captured"] = "captured"


@dataclass(frozen=True, slots=True)
class Held:
    """A blade is set and has its baseline: from here on nobody may touch it."""

    blade: int
    angle_deg: float
    u95_deg: float
    lift_effect_deg: float
    """Mean of the fresh placements minus the value before the level was first lifted."""
    tolerance: Tolerance
    event: Literal["held"] = "held"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What became of one blade, or of the reference, since its baseline."""

    blade: BladeId
    state: VerdictState
    change_deg: float
    u95_deg: float
    probability: float
    stage: str
    placements: int
    say: str
    """One sentence with its numbers."""
    could_hide_deg: float | None = None
    """Steady only: the smallest move that would have been seen 19 times in 20."""
    event: Literal["verdict"] = "verdict"


@dataclass(frozen=True, slots=True)
class Judged:
    """Where blades and spread stand after a round, by their limits, each with its guard band."""

    stage: str
    blades: list[dict[str, Any]]
    """One object a blade: blade, label, angle_deg, u95_deg, error_deg, tolerance."""
    spread_deg: float | None
    """None, and the next two: not every blade was read."""
    spread_u95_deg: float | None
    spread: Tolerance | None
    together: Tolerance | None
    """The worst of blades and spread."""
    say: str
    event: Literal["judged"] = "judged"


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something needs an answer. Nothing dismisses itself."""

    id: int
    blade: BladeId
    kind: AlarmKind
    last_good_deg: float | None
    say: str
    partner: BladeId | None = None
    """With whom its labels were exchanged."""
    blades: tuple[int, ...] = ()
    """Of the whole set: which to set again, the fewest that put tolerance and spread right."""
    event: Literal["alarm"] = "alarm"


@dataclass(frozen=True, slots=True)
class Cleared:
    """An alarm was answered by a person or cleared by a re-reading."""

    alarm: int
    how: Literal["set-again", "accept", "exchange", "re-reading", "confirm"]
    by: str
    reason: str = ""
    event: Literal["cleared"] = "cleared"


@dataclass(frozen=True, slots=True)
class Asked:
    """A reading looks like a wrong sign, face, mode or unit. Never corrected, only asked."""

    id: int
    blade: BladeId | None
    reading_deg: float
    say: str
    wants: Wants = ""
    event: Literal["asked"] = "asked"


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A reading does not count any more; it stays in the record."""

    id: int
    reason: str
    event: Literal["withdrawn"] = "withdrawn"


@dataclass(frozen=True, slots=True)
class Assigned:
    """A reading was given to another blade; both entries stay."""

    id: int
    blade: BladeId
    before: BladeId | None
    event: Literal["assigned"] = "assigned"


@dataclass(frozen=True, slots=True)
class Watched:
    """A level left on a held blade saw something (see daemon.measure.watch)."""

    level: str
    blade: BladeId
    state: Literal["changed", "moved", "creeping", "shaken", "lifted", "no signal", "quiet"]
    change_deg: float
    u95_deg: float
    say: str
    event: Literal["watch"] = "watch"


@dataclass(frozen=True, slots=True)
class Learned:
    """Noise or seating of a level, learned in this session; the shell stores it."""

    level: str
    what: Literal["noise", "seating", "rate"]
    value: float
    lag1: float
    samples: int
    event: Literal["learned"] = "learned"


@dataclass(frozen=True, slots=True)
class Noted:
    """Words or a clock change, for the record."""

    kind: Literal["note", "clock", "caution"]
    say: str
    event: Literal["noted"] = "noted"


@dataclass(frozen=True, slots=True)
class Answered:
    """The answer to a command."""

    command: str
    client: str
    result: Result
    say: str = ""
    event: Literal["answered"] = "answered"


@dataclass(frozen=True, slots=True)
class Summary:
    """The last event: where everything stands."""

    state: Literal["finished", "ended early", "abandoned, do not fly"]
    blades: list[dict[str, Any]]
    """One object a blade: blade, label, angle_deg, u95_deg, state, tolerance, and accepted: one
    object an alarm of it that was accepted, kind, by and reason. Accepting changes no verdict."""
    spread_deg: float | None
    spread_95_deg: float | None
    """Equal blades would show less than this 19 times in 20."""
    reference_deg: float | None
    closure_deg: float | None
    """Last reference minus the first."""
    called_moved: list[int]
    open_alarms: list[int]
    readings: int
    refused: dict[str, int] = field(default_factory=dict)
    unproven: dict[str, str] = field(default_factory=dict)
    """Levels whose zero was not proven within the interval that the job states, and when last."""
    result: JobResult | None = None
    """None: nothing was judged (it only watched), or told by an older version."""
    spread_u95_deg: float | None = None
    """Guard band of the spread."""
    spread: Tolerance | None = None
    say: str = ""
    """The result in one sentence, with its reasons."""
    event: Literal["summary"] = "summary"


@dataclass(frozen=True, slots=True)
class Unknown:
    """An event of a later version: kept as it was written."""

    event: str
    data: dict[str, Any]


Body = (
    Opened
    | Linked
    | Refused
    | StepChanged
    | Captured
    | Held
    | Verdict
    | Judged
    | Alarm
    | Cleared
    | Asked
    | Withdrawn
    | Assigned
    | Watched
    | Learned
    | Noted
    | Answered
    | Summary
    | Unknown
)


Say = Callable[[Body], int]
"""Says an event; returns its number."""


@dataclass(frozen=True, slots=True)
class Event:
    """One event of a session: (session, n) is its identity, n counts from 1 without gaps."""

    n: int
    t_ns: int
    body: Body

    BODIES: ClassVar[tuple[type, ...]] = (
        Opened,
        Linked,
        Refused,
        StepChanged,
        Captured,
        Held,
        Verdict,
        Judged,
        Alarm,
        Cleared,
        Asked,
        Withdrawn,
        Assigned,
        Watched,
        Learned,
        Noted,
        Answered,
        Summary,
    )
