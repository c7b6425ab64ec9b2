"""What Bluetooth libraries and buses say, as the sentence a person is told."""

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
)

from drivers import sentences

OUTSIDE = (BleakError, OSError, EOFError, AssertionError, KeyError, ValueError)
"""What may come out of a Bluetooth call; a bus that dies under it shows in several ways."""

_BY_REASON = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: sentences.no_adapter,
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: sentences.no_adapter,
    BleakBluetoothNotAvailableReason.POWERED_OFF: sentences.bluetooth_off,
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: sentences.bus_forbidden,
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: sentences.bus_forbidden,
}
_BY_DBUS_ERROR = {
    "org.freedesktop.DBus.Error.ServiceUnknown": sentences.no_bluetooth_service,
    "org.freedesktop.DBus.Error.NameHasNoOwner": sentences.no_bluetooth_service,
    "org.freedesktop.DBus.Error.NoReply": sentences.no_bluetooth_service,
    "org.freedesktop.DBus.Error.Spawn.ChildExited": sentences.no_bluetooth_service,
    "org.freedesktop.DBus.Error.AccessDenied": sentences.bus_forbidden,
    "org.bluez.Error.NotReady": sentences.bluetooth_off,
}


def sentence(error: BaseException, address: str) -> str:
    """Return what to tell about an error of a call for this device."""
    if isinstance(error, BleakBluetoothNotAvailableError):
        return _BY_REASON.get(error.reason, sentences.no_adapter)()
    if isinstance(error, BleakDBusError):
        known = _BY_DBUS_ERROR.get(error.dbus_error)
        return known() if known else sentences.connect_failed(address, _brief(error))
    if isinstance(error, BleakDeviceNotFoundError):
        return sentences.not_in_the_air(address)
    if isinstance(error, BleakCharacteristicNotFoundError):
        return sentences.no_characteristic(address, str(error.char_specifier))
    if isinstance(error, PermissionError):
        return sentences.bus_forbidden()
    if isinstance(error, OSError):
        return sentences.no_bus()
    if isinstance(error, BleakError) and "adapter" in str(error):
        return sentences.no_adapter()
    return sentences.connect_failed(address, _brief(error))


def _brief(error: BaseException) -> str:
    if isinstance(error, BleakDBusError):
        return error.dbus_error_details or error.dbus_error.rpartition(".")[2]
    return str(error) or type(error).__name__
