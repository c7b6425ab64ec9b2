"""What a Bluetooth link hears beside the level's own format: battery and signal strength.

These arrive on channels of their own, so that they are recorded like everything else.
"""

from collections import Counter

from shared.samples import Codec, Sample

BATTERY_CHANNEL = 250
"""One unsigned byte, percent: Battery Level (0x2A19) of the Bluetooth GATT specification."""
SIGNAL_CHANNEL = 251
"""One signed byte, dBm: received signal strength."""
INFORMATION_CHANNEL = 252
"""UTF-8 text for the record: what the device says of itself (service 0x180A)."""
_FIRST = 250


class Aside:
    """A codec with the common channels in front of it; see `shared.samples.Codec`."""

    def __init__(self, codec: Codec) -> None:
        self._codec = codec
        self.refused: Counter[str] = codec.refused

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of any channel."""
        if channel < _FIRST:
            return self._codec.feed(channel, data)
        if channel == BATTERY_CHANNEL:
            return [Sample({"battery": float(value)}) for value in data if value <= 100]
        if channel == SIGNAL_CHANNEL:
            return [
                Sample({"signal": float(value - 256 if value > 127 else value)}) for value in data
            ]
        return []

    def reset(self) -> None:
        """Forget what was half received."""
        self._codec.reset()
