"""A level on a pseudo-terminal: streams one format at a rate, with faults on command."""

import asyncio
from collections.abc import Callable
from typing import Literal

from shared.samples import Role
from simulator.draws import Draws
from simulator.line import Line
from simulator.wire import Wire
from simulator.wire.modbus_rtu import ModbusUnit
from simulator.wire.noise import Noise

Fault = Literal["pull", "put-back", "noise", "wrong-speed", "silent", "fair"]


class TerminalLevel:
    """One level on a line of its own.

    tilt: what the level shows now, numbers by role.

    Attributes:
        path: to give to whoever reads the level.
        sent: samples sent so far, as they were before any fault.
    """

    def __init__(
        self, name: str, wire: Wire, tilt: Callable[[], dict[Role, float]], rate_hz: float
    ) -> None:
        self._line = Line(name)
        self._wire = wire
        self._tilt = tilt
        self._period_s = 1.0 / rate_hz
        self._draws = Draws(1, 0)
        self._spoil: Callable[[bytes], bytes] = bytes
        self.path = self._line.open()
        self.sent: list[dict[Role, float]] = []

    async def run(self) -> None:
        """Stream, or answer polls, until cancelled; then the line is gone."""
        loop = asyncio.get_running_loop()
        due = loop.time()
        try:
            while True:
                self._step()
                due += self._period_s
                await asyncio.sleep(max(0.0, due - loop.time()))
        finally:
            self._line.close()

    def fault(self, kind: Fault) -> None:
        """Let something go wrong; `put-back` and `fair` end it."""
        if kind == "pull":
            self._line.pull()
        elif kind == "put-back":
            self._line.put_back()
        elif kind == "noise":
            self._spoil = Noise(0.01, self._draws).spoil
        elif kind == "wrong-speed":
            self._spoil = self._garbled
        elif kind == "silent":
            self._spoil = _nothing
        else:
            self._spoil = bytes

    def _step(self) -> None:
        values = self._tilt()
        chunks = self._wire.write(values)
        self.sent.append(values)
        data = b"".join(chunk for _channel, chunk in chunks)
        if isinstance(self._wire, ModbusUnit):
            data = self._wire.answer(self._line.read())
        arriving = self._spoil(data)
        if arriving:
            self._line.write(arriving)

    def _garbled(self, data: bytes) -> bytes:
        """Bytes read at the wrong speed have nothing to do with those sent."""
        return bytes(int(self._draws.unit() * 256.0) for _ in data)


def _nothing(_data: bytes) -> bytes:
    return b""
