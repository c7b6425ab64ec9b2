"""The five kinds of input of the core. Nothing else reaches it but the session header.

`t_ns` is session time: an integer from 0 at the session's start, strictly increasing over
all inputs together. Only the Inbox stamps it; before that it is UNSTAMPED.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

UNSTAMPED = -1
NS = 1_000_000_000
ALL_SEEN = 2**53
"""`seen` of a command whose client had seen whatever had been said by then."""

CommandKind = Literal[
    "take",  # take what lies on the blade now (one confirming press)
    "done",  # the step that needs hands is done (tightened, made safe)
    "name",  # args: blade; the next reading is of this blade (0 = the reference)
    "again",  # read this step once more (with args: set, as `set`)
    "set",  # args: blade; a held blade's setting starts over
    "found",  # everything is read as it was found, before a bolt is touched
    "aim",  # args: at ("target" | "off" | "held"); what blades are set to
    "look",  # args: blade (0 = the reference; none = all that is held); read it again, then go on
    "back",  # one step back
    "withdraw",  # args: id, reason; a reading does not count
    "assign",  # args: id, blade; a reading belongs to this blade
    "acknowledge",  # args: id, then ("set-again" | "accept" | "exchange"), by, reason; answers an alarm
    "confirm",  # args: id; a question was looked into and the reading is right (sense, nose)
    "relieve",  # args: by; somebody else works from here: what is held is read first
    "unheard",  # args: reason; signals are not heard, so every reading wants a press again
    "note",  # args: text
    "end",  # args: by, reason; the session ends here, and says what is missing
    "abandon",  # args: by, reason; end state "abandoned, do not fly"
]


@dataclass(frozen=True, slots=True)
class Bytes:
    """One transport chunk, unchanged."""

    level: str
    channel: int
    data: bytes
    t_ns: int = UNSTAMPED


@dataclass(frozen=True, slots=True)
class Link:
    """A level's link came up or went down; down resets that level's codec.

    identity: address or stable port link; empty when unknown.
    """

    level: str
    state: Literal["up", "down"]
    reason: str = ""
    identity: str = ""
    t_ns: int = UNSTAMPED


@dataclass(frozen=True, slots=True)
class Command:
    """What a person asked for.

    id: chosen by the client; a repeated id gets the same answer and does nothing.
    seen: number of the last event the client had applied.
    until: session time after which it must not be executed; None = no deadline.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"allow_inf_nan": False}
    """1e999 is no number of a blade or a reading."""

    id: str
    client: str
    seen: int
    kind: CommandKind
    args: Mapping[str, str | int | float] = field(default_factory=dict)
    until: int | None = None
    t_ns: int = UNSTAMPED


@dataclass(frozen=True, slots=True)
class Clock:
    """The wall clock stepped, machine or program stood still, or a session was taken up again.

    Levels may have been handled meanwhile, and their bytes may have waited in a buffer.

    wall: ISO 8601, for people. boot_id: which boot of the machine this is.
    """

    wall: str
    boot_id: str
    reason: Literal["step", "suspend", "resume"] = "step"
    t_ns: int = UNSTAMPED


@dataclass(frozen=True, slots=True)
class End:
    """The session ends here."""

    reason: str = ""
    t_ns: int = UNSTAMPED


Input = Bytes | Link | Command | Clock | End
