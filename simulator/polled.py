"""A pseudo-terminal whose level speaks only when it is asked."""

from simulator.line import Line
from simulator.wire.modbus_rtu import PolledUnit


class PolledLine(Line):
    """Keeps the newest reply, and sends it once for every poll that arrives."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self._newest = b""
        self._asked = b""

    def write(self, data: bytes) -> None:
        """Take the newest reply; nothing is sent until it is asked for."""
        self._newest = data
        self.answer()

    def answer(self) -> None:
        """Answer every whole poll that has arrived."""
        self._asked += self.read()
        polls = self._asked.count(PolledUnit.POLL)
        if polls and self._newest:
            self._asked = self._asked.rpartition(PolledUnit.POLL)[2]
            for _ in range(polls):
                super().write(self._newest)
