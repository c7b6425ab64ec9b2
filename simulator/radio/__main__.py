"""The emulated Bluetooth service, a process of its own: `python -m simulator.radio --bus ADDRESS`.

It owns org.bluez on the given bus and takes one JSON command a line on standard input; a
command with an `id` is answered by a line with that id. It ends with its standard input, or
when it is killed, which is what a restart of the real service looks like to its clients.
"""

import argparse
import asyncio
import contextlib
import json
import os
import signal
import sys
from typing import Any

from dbus_fast import Message, MessageType
from dbus_fast.aio import MessageBus

from simulator.radio.air import Air
from simulator.radio.answers import Answers, Spoiled
from simulator.radio.objects import Device, device_from, long_uuid
from simulator.radio.outbox import Outbox

_ADVERTISE_S = 0.1
"""Between two advertisements of every device in the air."""


class Commands:
    """What may be asked on standard input, by the command's `do`."""

    def __init__(self, air: Air, answers: Answers) -> None:
        self._air = air
        self._answers = answers

    def run(self, command: dict[str, Any]) -> dict[str, Any]:
        """Do one command; return what to answer.

        Raises:
            KeyError, ValueError: the command is not understood.
        """
        do = str(command["do"])
        if do in {"power", "unplug", "plug-in"}:
            return self._adapter(do, command)
        if do == "spoil":
            return self._spoil(command)
        if do == "seen":
            return {"methods": self._answers.seen, "scanning": len(self._air.scanning)}
        if do == "add":
            device = device_from(command)
            self._air.devices[device.address] = device
            self._air.hear(device)
            return {}
        return self._of_device(do, self._air.devices[command["address"]], command)

    def _adapter(self, do: str, command: dict[str, Any]) -> dict[str, Any]:
        if do == "power":
            self._air.power(bool(command["on"]))
        elif do == "unplug":
            self._air.unplug()
        else:
            self._air.plug_in()
        return {}

    def _spoil(self, command: dict[str, Any]) -> dict[str, Any]:
        facts = {key: value for key, value in command.items() if key not in {"do", "id", "address"}}
        address = command.get("address")
        path = self._air.devices[address].path if address else ""
        self._answers.spoiled = [
            one for one in self._answers.spoiled if one.method != command["method"]
        ]
        self._answers.spoiled.append(Spoiled(path=path, **facts))
        return {}

    def _of_device(self, do: str, device: Device, command: dict[str, Any]) -> dict[str, Any]:
        if do == "feed":
            one = device.characteristic(command["uuid"])
            return {"sent": self._air.notify(device, one, bytes.fromhex(command["data"]))}
        if do == "advertise":
            self._advertise(device, command)
        elif do == "value":
            device.characteristic(command["uuid"]).value = bytes.fromhex(command["data"])
        elif do == "written":
            one = device.characteristic(command["uuid"])
            return {"written": [data.hex() for data in one.written]}
        elif do == "drop":
            self._air.drop(device)
        elif do == "half-open":
            device.half_open = True
        elif do == "services-changed":
            self._air.services_changed(device)
        elif do == "in-the-air":
            device.in_the_air = bool(command["on"])
        elif do == "subscriptions":
            return {"count": sum(len(one.senders) for one in device.characteristics())}
        else:
            raise ValueError(f"no command {do!r}")
        return {}

    def _advertise(self, device: Device, command: dict[str, Any]) -> None:
        device.rssi = command.get("rssi", device.rssi)
        for uuid, data in command.get("service_data", {}).items():
            device.service_data[long_uuid(uuid)] = bytes.fromhex(data)
        for key, data in command.get("manufacturer_data", {}).items():
            device.manufacturer_data[int(key)] = bytes.fromhex(data)
        self._air.hear(device)


async def _advertise_all(air: Air) -> None:
    """Devices that do not advertise on command advertise by themselves, as real ones do."""
    while True:
        await asyncio.sleep(_ADVERTISE_S)
        for device in air.devices.values():
            if not device.service_data:
                air.hear(device)


async def _read_commands(commands: Commands) -> None:
    reader = asyncio.StreamReader(limit=1 << 20)
    loop = asyncio.get_running_loop()
    await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), sys.stdin)
    while line := await reader.readline():
        command = json.loads(line)
        try:
            answer = commands.run(command)
        except (KeyError, ValueError, TypeError) as error:
            answer = {"error": f"{type(error).__name__}: {error}"}
        if "id" in command:
            sys.stdout.write(json.dumps({"id": command["id"], **answer}) + "\n")
            sys.stdout.flush()


def _on_message(message: Message, air: Air, answers: Answers) -> bool:
    if message.message_type is MessageType.METHOD_CALL:
        if message.interface == "org.freedesktop.DBus.Peer":
            return False
        return answers.take(message)
    if message.message_type is MessageType.SIGNAL and message.member == "NameOwnerChanged":
        name, _before, after = message.body
        if not after:
            air.forget(name)
    return False


async def serve(address: str, bus_pid: int) -> None:
    """Own org.bluez on the bus until standard input ends; then the bus ends too."""
    bus = await MessageBus(bus_address=address).connect()
    descriptor = bus._fd  # noqa: SLF001 - its socket's room is nowhere public
    assert descriptor is not None
    outbox = Outbox(bus, descriptor)
    air = Air(outbox)
    async with asyncio.TaskGroup() as group:
        answers = Answers(air, outbox, group)
        bus.add_message_handler(lambda message: _on_message(message, air, answers))
        await bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member="AddMatch",
                signature="s",
                body=["type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged'"],
            )
        )
        sending = group.create_task(outbox.run(), name="outbox")
        advertising = group.create_task(_advertise_all(air), name="advertisements")
        await bus.request_name("org.bluez")
        air.plug_in()
        sys.stdout.write(json.dumps({"ready": True}) + "\n")
        sys.stdout.flush()
        await _read_commands(Commands(air, answers))
        sending.cancel()
        advertising.cancel()
    bus.disconnect()
    if bus_pid:  # whoever started both is gone, perhaps killed
        with contextlib.suppress(ProcessLookupError):
            os.kill(bus_pid, signal.SIGTERM)


def main() -> None:
    """Run the emulated service."""
    parser = argparse.ArgumentParser(prog="python -m simulator.radio", description=__doc__)
    parser.add_argument("--bus", required=True, help="address of the bus, unix:path=...")
    parser.add_argument("--bus-pid", type=int, default=0, help="process to end at the end")
    given = parser.parse_args()
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(serve(given.bus, given.bus_pid))


if __name__ == "__main__":
    main()
