"""A level that sends binary frames: AA 55, counter, angle and temperature, CRC.

The check is CRC-16/MODBUS bit by bit (polynomial 8005 reflected, initial value FFFF), written
apart from the program's own on purpose: the two must agree.
"""

from shared.samples import Role


def crc16(data: bytes) -> int:
    """Return CRC-16/MODBUS."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            odd = value & 1
            value >>= 1
            if odd:
                value ^= 0xA001
    return value


class FramedBinary:
    """Writes one frame a sample, on channel 0; angle and temperature in hundredths."""

    def __init__(self) -> None:
        self._count = 0

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the frame of one sample."""
        angle = round(values["angle"] * 100.0)
        temperature = round(values.get("temperature", 21.5) * 100.0)
        payload = bytes([self._count & 0xFF])
        payload += angle.to_bytes(2, "little", signed=True)
        payload += temperature.to_bytes(2, "little", signed=True)
        self._count += 1
        return [(0, b"\xaa\x55" + payload + crc16(payload).to_bytes(2, "little"))]


class SummedBinary:
    """The weakest frame in use: two bytes of sync, an angle, an 8-bit sum."""

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the frame of one sample."""
        payload = round(values["angle"] * 100.0).to_bytes(2, "little", signed=True)
        return [(0, b"\xaa\x55" + payload + bytes([sum(payload) & 0xFF]))]
