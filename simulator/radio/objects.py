"""What the emulated Bluetooth service knows: its adapter, the devices in the air, their services.

Object paths and properties are those of BlueZ's D-Bus interface (org.bluez.Adapter,
org.bluez.Device, org.bluez.GattService, org.bluez.GattCharacteristic). A device's client
library derives handles from the last four digits of a path, so their form matters.
"""

from dataclasses import dataclass, field
from typing import Any

from dbus_fast import Variant

ADAPTER_PATH = "/org/bluez/hci0"
ADAPTER = "org.bluez.Adapter1"
DEVICE = "org.bluez.Device1"
SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
BASE_UUID = "0000{}-0000-1000-8000-00805f9b34fb"

Interfaces = dict[str, dict[str, Variant]]


def long_uuid(uuid: str) -> str:
    """Return the 128-bit form of a UUID in lower case (Bluetooth Core, Vol 3 Part B 2.5.1)."""
    return BASE_UUID.format(uuid.lower()) if len(uuid) == 4 else uuid.lower()


@dataclass(slots=True)
class Characteristic:
    """One characteristic: what a read returns, and who has subscribed."""

    path: str
    service_path: str
    uuid: str
    flags: list[str]
    value: bytes = b""
    senders: list[str] = field(default_factory=list)
    """Bus names that asked for notifications, once for each request."""
    written: list[bytes] = field(default_factory=list)

    def interfaces(self) -> Interfaces:
        """Return the object's interfaces and properties."""
        return {
            CHARACTERISTIC: {
                "UUID": Variant("s", self.uuid),
                "Service": Variant("o", self.service_path),
                "Flags": Variant("as", self.flags),
                "MTU": Variant("q", 247),
            }
        }


@dataclass(slots=True)
class Service:
    """One GATT service."""

    path: str
    device_path: str
    uuid: str
    characteristics: list[Characteristic]

    def interfaces(self) -> Interfaces:
        """Return the object's interfaces and properties."""
        return {
            SERVICE: {
                "UUID": Variant("s", self.uuid),
                "Device": Variant("o", self.device_path),
                "Primary": Variant("b", True),
            }
        }


@dataclass(slots=True)
class Device:
    """One device: its address is its identity, its name is anybody's."""

    address: str
    name: str
    uuids: list[str]
    services: list[Service]
    rssi: int = -60
    service_data: dict[str, bytes] = field(default_factory=dict)
    manufacturer_data: dict[int, bytes] = field(default_factory=dict)
    exposed: bool = False
    """Heard since the service started, so its object exists."""
    in_the_air: bool = True
    connected: bool = False
    connecting: bool = False
    half_open: bool = False
    """The link is dead and nobody noticed: connected, and nothing arrives."""

    @property
    def path(self) -> str:
        """The device's object path."""
        return f"{ADAPTER_PATH}/dev_{self.address.replace(':', '_')}"

    def characteristics(self) -> list[Characteristic]:
        """Return the characteristics of all services."""
        return [one for service in self.services for one in service.characteristics]

    def characteristic(self, uuid: str) -> Characteristic:
        """Return one characteristic.

        Raises:
            KeyError: the device has none of this UUID.
        """
        wanted = long_uuid(uuid)
        for one in self.characteristics():
            if one.uuid == wanted:
                return one
        raise KeyError(uuid)

    def advertised(self) -> dict[str, Variant]:
        """Return the properties that come from advertisements."""
        properties = {"RSSI": Variant("n", self.rssi), "UUIDs": Variant("as", self.uuids)}
        if self.service_data:
            data = {uuid: Variant("ay", value) for uuid, value in self.service_data.items()}
            properties["ServiceData"] = Variant("a{sv}", data)
        if self.manufacturer_data:
            made = {key: Variant("ay", value) for key, value in self.manufacturer_data.items()}
            properties["ManufacturerData"] = Variant("a{qv}", made)
        return properties

    def interfaces(self) -> Interfaces:
        """Return the object's interfaces and properties."""
        properties = {
            "Address": Variant("s", self.address),
            "AddressType": Variant("s", "public"),
            "Name": Variant("s", self.name),
            "Alias": Variant("s", self.name),
            "Adapter": Variant("o", ADAPTER_PATH),
            "Paired": Variant("b", False),
            "Trusted": Variant("b", False),
            "Connected": Variant("b", self.connected),
            "ServicesResolved": Variant("b", self.connected),
        }
        return {DEVICE: properties | self.advertised()}


def device_from(command: dict[str, Any]) -> Device:
    """Return the device an `add` command describes; see `simulator.radio.Radio.add_level`."""
    device = Device(
        address=command["address"],
        name=command["name"],
        uuids=[long_uuid(uuid) for uuid in command.get("uuids", [])],
        services=[],
        rssi=command.get("rssi", -60),
    )
    handle = 0x0010
    for service in command.get("services", []):
        path = f"{device.path}/service{handle:04x}"
        made = Service(path, device.path, long_uuid(service["uuid"]), [])
        for one in service["characteristics"]:
            handle += 2
            made.characteristics.append(
                Characteristic(
                    f"{path}/char{handle:04x}",
                    path,
                    long_uuid(one["uuid"]),
                    one.get("flags", ["notify", "read"]),
                    bytes.fromhex(one.get("value", "")),
                )
            )
        handle += 0x10
        device.services.append(made)
    return device
