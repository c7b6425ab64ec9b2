"""A level that answers Modbus RTU polls (Modbus over Serial Line V1.02)."""

import struct

from shared.samples import Role
from simulator.wire.framed_binary import crc16

_ILLEGAL_FUNCTION = 1
_ILLEGAL_ADDRESS = 2
_REQUEST_SIZE = 8
_ORDER = {"ABCD": (0, 1, 2, 3), "CDAB": (2, 3, 0, 1), "BADC": (1, 0, 3, 2), "DCBA": (3, 2, 1, 0)}


def framed(body: bytes) -> bytes:
    """Return body and CRC, low byte first."""
    return body + crc16(body).to_bytes(2, "little")


class ModbusUnit:
    """One unit on the bus: a 32-bit float in degrees at register 0.

    Attributes:
        busy: how many of the next requests are answered with exception 6 (device busy).
        deaf: how many of the next requests are not answered at all.
    """

    def __init__(self, unit: int = 1, words: str = "ABCD", registers: int = 2) -> None:
        self._unit = unit
        self._words = words
        self._registers = bytearray(2 * registers)
        self._waiting = b""
        self.busy = 0
        self.deaf = 0

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Take the newest sample; nothing is sent until it is asked for."""
        raw = struct.pack(">f", values["angle"])
        self._registers[:4] = bytes(raw[index] for index in _ORDER[self._words])
        return []

    def answer(self, data: bytes) -> bytes:
        """Take bytes from the line; return the replies they ask for."""
        self._waiting += data
        replies = b""
        while len(self._waiting) >= _REQUEST_SIZE:
            request = self._waiting[:_REQUEST_SIZE]
            if framed(request[:-2]) != request:
                self._waiting = self._waiting[1:]
                continue
            self._waiting = self._waiting[_REQUEST_SIZE:]
            replies += self._reply(request)
        return replies

    def _reply(self, request: bytes) -> bytes:
        unit, function = request[0], request[1]
        first, count = int.from_bytes(request[2:4], "big"), int.from_bytes(request[4:6], "big")
        if unit != self._unit:
            return b""
        if self.deaf:
            self.deaf -= 1
            return b""
        if self.busy:
            self.busy -= 1
            return framed(bytes([unit, function | 0x80, 6]))
        if function not in {3, 4}:
            return framed(bytes([unit, function | 0x80, _ILLEGAL_FUNCTION]))
        data = bytes(self._registers[2 * first : 2 * (first + count)])
        if len(data) != 2 * count:
            return framed(bytes([unit, function | 0x80, _ILLEGAL_ADDRESS]))
        return framed(bytes([unit, function, len(data)]) + data)


class PolledUnit:
    """A unit as it looks from the line: every sample is the reply to one poll.

    On data time the poll is understood; on a line `PolledLine` waits for it.
    """

    POLL = framed(bytes([1, 3, 0, 0, 0, 2]))
    """Unit 1, function 3, two registers from 0."""

    def __init__(self) -> None:
        self._unit = ModbusUnit()

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the reply with this sample."""
        self._unit.write(values)
        return [(0, self._unit.answer(self.POLL))]
