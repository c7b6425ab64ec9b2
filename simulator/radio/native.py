"""A level that was made for the air: it notifies, or only advertises, as its profile says."""

from shared.profile import LevelProfile
from simulator.radio import Radio


class NativeLine:
    """One such level, with the same handles as a pseudo-terminal line.

    Attributes:
        address: to give to whoever connects.
    """

    def __init__(self, radio: Radio, name: str, number: int, profile: LevelProfile) -> None:
        self._radio = radio
        self._name = name
        self._advertises = profile.transport.link == "ble-advert"
        self._channel = profile.channels[0]
        self.address = f"C0:00:00:00:01:{number:02X}"

    async def open(self) -> str:
        """Put the level into the air; return its address."""
        service, uuid = self._channel.service_uuid, self._channel.characteristic_uuid
        services = {} if self._advertises else {service: [uuid]}
        await self._radio.add_level(self.address, self._name, services)
        return self.address

    def write(self, data: bytes) -> None:
        """Send one packet."""
        if self._advertises:
            self._radio.advertise(self.address, self._channel.advert_uuid, data)
        else:
            self._radio.feed(self.address, self._channel.characteristic_uuid, data)

    def pull(self) -> None:
        """Carry the level out of range."""
        self._radio.fault_now("in-the-air", self.address, on=False)
        if not self._advertises:
            self._radio.fault_now("drop", self.address)

    def put_back(self) -> None:
        """Bring it back."""
        self._radio.fault_now("in-the-air", self.address, on=True)
