"""Whether a level is heard: its link, its silence, and whether it goes on measuring.

in state            what happens                     becomes
any but down        the link comes up                as it was
down                the link comes up                waiting
waiting, silent,    a sample                         streaming, "back" if heard before
down
streaming, stuck    a sample                         streaming
any with a sample   it is one of too many equal      stuck, said once
streaming           no sample for too long           silent
any                 the link goes down               down
"""

from typing import Literal

from daemon.measure.stream.facts import LinkFact
from shared.inputs import NS
from shared.profile import LevelProfile

State = Literal["waiting", "streaming", "silent", "down", "stuck"]


class Presence:
    """Follows one level's link and silence.

    Attributes:
        state: see the table above.
        last_ns: session time of the newest valid sample; None before the first.
    """

    def __init__(self, name: str, profile: LevelProfile) -> None:
        self.state: State = "waiting"
        self.last_ns: int | None = None
        self._name = name
        self._streams = profile.reporting.mode == "stream"
        self._silent_after_ns = round(profile.transport.silent_after_s * NS)
        self._identity = ""
        self._listens_from_ns = 0
        """What is sent earlier is not listened to: silence is counted from here on."""

    @property
    def streaming(self) -> bool:
        """Valid samples keep coming."""
        return self.state == "streaming"

    @property
    def heard(self) -> bool:
        """The level was heard and is not known to be silent; only a stream can be missed."""
        return self.streaming or (not self._streams and self.state != "down")

    @property
    def due(self) -> int | None:
        """When this level is to be called silent, unless a sample comes first."""
        if self.last_ns is None or not (self._streams and self.streaming):
            return None
        return max(self.last_ns, self._listens_from_ns) + self._silent_after_ns

    def listen(self, from_ns: int) -> None:
        """The program or the machine stood still: what comes before this time is not counted."""
        self._listens_from_ns = from_ns

    def up(self, identity: str) -> list[LinkFact]:
        """The link came up; identity: who answered, "" if that is not known."""
        facts, before = [LinkFact(self._name, "up", identity)], self._identity
        if before and identity and identity != before:
            facts.append(LinkFact(self._name, "swapped", f"was {before}, now {identity}"))
        self._identity = identity or before
        if self.state == "down":
            self.state = "waiting"
        return facts

    def down(self, reason: str) -> LinkFact:
        """The link went down."""
        self.state = "down"
        return LinkFact(self._name, "down", reason)

    def silent(self, due_ns: int) -> LinkFact:
        """No sample came until `due_ns`."""
        gap_s = self._since_s(due_ns)
        self.state = "silent"
        return LinkFact(self._name, "silent", f"no sample for {gap_s:g} s", gap_s)

    def sample(self, t_ns: int) -> list[LinkFact]:
        """A valid sample came."""
        facts = []
        if self.state not in {"streaming", "stuck"}:
            if self.last_ns is not None:
                facts.append(LinkFact(self._name, "back", "", self._since_s(t_ns)))
            self.state = "streaming"
        self.last_ns = t_ns
        return facts

    def sane(self, why_not: str | None) -> list[LinkFact]:
        """The sample that came is one of a level that measures, or why it seems not to be."""
        if why_not is None:
            self.state = "streaming"
            return []
        before, self.state = self.state, "stuck"
        return [] if before == "stuck" else [LinkFact(self._name, "stuck", why_not)]

    def _since_s(self, t_ns: int) -> float:
        return (t_ns - (self.last_ns or 0)) / NS
