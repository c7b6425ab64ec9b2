"""A level that notifies a struct over Bluetooth LE: counter and angle in hundredths."""

from shared.samples import Role


class BleNotify:
    """Writes one notification a sample, on channel 0."""

    def __init__(self) -> None:
        self._count = 0

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return the notification of one sample."""
        data = (self._count & 0xFFFF).to_bytes(2, "little")
        data += round(values["angle"] * 100.0).to_bytes(2, "little", signed=True)
        self._count += 1
        return [(0, data)]


def in_packets(stream: bytes, size: int) -> list[bytes]:
    """Cut a byte stream as a UART over GATT does: by packet size, never by frame."""
    return [stream[at : at + size] for at in range(0, len(stream), size)]
