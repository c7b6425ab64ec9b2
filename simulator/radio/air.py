"""The emulated air: who is heard, who is connected, and every way in which it goes wrong.

Signals leave in the order BlueZ sends them: on connecting Connected, then the services, then
ServicesResolved; on a loss the same backwards.
"""

from dbus_fast import Variant

from simulator.radio.objects import (
    ADAPTER,
    ADAPTER_PATH,
    CHARACTERISTIC,
    DEVICE,
    SERVICE,
    Characteristic,
    Device,
    Interfaces,
)
from simulator.radio.outbox import Outbox


class Air:
    """The adapter and its devices."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self.devices: dict[str, Device] = {}
        self.present = True
        self.powered = True
        self.scanning: set[str] = set()
        """Bus names with a running discovery."""

    def adapter(self) -> Interfaces:
        """Return the adapter's interfaces and properties."""
        return {
            ADAPTER: {
                "Address": Variant("s", "02:00:00:00:00:01"),
                "Name": Variant("s", "emulated"),
                "Roles": Variant("as", ["central"]),
                "Powered": Variant("b", self.powered),
                "Discovering": Variant("b", bool(self.scanning)),
            }
        }

    def objects(self) -> dict[str, Interfaces]:
        """Return every object that exists now, by path."""
        if not self.present:
            return {}
        found = {ADAPTER_PATH: self.adapter()}
        for device in self.devices.values():
            if device.exposed:
                found[device.path] = device.interfaces()
            if device.connected:
                found |= dict(self._service_objects(device))
        return found

    def device_at(self, path: str) -> Device | None:
        """Return the exposed device of an object path."""
        return next(
            (one for one in self.devices.values() if one.exposed and one.path == path), None
        )

    def characteristic_at(self, path: str) -> tuple[Device, Characteristic] | None:
        """Return a connected device's characteristic by its object path."""
        for device in self.devices.values():
            for one in device.characteristics() if device.connected else ():
                if one.path == path:
                    return device, one
        return None

    def hear(self, device: Device) -> None:
        """One advertisement of a device arrives."""
        if not (self.scanning and self.powered and self.present and device.in_the_air):
            return
        if not device.exposed:
            device.exposed = True
            self._outbox.added(device.path, device.interfaces())
        elif not device.connected:
            self._outbox.changed(device.path, DEVICE, device.advertised())

    def connect(self, device: Device) -> None:
        """The device is connected and its services are found."""
        device.half_open = False
        device.connected = True
        self._outbox.changed(device.path, DEVICE, {"Connected": Variant("b", True)})

    def resolve(self, device: Device) -> None:
        """Tell the services of a connected device."""
        for path, interfaces in self._service_objects(device):
            self._outbox.added(path, interfaces)
        self._outbox.changed(device.path, DEVICE, {"ServicesResolved": Variant("b", True)})

    def drop(self, device: Device) -> None:
        """The link is lost, and everybody is told."""
        if not device.connected:
            return
        device.connected = device.half_open = False
        self._outbox.changed(device.path, DEVICE, {"ServicesResolved": Variant("b", False)})
        self._outbox.changed(device.path, DEVICE, {"Connected": Variant("b", False)})
        self._remove_services(device)

    def notify(self, device: Device, characteristic: Characteristic, data: bytes) -> int:
        """A notification arrives; it is signalled once for each subscription. Returns how often."""
        if not device.connected or device.half_open:
            return 0
        for _ in characteristic.senders:
            value = {"Value": Variant("ay", data)}
            self._outbox.changed(characteristic.path, CHARACTERISTIC, value)
        return len(characteristic.senders)

    def services_changed(self, device: Device) -> None:
        """The device's services are found anew; subscriptions are lost without a word."""
        self._remove_services(device)
        for one in device.characteristics():
            one.senders.clear()
        for path, interfaces in self._service_objects(device):
            self._outbox.added(path, interfaces)

    def power(self, on: bool) -> None:
        """Switch the adapter; switching off ends every link and, silently, every discovery."""
        self.powered = on
        if not on:
            for device in self.devices.values():
                self.drop(device)
            self.scanning.clear()
        self._outbox.changed(ADAPTER_PATH, ADAPTER, {"Powered": Variant("b", on)})

    def unplug(self) -> None:
        """The adapter is pulled: its objects vanish, nothing says that links ended."""
        for device in self.devices.values():
            if device.connected:
                self._remove_services(device)
            if device.exposed:
                self._outbox.removed(device.path, [DEVICE])
            device.connected = device.exposed = device.half_open = False
            for one in device.characteristics():
                one.senders.clear()
        self.present = False
        self.scanning.clear()
        self._outbox.removed(ADAPTER_PATH, [ADAPTER])

    def plug_in(self) -> None:
        """The adapter is back."""
        self.present = self.powered = True
        self._outbox.added(ADAPTER_PATH, self.adapter())

    def forget(self, sender: str) -> None:
        """A client left the bus: its discovery and subscriptions end."""
        self.scanning.discard(sender)
        for device in self.devices.values():
            for one in device.characteristics():
                one.senders[:] = [name for name in one.senders if name != sender]

    def _service_objects(self, device: Device) -> list[tuple[str, Interfaces]]:
        found: list[tuple[str, Interfaces]] = []
        for service in device.services:
            found.append((service.path, service.interfaces()))
            found += [(one.path, one.interfaces()) for one in service.characteristics]
        return found

    def _remove_services(self, device: Device) -> None:
        for service in device.services:
            for one in service.characteristics:
                self._outbox.removed(one.path, [CHARACTERISTIC])
            self._outbox.removed(service.path, [SERVICE])
