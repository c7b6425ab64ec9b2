"""Two senders under one name, or two names where one was expected: neither is chosen."""

MEMORY = 200
"""So many messages a second sender is remembered: long enough for one that speaks seldom,
short enough that one spoiled message does not silence a level for the day."""


class Rivals:
    """Remembers who sent what was asked for, over the last MEMORY messages.

    Counts messages, not seconds: any chunking and any clock give the same answers.
    """

    def __init__(self) -> None:
        self._now = 0
        self._seen: dict[bytes, dict[bytes, int]] = {}

    def step(self) -> None:
        """A message has come."""
        self._now += 1

    def alone(self, wanted: bytes, sender: bytes) -> bool:
        """Note that `sender` sent what is `wanted`; tell whether nobody else did of late."""
        seen = self._seen.setdefault(wanted, {})
        seen[sender] = self._now
        if len(seen) == 1:
            return True
        for other in [one for one, at in seen.items() if self._now - at > MEMORY]:
            del seen[other]
        return len(seen) == 1
