"""Answers of the emulated service to its clients' calls, late, wrong or never where asked."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dbus_fast import Message

from simulator.radio.air import Air
from simulator.radio.objects import Device
from simulator.radio.outbox import Outbox

_CONNECT_S = 0.02


@dataclass(slots=True)
class Spoiled:
    """Calls of one method that go wrong. `times` counts down; `path` empty = any object."""

    method: str
    path: str
    answer: str
    """never, error, or slow."""
    times: int
    error: str = "org.bluez.Error.Failed"
    text: str = "spoiled"
    delay_s: float = 0.0


class RefusedError(Exception):
    """The answer is an error: name and text."""

    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(name, text)
        self.name = f"org.bluez.Error.{name}" if "." not in name else name
        self.text = text or name


class Answers:
    """Takes every method call; replies leave through the outbox, in order with the signals."""

    def __init__(self, air: Air, outbox: Outbox, group: asyncio.TaskGroup) -> None:
        self._air = air
        self._outbox = outbox
        self._group = group
        self.spoiled: list[Spoiled] = []
        self.seen: list[str] = []
        """Methods in the order they were called, for tests."""
        self._methods: dict[str, Callable[[Message], tuple[str, list[Any]]]] = {
            "GetManagedObjects": lambda _call: ("a{oa{sa{sv}}}", [self._air.objects()]),
            "SetDiscoveryFilter": self._plain,
            "StartDiscovery": self._start_discovery,
            "StopDiscovery": self._stop_discovery,
            "RemoveDevice": self._plain,
            "Disconnect": self._disconnect,
            "ReadValue": self._read,
            "WriteValue": self._write,
            "StartNotify": self._start_notify,
            "StopNotify": self._stop_notify,
        }

    def take(self, call: Message) -> bool:
        """Answer one call, now or later."""
        member = call.member or ""
        self.seen.append(member)
        spoiled = self._spoiled(call)
        if spoiled is None and member != "Connect":
            self._answer(call)
        elif spoiled is None or spoiled.answer != "never":
            self._group.create_task(self._later(call, spoiled), name=f"answer {member}")
        return True

    def _spoiled(self, call: Message) -> Spoiled | None:
        for one in self.spoiled:
            if one.times and one.method == call.member and one.path in {"", call.path}:
                one.times -= 1
                return one
        return None

    async def _later(self, call: Message, spoiled: Spoiled | None) -> None:
        if spoiled is not None:
            await asyncio.sleep(spoiled.delay_s)
            if spoiled.answer == "error":
                if spoiled.text == "le-connection-abort-by-local":
                    self._abort(call)
                self._outbox.put(Message.new_error(call, spoiled.error, spoiled.text))
                return
        if call.member == "Connect":
            await self._connect(call)
        else:
            self._answer(call)

    def _answer(self, call: Message) -> None:
        method = self._methods.get(call.member or "", _unknown)
        try:
            signature, body = method(call)
        except RefusedError as error:
            self._outbox.put(Message.new_error(call, error.name, error.text))
        else:
            self._outbox.put(Message.new_method_return(call, signature, body))

    def _plain(self, _call: Message) -> tuple[str, list[Any]]:
        self._ready()
        return "", []

    def _ready(self) -> None:
        if not self._air.present:
            raise RefusedError("org.freedesktop.DBus.Error.UnknownObject")
        if not self._air.powered:
            raise RefusedError("NotReady", "Resource Not Ready")

    def _start_discovery(self, call: Message) -> tuple[str, list[Any]]:
        self._ready()
        if call.sender in self._air.scanning:
            raise RefusedError("InProgress", "Operation already in progress")
        self._air.scanning.add(call.sender or "")
        for device in self._air.devices.values():
            self._air.hear(device)
        return "", []

    def _stop_discovery(self, call: Message) -> tuple[str, list[Any]]:
        self._ready()
        if call.sender not in self._air.scanning:
            raise RefusedError("Failed", "No discovery started")
        self._air.scanning.discard(call.sender or "")
        return "", []

    def _device(self, call: Message) -> Device:
        device = self._air.device_at(call.path or "") if self._air.present else None
        if device is None:
            raise RefusedError("org.freedesktop.DBus.Error.UnknownObject", "no such device")
        return device

    async def _connect(self, call: Message) -> None:
        try:
            device = self._connectable(call)
            device.connecting = True
            await asyncio.sleep(_CONNECT_S)
            device.connecting = False
            self._ready()
            self._reachable(device)
        except RefusedError as error:
            self._outbox.put(Message.new_error(call, error.name, error.text))
            return
        self._air.connect(device)
        self._outbox.put(Message.new_method_return(call))
        self._air.resolve(device)

    def _connectable(self, call: Message) -> Device:
        device = self._device(call)
        self._ready()
        if any(one.connecting for one in self._air.devices.values()):
            raise RefusedError("InProgress", "Operation already in progress")
        return device

    def _reachable(self, device: Device) -> None:
        if not device.in_the_air:
            raise RefusedError("Failed", "Host is down")

    def _abort(self, call: Message) -> None:
        """BlueZ reports a connection that ends at once before it reports the failure."""
        device = self._device(call)
        self._air.connect(device)
        self._air.drop(device)

    def _disconnect(self, call: Message) -> tuple[str, list[Any]]:
        device = self._device(call)
        if not device.connected:
            raise RefusedError("NotConnected", "Not Connected")
        self._air.drop(device)
        return "", []

    def _read(self, call: Message) -> tuple[str, list[Any]]:
        found = self._found(call)
        return "ay", [found[1].value]

    def _write(self, call: Message) -> tuple[str, list[Any]]:
        found = self._found(call)
        found[1].written.append(bytes(call.body[0]))
        return "", []

    def _start_notify(self, call: Message) -> tuple[str, list[Any]]:
        _device, characteristic = self._found(call)
        if "notify" not in characteristic.flags:
            raise RefusedError("NotSupported", "Operation is not supported")
        characteristic.senders.append(call.sender or "")
        return "", []

    def _stop_notify(self, call: Message) -> tuple[str, list[Any]]:
        _device, characteristic = self._found(call)
        if call.sender not in characteristic.senders:
            raise RefusedError("Failed", "No notify session started")
        characteristic.senders.remove(call.sender or "")
        return "", []

    def _found(self, call: Message) -> Any:
        found = self._air.characteristic_at(call.path or "")
        if found is None:
            raise RefusedError("org.freedesktop.DBus.Error.UnknownObject", "no such object")
        return found


def _unknown(_call: Message) -> tuple[str, list[Any]]:
    raise RefusedError("org.freedesktop.DBus.Error.UnknownMethod")
