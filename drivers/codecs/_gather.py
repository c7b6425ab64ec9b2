"""Put a sample together where its numbers come on several channels."""

from drivers.codecs._scale import needed_roles
from shared.profile import LevelProfile
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
