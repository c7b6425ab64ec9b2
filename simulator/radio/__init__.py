"""An emulated Bluetooth service: levels in the air without a radio.

`Radio` starts a private bus and the service on it, each a process of its own, and feeds it
real bytes. A Bluetooth client library that is told this bus through the environment
(DBUS_SYSTEM_BUS_ADDRESS) does not notice a difference.
"""

import asyncio
import itertools
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

from simulator.radio.bus import PrivateBus, end

__all__ = ["Radio"]

_ANSWER_S = 10.0


class Radio:
    """The emulated radio, from the side of whoever runs it.

    Addresses are written "AA:BB:CC:DD:EE:FF", UUIDs in full or as four hexadecimal digits.
    """

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="stillblade-radio-")
        self._bus = PrivateBus(Path(self._folder.name))
        self._process: asyncio.subprocess.Process | None = None
        self._numbers = itertools.count(1)
        self._added: list[dict[str, Any]] = []
        self._before: str | None = None

    @property
    def address(self) -> str:
        """Address of the private bus."""
        return self._bus.address

    @property
    def pids(self) -> list[int]:
        """Process ids of service and bus, as far as they run."""
        return [pid for pid in (self._process.pid if self._process else 0, self._bus.pid) if pid]

    async def start(self) -> None:
        """Start bus and service, and point this process's Bluetooth library at them.

        Raises:
            FileNotFoundError: no dbus-daemon program.
            TimeoutError: they do not come up.
        """
        try:
            await self._bus.start()
        except BaseException:
            self._folder.cleanup()
            raise
        self._before = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS")
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = self.address
        await self.start_service()

    async def start_service(self) -> None:
        """Start the service (again); the levels are in the air, none is connected."""
        self._process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "simulator.radio",
            "--bus",
            self.address,
            "--bus-pid",
            str(self._bus.pid),
            start_new_session=True,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            cwd=Path(__file__).parent.parent.parent,
        )
        await self._line()
        for command in self._added:
            await self._ask(command)

    async def kill_service(self) -> None:
        """Kill the service, as a crash or a restart of it does: nobody is told anything."""
        if self._process is not None:
            self._process.kill()
            await self._process.wait()
            self._close_pipes()

    async def stop(self) -> None:
        """End service and bus, by their process ids."""
        await end(self._process)
        self._close_pipes()
        await self._bus.stop()
        if self._before is None:
            os.environ.pop("DBUS_SYSTEM_BUS_ADDRESS", None)
        else:
            os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = self._before
        self._folder.cleanup()

    async def add_level(
        self,
        address: str,
        name: str,
        services: dict[str, list[str]] | None = None,
        values: dict[str, bytes] | None = None,
        rssi: int = -60,
    ) -> None:
        """Put a level into the air.

        services: characteristic UUIDs by service UUID; each can be read, written, subscribed.
        values: what a read returns, by characteristic UUID.
        """
        values = values or {}
        command = {
            "do": "add",
            "address": address,
            "name": name,
            "uuids": list(services or {}),
            "rssi": rssi,
            "services": [
                {
                    "uuid": service,
                    "characteristics": [
                        {
                            "uuid": uuid,
                            "flags": ["notify", "read", "write"],
                            "value": values.get(uuid, b"").hex(),
                        }
                        for uuid in uuids
                    ],
                }
                for service, uuids in (services or {}).items()
            ],
        }
        self._added.append(command)
        await self._ask(command)

    def feed(self, address: str, uuid: str, data: bytes) -> None:
        """Let a level notify bytes now; lost where nobody is subscribed, as in the air."""
        self._tell({"do": "feed", "address": address, "uuid": uuid, "data": data.hex()})

    def advertise(self, address: str, uuid: str, data: bytes, rssi: int = -60) -> None:
        """Let a level advertise service data now."""
        self._tell(
            {
                "do": "advertise",
                "address": address,
                "rssi": rssi,
                "service_data": {uuid: data.hex()},
            }
        )

    def fault_now(self, kind: str, address: str, **facts: Any) -> None:
        """Make something go wrong without waiting for it; see `fault`."""
        self._tell({"do": kind, "address": address, **facts})

    async def fault(self, kind: str, address: str = "", **facts: Any) -> dict[str, Any]:
        """Make something go wrong, and wait until it has.

        kind: drop, half-open, services-changed, in-the-air (on), power (on), unplug, plug-in,
        or spoil (method, answer = never, error or slow, times, error, text, delay_s).
        """
        command = {"do": kind, **({"address": address} if address else {}), **facts}
        return await self._ask(command)

    async def look(self, what: str, address: str = "", **facts: Any) -> dict[str, Any]:
        """Ask the service what it saw: seen, subscriptions, written (uuid)."""
        return await self.fault(what, address, **facts)

    async def drain(self) -> None:
        """Wait until the service has room for more."""
        if self._process is not None and self._process.stdin is not None:
            async with asyncio.timeout(_ANSWER_S):
                await self._process.stdin.drain()

    def _tell(self, command: dict[str, Any]) -> None:
        process = self._process
        if process is None or process.stdin is None or process.returncode is not None:
            return  # the service is down: the air carries nothing
        process.stdin.write(json.dumps(command).encode() + b"\n")

    async def _ask(self, command: dict[str, Any]) -> dict[str, Any]:
        number = next(self._numbers)
        self._tell({**command, "id": number})
        while True:
            answer = await self._line()
            if answer.get("id") == number:
                break
        if "error" in answer:
            raise ValueError(f"{command['do']}: {answer['error']}")
        return answer

    async def _line(self) -> dict[str, Any]:
        assert self._process is not None
        assert self._process.stdout is not None
        async with asyncio.timeout(_ANSWER_S):
            line = await self._process.stdout.readline()
        if not line:
            raise ConnectionError("the emulated Bluetooth service has ended")
        answer: dict[str, Any] = json.loads(line)
        return answer

    def _close_pipes(self) -> None:
        if self._process is not None and self._process.stdin is not None:
            self._process.stdin.close()
        self._process = None
