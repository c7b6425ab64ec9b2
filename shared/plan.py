"""The order of work, as a person writes it: rounds, bolts, wrench, and what is read after what.

It stands in the job's [plan], or in a procedure file of its own where the propeller's manual wants
another order. No torque has a default: it is the manual's. Angles in degrees.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from shared.bolts import star
from shared.model import Written
from shared.profile import NotNegative, Positive
from shared.torque import SAID, Unit, converted, dialled

RoundName = Literal["check", "snug", "nip", "torque", "final"]
USUAL: tuple[RoundName, ...] = ("snug", "nip", "torque")
TIGHTENS = frozenset(USUAL)
"""Of the rounds that have a name alone: those that begin with the wrench."""
RESERVED = frozenset(
    {"prepare", "slacken", "reference", "set", "baseline", "tighten", "wrench", "check off"}
    | {"found", "look", "answer", "finished", "watch"}
)
"""Stages of their own: no round may be called so."""
MOST_PASSES = 12
"""More passes than this over one group of bolts are a slip of the pen."""
Name = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9 +-]{0,11}$")]
BladeNumber = Annotated[int, Field(ge=1, le=6)]
Share = Annotated[float, Field(gt=0, le=1)]
CheckedOff = Annotated[str, Field(min_length=1, max_length=200)]
TOOLS_AWAY = "Tools away, nuts locked as the manual says"
"""What has to be so before a reading may be the final one: a wrench or a lockwire turns blades."""


class Bolts(Written):
    """One group of bolts: how many, how tight, in which order."""

    name: Name
    count: Annotated[int, Field(ge=1, le=32)]
    torque: Positive
    """From the manual, without what a self-locking nut takes to run down."""
    unit: Unit
    passes: Annotated[list[Share], Field(min_length=1, max_length=MOST_PASSES)] = [1.0]
    """Shares of the torque, the last 1."""
    order: list[int] = []
    """Which bolt after which; empty: star order."""
    prevailing: NotNegative = 0.0
    """What a self-locking nut takes to run down, as measured; it is added."""
    each: bool = False
    """Each bolt is a press of its own; else each pass is."""

    @model_validator(mode="after")
    def _whole(self) -> "Bolts":
        if self.passes != sorted(self.passes) or self.passes[-1] != 1.0:
            raise ValueError("passes are shares of the torque that rise to 1, such as [0.5, 1.0]")
        if self.order and sorted(self.order) != list(range(1, self.count + 1)):
            raise ValueError(f"order has to name each bolt from 1 to {self.count} once")
        return self

    @property
    def in_order(self) -> list[int]:
        """Bolt numbers as they are tightened."""
        return self.order or star(self.count)

    def at(self, share: float) -> float:
        """Return the torque of a pass, with the prevailing torque, in the group's own unit."""
        return self.torque * share + self.prevailing


class Wrench(Written):
    """The torque wrench, and the adapter on it where there is one."""

    name: str
    calibrated: str = ""
    """Until when, as its label says."""
    least: Positive
    most: Positive
    """Its range, as its scale shows it."""
    unit: Unit
    length_mm: Positive | None = None
    """From its drive to the mark on its grip; wanted with an adapter."""
    adapter_mm: NotNegative = 0.0
    """From the drive to the bolt."""
    adapter_deg: float = 0.0
    """Of the adapter against the wrench: 0 in line, 90 square to it, 180 pointing back."""

    @model_validator(mode="after")
    def _whole(self) -> "Wrench":
        if self.least >= self.most:
            raise ValueError("least has to be under most: the range of the scale")
        if self.adapter_mm and self.length_mm is None:
            raise ValueError("length_mm is missing: an adapter changes the setting by it")
        self.dial(self.most, self.unit)
        return self

    def dial(self, torque: float, unit: Unit) -> float:
        """Return what to set on the scale, in the wrench's unit, for a torque at the bolt.

        Raises:
            ValueError: the adapter points back as far as the grip.
        """
        at_bolt = converted(torque, unit, self.unit)
        if self.length_mm is None:
            return at_bolt
        return dialled(at_bolt, self.length_mm, self.adapter_mm, self.adapter_deg)


class Round(Written):
    """One round: what is checked off, what the wrench does, and what is read after it."""

    name: Name
    tighten: bool = False
    blades: list[BladeNumber] = []
    """Whose bolts; empty: all."""
    read: Literal["all", "these", "nothing"] = "all"
    """Every blade, the blades of this round, or nothing. The last round reads the reference too."""
    torque: list[Name] = []
    """Groups of bolts that are torqued, in this order."""
    say: str = ""
    """What the hands do, in the manual's words."""
    before: list[CheckedOff] = []
    """What is checked off one by one before it."""
    after: list[CheckedOff] = []
    """What is checked off once the bolts are tight, before anything is read."""
    like: Literal["", "check", "snug", "nip", "torque", "final"] = ""
    """Whose words it takes where `say` has none."""

    @model_validator(mode="after")
    def _whole(self) -> "Round":
        if self.name in RESERVED:
            raise ValueError(
                f"a round cannot be called {self.name!r}: the program has a step so called"
            )
        if self.torque and not self.tighten:
            raise ValueError("torque is given, and tighten is not true")
        if len(set(self.blades)) != len(self.blades):
            raise ValueError("a blade is named twice")
        return self

    def reads(self, blades: int) -> frozenset[int]:
        """Return which of so many blades are read in it."""
        if self.read == "nothing":
            return frozenset()
        return self.turns(blades) if self.read == "these" else frozenset(range(1, blades + 1))

    def turns(self, blades: int) -> frozenset[int]:
        """Return which of so many blades its bolts hold."""
        return frozenset(self.blades or range(1, blades + 1))


def _kind_of_round(given: object) -> str:
    """Tell a round given by its name from one given as a table."""
    return "(name)" if isinstance(given, str) else "(table)"


NamedOrTable = Annotated[
    Annotated[RoundName, Tag("(name)")] | Annotated[Round, Tag("(table)")],
    Discriminator(_kind_of_round),
]


class Plan(Written):
    """The order of work. `snug`, `nip` and `torque` tighten, then everything is read again."""

    rounds: list[NamedOrTable] = []
    """Empty: the usual order, see `_usual`."""
    order: Literal["together", "clamp by clamp"] = "together"
    """Set all blades, then tighten; or set, snug, nip and read the blades of one clamp, then the next."""
    as_found: bool = False
    """Everything is read once before a bolt is touched."""
    baseline_placements: Annotated[int, Field(ge=1, le=5)] = 1
    """Fresh placements of a blade that is set; one more where they are not where it was set."""
    reference_placements: Annotated[int, Field(ge=1, le=5)] = 2
    max_placements: Annotated[int, Field(ge=1, le=5)] = 4
    find_deg: Positive | None = None
    """Smallest move worth finding; None: the tolerance."""
    clamps: list[list[BladeNumber]] = []
    """Sets of blades that one tightening may turn together; empty = all of them."""
    bolts: list[Bolts] = []
    """Groups of bolts that a round torques by name; a round "torque" without a table: all."""
    wrench: Wrench | None = None
    source: str = ""
    """Where this order is from: the manual's title, revision and page."""
    procedure: str = ""
    """A procedure file beside the job that this table is laid over."""

    @model_validator(mode="after")
    def _whole(self) -> "Plan":
        groups = {one.name for one in self.bolts}
        rounds = self.in_order
        if len(groups) < len(self.bolts):
            raise ValueError("two groups of bolts have the same name")
        if twice := [name for name, n in Counter(one.name for one in rounds).items() if n > 1]:
            raise ValueError(f"two rounds are called {twice[0]!r}")
        unknown = [name for one in rounds for name in one.torque if name not in groups]
        if unknown:
            raise ValueError(f"there is no group of bolts called {unknown[0]!r}: add it to bolts")
        if self.order == "clamp by clamp" and len(self.clamps) < 2:
            raise ValueError('order = "clamp by clamp" wants at least two sets of blades in clamps')
        if rounds[-1].read != "all":
            raise ValueError("the last round has to read everything: else nobody knows the result")
        if (beyond := next(self._beyond(), None)) is not None:
            raise ValueError(beyond)
        return self

    def _beyond(self) -> Iterator[str]:
        """Yield in words which passes the wrench cannot do."""
        wrench = self.wrench
        if wrench is None:
            return
        for group in self.bolts:
            for share in group.passes:
                dial = wrench.dial(group.at(share), group.unit)
                if not wrench.least <= dial <= wrench.most:
                    yield (
                        f"the bolts {group.name!r} want {dial:.1f} {SAID[wrench.unit]} on the wrench, which "
                        f"reaches from {wrench.least:g} to {wrench.most:g}"
                    )

    @property
    def in_order(self) -> tuple[Round, ...]:
        """The rounds in order, each as a table; clamp by clamp, those of each clamp first."""
        rounds = [self._table(one) for one in self.rounds] or self._usual()
        if self.order == "together":
            return tuple(rounds)
        by_clamp = [one for one in rounds if one.like in {"snug", "nip"} and not one.blades]
        rest = [one for one in rounds if one not in by_clamp and one.like != "check"]
        return (*(one for clamp in self.clamps for one in _of_clamp(by_clamp, clamp)), *rest)

    def _usual(self) -> list[Round]:
        """Read when the bolts are snug, and when they are at torque and nobody works on them any more."""
        snug, nip, torque = (self._table(name) for name in USUAL)
        unread = nip.model_copy(update={"read": "nothing"})
        return [snug, unread, torque.model_copy(update={"after": [TOOLS_AWAY]})]

    def _table(self, one: RoundName | Round) -> Round:
        """Return a round given by its name alone as a table."""
        if isinstance(one, Round):
            return one
        torque = [group.name for group in self.bolts] if one == "torque" else []
        return Round(name=one, tighten=one in TIGHTENS, torque=torque, like=one)

    def group(self, name: str) -> Bolts:
        """Return a group of bolts."""
        return next(one for one in self.bolts if one.name == name)


def _of_clamp(rounds: list[Round], clamp: list[int]) -> Iterator[Round]:
    """Yield the rounds of one clamp: its blades are read after the last of them."""
    named = "+".join(map(str, clamp))
    for number, one in enumerate(rounds, 1):
        read: Literal["these", "nothing"] = "these" if number == len(rounds) else "nothing"
        yield one.model_copy(update={"name": f"{one.name} {named}", "blades": clamp, "read": read})


class Procedure(Written):
    """A procedure file: the order of work of one propeller's manual."""

    stillblade_procedure: Literal[1]
    name: str
    plan: Plan
