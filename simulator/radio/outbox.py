"""Everything the emulated service sends, in order, and never faster than the bus takes it."""

import asyncio
import select

from dbus_fast import Message, Variant
from dbus_fast.aio import MessageBus

from simulator.radio.objects import Interfaces

_PROPERTIES = "org.freedesktop.DBus.Properties"
_OBJECTS = "org.freedesktop.DBus.ObjectManager"


class Outbox:
    """A queue of messages. dbus-fast gives up on a full socket, so each waits for room."""

    def __init__(self, bus: MessageBus, descriptor: int) -> None:
        self._bus = bus
        self._queue: asyncio.Queue[Message] = asyncio.Queue()
        self._room = select.poll()
        self._room.register(descriptor, select.POLLOUT)

    async def run(self) -> None:
        """Send until cancelled."""
        while True:
            message = await self._queue.get()
            while not self._room.poll(0):  # noqa: ASYNC110 - the kernel sends no event for it
                await asyncio.sleep(0.0005)
            await self._bus.send(message)

    def put(self, message: Message) -> None:
        """Send after all that was put before."""
        self._queue.put_nowait(message)

    def changed(self, path: str, interface: str, properties: dict[str, Variant]) -> None:
        """Signal changed properties."""
        self.put(
            Message.new_signal(
                path, _PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, properties, []]
            )
        )

    def added(self, path: str, interfaces: Interfaces) -> None:
        """Signal a new object."""
        self.put(
            Message.new_signal("/", _OBJECTS, "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])
        )

    def removed(self, path: str, interfaces: list[str]) -> None:
        """Signal that an object is gone."""
        self.put(Message.new_signal("/", _OBJECTS, "InterfacesRemoved", "oas", [path, interfaces]))
