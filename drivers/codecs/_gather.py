"""Put a sample together where its numbers come on several channels, lines or kinds of frame."""

from collections import Counter
from typing import Annotated

from pydantic import Field

from drivers.codecs._scale import complete, needed_roles
from shared.errors import BadInputError
from shared.profile import LevelProfile, Table
from shared.samples import Role, Sample


class Gather:
    """Collect numbers until a tilt is complete; what is not part of it passes at once.

    A number that comes again before the tilt is complete replaces the older one.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self._needed = needed_roles(profile)
        self._values: dict[str, float] = {}

    def add(self, values: dict[Role, float]) -> Sample | None:
        """Take the numbers of one message; return what is complete now."""
        ready: dict[str, float] = {}
        for role, value in values.items():
            (self._values if role in self._needed else ready)[role] = value
        if len(self._values) == len(self._needed):
            ready |= self._values
            self._values.clear()
        return Sample(ready) if ready else None

    def clear(self) -> None:
        """Forget what is half complete."""
        self._values.clear()


class Gathered(Table):
    """Options of a format whose messages may each carry a part of the tilt."""

    gather: Annotated[list[Role], Field(default_factory=list)]
    """The parts of the tilt in the order in which they are sent, where they come in lines,
    sentences or frames of their own. Empty: every message is complete in itself."""


class Together:
    """One tilt of one message, or, with `gather`, of several that follow each other.

    A round begins with the first role of the order. What comes out of turn, or instead of the
    next one, ends it: one lost message never puts a roll beside the pitch of another moment.
    Where exactly the two between them are lost it does: nothing in the messages tells.

    Raises:
        BadInputError: the order does not name each part of the tilt once.
    """

    def __init__(self, profile: LevelProfile, options: Gathered, refused: Counter[str]) -> None:
        self._needed = needed_roles(profile)
        self._order = options.gather
        self._refused = refused
        self._values: dict[str, float] = {}
        if self._order and sorted(self._order) != sorted(self._needed):
            raise BadInputError(
                f"profile {profile.kind}",
                "format.options.gather",
                f"{list(self._order)} are not the parts of its tilt, each once",
                f"{sorted(self._needed)}, in the order in which they are sent",
            )

    def add(self, values: dict[Role, float]) -> Sample | None:
        """Take the numbers of one message; return what is complete now."""
        parts: dict[str, float] = {}
        ready: dict[str, float] = {}
        for role, value in values.items():
            (parts if role in self._needed else ready)[role] = value
        if self._order:
            ready |= self._round(parts)
        elif complete(parts, self._needed):
            ready |= parts
        else:
            self._refused["incomplete"] += 1
        return Sample(ready) if ready else None

    def clear(self) -> None:
        """Forget the round."""
        self._values = {}

    def _round(self, parts: dict[str, float]) -> dict[str, float]:
        for role in self._order:
            if role in parts:
                self._take(role, parts[role])
        if len(self._values) < len(self._order):
            return {}
        done, self._values = self._values, {}
        return done

    def _take(self, role: Role, value: float) -> None:
        if role != self._order[len(self._values)]:
            self._refused["incomplete"] += 1
            self._values = {}
        if role == self._order[len(self._values)]:
            self._values[role] = value
