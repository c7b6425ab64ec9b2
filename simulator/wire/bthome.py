"""A level that advertises BTHome v2 (open format, bthome.io/format): packet, battery, rotation."""

from shared.samples import Role

UUID = "fcd2"
_INFORMATION = 0x40  # version 2, not encrypted, regular interval


class Bthome:
    """Writes one packet of service data a sample, on channel 0; rotation in tenths."""

    def __init__(self) -> None:
        self._packet = 0

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the packet of one sample."""
        battery = round(values.get("battery", 90.0))
        data = bytes([_INFORMATION, 0x00, self._packet & 0xFF, 0x01, battery])
        if values.get("button"):
            data += bytes([0x3A, 0x01])
        data += b"\x3f" + round(values["angle"] * 10.0).to_bytes(2, "little", signed=True)
        self._packet += 1
        return [(0, data)]
