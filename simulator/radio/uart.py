"""A serial level in the air: its stream through a UART service, as a pseudo-terminal would carry it.

The service's UUIDs are in wide use for a UART over GATT; the stream is cut into packets of
20 bytes (the payload of the smallest ATT_MTU, Bluetooth Core, Vol 3 Part F 3.2.8).
"""

from typing import Any

from shared.job import Job
from simulator.radio import Radio

SERVICE = "6e400001-b5a3-f393-e0a9-e50e24dcca9e"
RECEIVE = "6e400003-b5a3-f393-e0a9-e50e24dcca9e"
PACKET = 20

SETTINGS: dict[str, Any] = {
    "transport": {"link": "ble-notify"},
    "channels": [{"number": 0, "service_uuid": SERVICE, "characteristic_uuid": RECEIVE}],
}
"""Laid over a serial profile, these make it one over Bluetooth LE."""


def over_the_air(job: Job) -> Job:
    """Return the job with every serial level as one over Bluetooth LE; ports are still to be set."""
    levels = []
    for entry in job.level:
        transport = {**entry.settings.get("transport", {}), **SETTINGS["transport"]}
        settings = {**entry.settings, **SETTINGS, "transport": transport}
        levels.append(entry.model_copy(update={"settings": settings}))
    return job.model_copy(update={"level": levels})


class RadioLine:
    """One level in the air, with the same handles as a pseudo-terminal line.

    Attributes:
        address: to give to whoever connects.
    """

    def __init__(self, radio: Radio, name: str, number: int) -> None:
        self._radio = radio
        self._name = name
        self.address = f"C0:00:00:00:00:{number:02X}"

    async def open(self) -> str:
        """Put the level into the air; return its address."""
        services = {SERVICE: [RECEIVE], "180f": ["2a19"]}
        await self._radio.add_level(self.address, self._name, services, {"2a19": b"\x5a"})
        return self.address

    def write(self, data: bytes) -> None:
        """Send bytes; lost while nobody is connected."""
        for at in range(0, len(data), PACKET):
            self._radio.feed(self.address, RECEIVE, data[at : at + PACKET])

    def pull(self) -> None:
        """Carry the level out of range: the link is lost and nothing is heard."""
        self._radio.fault_now("in-the-air", self.address, on=False)
        self._radio.fault_now("drop", self.address)

    def close(self) -> None:
        """Take it away for good."""
        self.pull()

    def put_back(self) -> None:
        """Bring it back."""
        self._radio.fault_now("in-the-air", self.address, on=True)
