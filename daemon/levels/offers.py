"""`stillblade levels listen ADDRESS`: what a Bluetooth device offers, with its values as they change."""

import asyncio
import contextlib
import time
from collections.abc import Callable
from typing import Any, TextIO

from daemon.levels.ear import raw
from daemon.levels.look import Told
from drivers.links import PATIENT, Patience
from drivers.links.air import shared_air
from drivers.links.services import Listener, Offered, listen_to_services


class Offers(Listener):
    """Tells in lines: what there is once, then each value that is another than before.

    tell: given each line for a person.

    Attributes:
        values: how many were told.
    """

    def __init__(
        self, tell: Callable[[str], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._tell = tell
        self._clock = clock
        self._began = clock()
        self._before: dict[Offered, bytes] = {}
        self._found: list[Offered] = []
        self.values = 0

    def offers(self, device: str, found: list[Offered]) -> None:
        """Tell the services; the same again after a reconnection is told in one line."""
        self._tell(f"{self._now()}  connected: {device or 'it says no name'}")
        if found == self._found:
            return
        self._found = found
        service = ""
        for one in found:
            if one.service != service:
                service = one.service
                self._tell(f"service {_named(service, one.service_name)}")
            self._tell(f"  {_named(one.uuid, one.name)}: {', '.join(one.does)}")
        self._tell("" if found else "it offers nothing")

    def value(self, one: Offered, data: bytes, how: str) -> None:
        """Tell a value that was notified, or that reads otherwise than before."""
        if how == "read" and self._before.get(one) == data:
            return
        self._before[one] = data
        self.values += 1
        self._tell(f"{self._now()}  {_named(one.uuid, one.name)}  {raw(data) or '(empty)'}")

    def trouble(self, reason: str) -> None:
        """Tell why nothing comes."""
        self._tell(f"{self._now()}  {reason}")

    def _now(self) -> str:
        return f"{self._clock() - self._began:9.3f} s"


def _named(uuid: str, name: str) -> str:
    return f"{uuid} ({name})" if name else uuid


async def listen_to(
    address: str,
    out: TextIO,
    seconds: float | None = None,
    patience: Patience = PATIENT,
    *,
    air: Any = None,
    backend: Any = None,
) -> int:
    """Print what a device offers until the time is up or cancelled; None = until cancelled.

    air, backend: for tests; None = the shared one, and the platform's own.

    Returns:
        0 where a value came, 1 where none did.

    Raises:
        OutsideError: `out` takes nothing more.
    """
    tell = Told(out)
    told = Offers(tell)
    with contextlib.suppress(TimeoutError, asyncio.CancelledError):
        async with asyncio.timeout(seconds), asyncio.TaskGroup() as group:
            link = group.create_task(
                listen_to_services(address, told, patience, air or shared_air(), backend),
                name="link",
            )
            await tell.over.wait()
            link.cancel()
    tell(f"{told.values} values")
    tell.check()
    return 0 if told.values else 1
