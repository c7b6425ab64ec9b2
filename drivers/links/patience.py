"""How long a link waits: for a call, for data, and before it tries again."""

from dataclasses import dataclass
from random import Random


@dataclass(frozen=True, slots=True)
class Patience:
    """All timing of the links in one place, in seconds. Tests shorten it."""

    call_s: float = 15.0
    """Longest wait for one call to the outside; Bluetooth connects may need most of it."""
    close_s: float = 5.0
    """Longest wait for a disconnect or a close, which can hang like any other call."""
    first_retry_s: float = 0.5
    longest_retry_s: float = 20.0
    growth: float = 1.7
    jitter: float = 0.3
    """Each wait is drawn from (1 - jitter .. 1 + jitter) times its length, so that many
    devices lost together do not come back in step."""
    steady_s: float = 10.0
    """A link that was up this long starts from the shortest wait again."""
    data_s: float = 5.0
    """Bluetooth: no data for this long on a streaming level is a dead link, whatever the
    connection claims."""
    quiet_data_s: float = 60.0
    """The same for levels that send only on change or on a press: then the level is asked."""
    find_s: float = 8.0
    """Longest wait for the advertisement of a level before a connection."""
    seen_s: float = 10.0
    """An advertisement older than this is no sign of life."""
    scanner_s: float = 20.0
    """A scanner that brought nothing for this long is replaced by a new one."""
    battery_s: float = 300.0
    """Between two looks at the battery, where the level offers it."""
    unread_s: float = 3.0
    """Bytes for so long without one valid frame mean the wrong speed or profile."""
    reply_s: float = 0.3
    """Modbus: longest wait for a reply before the next poll."""

    def wait_s(self, tries: int, random: Random) -> float:
        """Return the wait before try number `tries` + 1; tries counts failures from 1."""
        length = self.first_retry_s
        for _ in range(tries - 1):
            length = min(length * self.growth, self.longest_retry_s)
            if length >= self.longest_retry_s:
                break
        return length * (1.0 + self.jitter * (2.0 * random.random() - 1.0))


PATIENT = Patience()
