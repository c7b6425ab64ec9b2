"""What a face needs to draw right now. Never recorded; the newest wins.

Frozen and built of plain values, so that any face may keep it as long as it likes.
"""

from dataclasses import dataclass
from typing import Literal

from shared.events import BladeId, JobResult, Tolerance, Wants
from shared.inputs import CommandKind


@dataclass(frozen=True, slots=True)
class LevelView:
    """One level's health."""

    name: str
    role: Literal["blade", "hub", "watch"]
    state: Literal["waiting", "streaming", "silent", "down", "stuck"]
    tilt_deg: float | None
    age_s: float | None
    """Time since its last valid sample."""
    rate_hz: float | None
    battery_percent: float | None
    refused: int
    unread: bool = False
    """It is to stream and is not heard, and what came since its last sample, if there was one, could not be read."""


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One contribution to the uncertainty of an angle."""

    name: str
    """The cause, as the recording and `stillblade budget` name it."""
    u_deg: float
    """Standard uncertainty it puts into the angle."""
    kind: Literal["A", "B"]
    """A: from the readings themselves. B: known from elsewhere (JCGM 100:2008, 3.3.4)."""
    common: bool
    """The same in the other blades: no part of the differences between them."""


@dataclass(frozen=True, slots=True)
class BladeView:
    """One row of the table: a blade or the reference."""

    blade: BladeId
    label: str
    state: str
    """not set, setting, provisional, held, may have turned, place again, moved, turned,
    steady, accepted, not known."""
    angle_deg: float | None
    u95_deg: float | None
    error_deg: float | None
    change_deg: float | None
    could_hide_deg: float | None
    tolerance: str
    alarm: bool
    working: bool
    """True for the blade the present step is about."""
    budget: tuple[BudgetLine, ...] = ()
    """What `u95_deg` comes from, the largest first; empty while nothing was read."""
    read_ns: int | None = None
    """Session time of its newest reading, earlier by what the program did not run since: what has
    passed by the wall clock. None: not read in this session."""
    settles: str = ""
    """What settles a tolerance verdict that is too close to say; "" for any other."""


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One unanswered alarm."""

    id: int
    blade: BladeId
    label: str
    kind: str
    say: str
    last_good_deg: float | None
    settable: bool = False
    """"set-again" is an answer to it; to accept with a name and a reason always is."""
    partner: BladeId | None = None
    """"exchange" is an answer to it, and the first to offer: with whom."""
    blades: tuple[int, ...] = ()
    """Of a set that is out: which blades "set-again" is for."""


@dataclass(frozen=True, slots=True)
class Aiming:
    """What blades may be set to: the target, off it, or where the held ones are."""

    at: str
    deg: float


@dataclass(frozen=True, slots=True)
class BoltCircle:
    """The bolts that the wrench is at."""

    group: str
    order: tuple[int, ...]
    """Bolt numbers as they are tightened."""
    next: int
    done: tuple[int, ...]
    """Those of this pass that are tight; where a pass is one press nobody tells."""
    torque: str
    """What goes into each in this pass, in words: "15.0 N·m"."""
    each: bool
    """Each bolt is a press; else each pass is."""
    dial: str
    """What the wrench is set to for it; "" where no wrench is given."""


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked about what lies on the blade now, and nobody has answered."""

    id: int
    blade: BladeId | None
    say: str
    wants: Wants = ""


Turnover = Literal["", "proof", "done", "take", "set again", "leave", "back"]
"""What turning the level over in the hand, and back, does now; "": nothing; "leave": the alarm stands, and what
was to be set again in a moment is not."""
Lacks = Literal["", "a press", "a landing", "a turn", "agreement"]
"""What a level that lies still lacks for its reading to be taken; "": nothing but time, or no level lies."""


@dataclass(frozen=True, slots=True)
class Live:
    """The number a person follows without looking away from the blade."""

    angle_deg: float | None
    """Live blade angle (the shaft's tilt at the reference). None: no signal."""
    error_deg: float | None
    """angle - target. None where it is hidden (re-reading) or meaningless."""
    target_deg: float | None
    words: str
    """"0.42 too fine: turn coarser", "hold still", "no signal" ..."""
    motion: Literal["no signal", "in hand", "moving", "creeping", "settling", "still", "ready"]
    progress: float
    """0..1 towards a good enough average."""
    u_deg: float | None
    """Standard uncertainty reached by the running average."""
    may_take: bool
    """One press now would take a reading."""
    taken: bool
    """This placement is already taken: lift the level."""
    by_itself: bool = False
    """Nothing but time lacks: what lies there is taken without a press."""
    laid: bool = False
    """It came to rest after the step was announced."""
    near_deg: float = 0.0
    """So near its target a blade may be let go: it is then surely within the tolerance, and is taken."""
    lacks: Lacks = ""
    """Of a level that lies still, where the job may go without a press."""


@dataclass(frozen=True, slots=True)
class View:
    """The whole picture at one instant."""

    t_ns: int
    seen: int
    """Number of the last event behind this view: what a command from it has seen."""
    job: str
    tolerance_deg: float
    spread_tolerance_deg: float
    step: int
    stage: str
    blade: BladeId | None
    label: str
    placement: int
    placements: int
    say: str
    stand: str
    live: Live
    blades: tuple[BladeView, ...]
    """The reference first, then blade 1 to n."""
    spread_deg: float | None
    alarms: tuple[AlarmView, ...]
    levels: tuple[LevelView, ...]
    rounds: tuple[str, ...]
    """All stages of the plan in order, for a progress line."""
    next_say: str
    """What comes after this step, in words."""
    finished: bool
    press: CommandKind | None = None
    """What one press does now; None: nothing."""
    offers: tuple[CommandKind, ...] = ()
    """Commands that are not refused now whatever their arguments: the keys to offer."""
    question: Question | None = None
    """What waits for "confirm"."""
    spread: Tolerance | None = None
    """By its limit, with its guard band; None: not every blade was read."""
    result: JobResult | None = None
    """What the job came to, once nothing is left to do; None before that."""
    people: tuple[str, ...] = ()
    """Who works on this job, as it names them: an answer that needs a name is picked from these."""
    aims: tuple[Aiming, ...] = ()
    """What blades may be set to, where one may say so now."""
    bolts: BoltCircle | None = None
    """What the wrench is at; None: it is not, or the job gives no bolts."""
    step_ns: int = 0
    """Session time when the step was announced."""
    turnover: Turnover = ""
    """What turning the level over does, where the job may go without a press."""
    notices: tuple[str, ...] = ()
    """What is wrong with the recording now, in words: held by another program, moved, slow."""
