"""UUIDs of Bluetooth: 16-bit ones stand for 128-bit ones (Bluetooth Core, Vol 3 Part B 2.5.1)."""

_BASE = "0000{}-0000-1000-8000-00805f9b34fb"


def long_uuid(uuid: str) -> str:
    """Return the 128-bit form in lower case; "" stays ""."""
    return _BASE.format(uuid.lower()) if len(uuid) == 4 else uuid.lower()
