"""What a Bluetooth level offers beside its angle: battery, and who made it.

Battery Level 0x2A19 and the Device Information service 0x180A of the Bluetooth GATT
specification. All of it is welcome and none of it is needed: a failure is no failure.
"""

import asyncio
from contextlib import suppress

from bleak import BleakClient

from drivers.codecs import BATTERY_CHANNEL, INFORMATION_CHANNEL
from drivers.links.ble_errors import OUTSIDE
from drivers.links.patience import Patience
from drivers.links.sink import Announcer

BATTERY = "00002a19-0000-1000-8000-00805f9b34fb"
_INFORMATION = {
    "maker": "00002a29-0000-1000-8000-00805f9b34fb",
    "model": "00002a24-0000-1000-8000-00805f9b34fb",
    "serial": "00002a25-0000-1000-8000-00805f9b34fb",
    "firmware": "00002a26-0000-1000-8000-00805f9b34fb",
}


async def tell_information(client: BleakClient, announcer: Announcer, patience: Patience) -> None:
    """Read what the device says of itself, once a connection, as one text."""
    found = {}
    for name, uuid in _INFORMATION.items():
        data = await _read(client, uuid, patience)
        if data:
            found[name] = data.decode("utf-8", "replace").strip("\0 ")
    if found:
        text = ", ".join(f"{name} {value}" for name, value in found.items())
        announcer.bytes(INFORMATION_CHANNEL, text.encode())


async def tell_battery(client: BleakClient, announcer: Announcer, patience: Patience) -> None:
    """Read the battery now and then, until cancelled; ends where there is none to read."""
    while data := await _read(client, BATTERY, patience):
        announcer.bytes(BATTERY_CHANNEL, data[:1])
        await asyncio.sleep(patience.battery_s)


async def _read(client: BleakClient, uuid: str, patience: Patience) -> bytes:
    """Return the value, empty where it is not offered or does not come."""
    with suppress(TimeoutError, *OUTSIDE):
        if client.services.get_characteristic(uuid) is not None:
            async with asyncio.timeout(patience.call_s):
                return bytes(await client.read_gatt_char(uuid))
    return b""
