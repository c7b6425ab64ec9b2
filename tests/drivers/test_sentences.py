"""Every failure has a sentence of its own, with what to do about it."""

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
)

from drivers import sentences
from drivers.links import ble_errors

SAID = [
    sentences.no_port("a"),
    sentences.port_missing("/dev/x"),
    sentences.port_busy("/dev/x"),
    sentences.port_forbidden("/dev/x", "dialout"),
    sentences.port_forbidden("/dev/x", ""),
    sentences.port_failed("/dev/x", "odd"),
    sentences.not_a_port("/dev/x"),
    sentences.setting_refused("/dev/x", "odd"),
    sentences.address_for_a_port("AA"),
    sentences.port_for_an_address("/dev/x"),
    sentences.server_failed("socket://x:1", "odd"),
    sentences.no_server("x://y"),
    sentences.unplugged("/dev/x"),
    sentences.wrong_fields(3, ["unit"]),
    sentences.wrong_fields(3, []),
    sentences.not_answering("/dev/x", 3),
    sentences.wrong_speed(9600, 3),
    sentences.wrong_format(3),
    sentences.no_reply(1, "/dev/x"),
    sentences.bluetooth_off(),
    sentences.no_adapter(),
    sentences.no_bluetooth_service(),
    sentences.no_bus(),
    sentences.bus_forbidden(),
    sentences.not_in_the_air("AA"),
    sentences.link_lost("AA"),
    sentences.no_data("AA", 5),
    sentences.no_characteristic("AA", "2a19"),
    sentences.connect_failed("AA", "odd"),
]


def test_all_differ_and_all_carry_a_remedy() -> None:
    assert len(set(SAID)) == len(SAID)
    assert all(": " in sentence or "(" in sentence for sentence in SAID)


def test_the_words_that_were_agreed() -> None:
    assert sentences.wrong_speed(9600, 3.0).startswith("no valid frames in 3 s at 9600")
    assert "group dialout" in sentences.port_forbidden("/dev/x", "dialout")
    assert "policy" in sentences.bus_forbidden()


def test_what_bluetooth_says_becomes_a_sentence() -> None:
    reasons = BleakBluetoothNotAvailableReason
    cases: list[tuple[BaseException, str]] = [
        (BleakBluetoothNotAvailableError("", reasons.POWERED_OFF), sentences.bluetooth_off()),
        (BleakBluetoothNotAvailableError("", reasons.NO_BLUETOOTH), sentences.no_adapter()),
        (BleakBluetoothNotAvailableError("", reasons.DENIED_BY_SYSTEM), sentences.bus_forbidden()),
        (_dbus("org.freedesktop.DBus.Error.ServiceUnknown"), sentences.no_bluetooth_service()),
        (_dbus("org.freedesktop.DBus.Error.AccessDenied"), sentences.bus_forbidden()),
        (_dbus("org.bluez.Error.NotReady"), sentences.bluetooth_off()),
        (_dbus("org.bluez.Error.Failed"), sentences.connect_failed("AA", "text")),
        (BleakDeviceNotFoundError("AA"), sentences.not_in_the_air("AA")),
        (BleakCharacteristicNotFoundError("2a19"), sentences.no_characteristic("AA", "2a19")),
        (BleakError("adapter 'hci0' not found"), sentences.no_adapter()),
        (BleakError("odd"), sentences.connect_failed("AA", "odd")),
        (FileNotFoundError(2, "no such file"), sentences.no_bus()),
        (ConnectionRefusedError(), sentences.no_bus()),
        (PermissionError(), sentences.bus_forbidden()),
        (AssertionError(), sentences.connect_failed("AA", "AssertionError")),
    ]
    for error, expected in cases:
        assert ble_errors.sentence(error, "AA") == expected


def _dbus(name: str) -> BleakDBusError:
    return BleakDBusError(name, ["text"])
