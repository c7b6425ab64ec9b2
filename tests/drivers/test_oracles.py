"""Codecs and links against libraries that other people wrote: pynmea2, bthome-ble, pymodbus."""

import asyncio
import random
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Any

import pynmea2
import pytest
from bleak.backends.device import BLEDevice
from bthome_ble import BTHomeBluetoothDeviceData
from bthome_ble.const import MEAS_TYPES
from habluetooth.models import BluetoothServiceInfoBleak
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer import FramerType
from pymodbus.framer.rtu import FramerRTU
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from drivers import codecs, sentences
from drivers.codecs._checks import crc16_modbus
from drivers.codecs.bthome import KINDS, SIZES
from drivers.codecs.modbus_rtu import arranged, request, with_crc
from drivers.codecs.nmea_xdr import checksum
from shared.profile import Channel
from simulator.draws import Draws
from simulator.line import Line
from simulator.wire.bthome import Bthome
from simulator.wire.nmea_xdr import NmeaXdr
from tests.drivers.encoders import MakersSentence, SplitXdr
from tests.drivers.making import angles, bare_codec, profile_of
from tests.drivers.sinks import Heard, kept

pytestmark = pytest.mark.real


def test_xdr_sentences_read_as_pynmea2_reads_them() -> None:
    wire, source = NmeaXdr({"angle": "TILT"}, 0.01, Draws(5, 1)), random.Random(5)
    codec = codecs.make(profile_of("nmea-xdr", fields={"angle": {"source": "TILT"}}))
    for _ in range(500):
        values = {"angle": round(source.random() * 360 - 180, 2)}
        line = b"".join(data for _channel, data in wire.write(values))  # type: ignore[arg-type]
        expected = []
        for text in line.decode().split():
            if not text.startswith("$IIXDR"):
                continue
            sentence: Any = pynmea2.parse(text, check=True)
            expected += [
                float(sentence.get_transducer(index).value)
                for index in range(sentence.num_transducers)
                if sentence.get_transducer(index).id == "TILT"
            ]
        assert angles(codec, line) == expected
    assert not codec.refused


def test_axes_in_sentences_of_their_own_read_as_pynmea2_reads_them() -> None:
    wire, source = SplitXdr(), random.Random(8)
    fields = {"roll": {"source": "ROLL"}, "pitch": {"source": "PTCH"}}
    options = {"gather": ["pitch", "roll"]}
    codec = bare_codec("nmea-xdr", options, fields, convention="roll-pitch")
    for _ in range(200):
        tilt = {"roll": source.random() * 90 - 45, "pitch": source.random() * 90 - 45}
        line = wire.write(tilt)  # type: ignore[arg-type]
        theirs = {}
        for _channel, data in line:
            one = pynmea2.parse(data.decode(), check=True).get_transducer(0)
            theirs[one.id] = float(one.value)
        mine = codec.feed(0, b"".join(data for _channel, data in line))
        expected = {"pitch": theirs["PTCH"], "roll": theirs["ROLL"]}
        assert [one.values for one in mine] == [expected]


def test_a_makers_sentence_has_the_checksum_of_pynmea2() -> None:
    wire = MakersSentence()
    for _channel, data in wire.write({"angle": -12.5}):
        body, _, sent = data.decode().strip()[1:].partition("*")
        assert int(sent, 16) == checksum(body.encode())
        if body.isascii():
            assert f"{pynmea2.NMEASentence.checksum(body):02X}" == sent


def test_checksum_equals_pynmea2() -> None:
    source = random.Random(6)
    for _ in range(200):
        body = "".join(chr(33 + int(source.random() * 90)) for _ in range(30))
        assert checksum(body.encode()) == pynmea2.NMEASentence.checksum(body)


def test_what_pynmea2_writes_is_read() -> None:
    fields = ("A", "14.6", "D", "PTCH", "A", "-2.3", "D", "ROLL")
    sentence = pynmea2.NMEASentence.parse("$IIXDR," + ",".join(fields))
    codec = codecs.make(profile_of("nmea-xdr", fields={"angle": {"source": "ROLL"}}))
    assert angles(codec, (str(sentence) + "\r\n").encode()) == [-2.3]


def bthome_oracle(data: bytes) -> dict[str, float]:
    """Rotation and battery as bthome-ble has them."""
    info = BluetoothServiceInfoBleak(
        name="level", address="AA:BB:CC:00:00:01", rssi=-60, manufacturer_data={},
        service_uuids=[], source="", service_data={"0000fcd2-0000-1000-8000-00805f9b34fb": data},
        device=BLEDevice("AA:BB:CC:00:00:01", "level", {}), advertisement=None, connectable=False, time=0.0, tx_power=None,
    )  # fmt: skip
    update = BTHomeBluetoothDeviceData().update(info)
    found = {key.key: value.native_value for key, value in update.entity_values.items()}
    return {
        role: float(found[key])  # type: ignore[arg-type]
        for role, key in (("angle", "rotation"), ("battery", "battery"))
        if key in found
    }


def test_every_bthome_object_is_as_long_as_bthome_ble_has_it() -> None:
    variable = {"command", "string", "raw"}
    theirs = {
        identity: kind.data_length
        for identity, kind in MEAS_TYPES.items()
        if kind.data_format not in variable
    }
    assert theirs == SIZES


@pytest.mark.parametrize("identity", sorted(KINDS))
def test_bthome_factors_and_signs(identity: int) -> None:
    kind, theirs = KINDS[identity], MEAS_TYPES[identity]
    assert kind.factor == pytest.approx(theirs.factor)
    assert kind.signed == (theirs.data_format == "signed_integer")


def test_bthome_packets_read_as_bthome_ble_reads_them() -> None:
    wire, source = Bthome(), random.Random(7)
    codec = codecs.make(profile_of("bthome"))
    for _ in range(200):
        values = {"angle": round(source.random() * 360 - 180, 1), "battery": 50.0}
        data = wire.write(values)[0][1]  # type: ignore[arg-type]
        mine = codec.feed(0, data)[0].values
        assert mine == pytest.approx(bthome_oracle(data))
        assert mine == pytest.approx(values)
    assert bthome_oracle(bytes.fromhex("403f85ff")) == pytest.approx({"angle": -12.3})


def test_modbus_crc_is_pymodbus_crc_with_its_bytes_swapped() -> None:
    source = random.Random(8)
    for _ in range(200):
        data = bytes(int(source.random() * 256) for _ in range(1 + int(source.random() * 40)))
        theirs = FramerRTU.compute_CRC(data)
        assert crc16_modbus(data) == (theirs & 0xFF) << 8 | theirs >> 8


@pytest.mark.parametrize(("words", "order"), [("ABCD", "big"), ("CDAB", "little")])
def test_word_orders_as_pymodbus_has_them(words: str, order: str) -> None:
    source = random.Random(9)
    mixin = ModbusClientMixin
    for _ in range(100):
        value = struct.unpack(">f", struct.pack(">f", source.random() * 360 - 180))[0]
        registers = mixin.convert_to_registers(value, mixin.DATATYPE.FLOAT32, word_order=order)  # type: ignore[arg-type]
        raw = b"".join(one.to_bytes(2, "big") for one in registers)
        assert struct.unpack(">f", arranged(raw, words))[0] == value  # type: ignore[arg-type]


@asynccontextmanager
async def pymodbus_on(line: Line) -> AsyncIterator[None]:
    """A pymodbus RTU server behind a pseudo-terminal: its bytes are carried over loopback."""
    held = SimData(address=0, values=12.5, datatype=DataType.FLOAT32)
    server = ModbusTcpServer(
        SimDevice(id=1, simdata=[held]), framer=FramerType.RTU, address=("127.0.0.1", 0)
    )
    await server.serve_forever(background=True)
    listening: Any = server.transport
    reader, writer = await asyncio.open_connection(*listening.sockets[0].getsockname())

    async def to_server() -> None:
        while True:
            writer.write(line.read())
            await asyncio.sleep(0.002)

    async def to_line() -> None:
        while data := await reader.read(256):
            line.write(data)

    try:
        async with asyncio.TaskGroup() as group:
            tasks = [
                group.create_task(to_server(), name="to server"),
                group.create_task(to_line(), name="to line"),
            ]
            try:
                yield
            finally:
                for task in tasks:
                    task.cancel()
    finally:
        writer.close()
        with suppress(OSError):
            await writer.wait_closed()
        await server.shutdown()  # type: ignore[no-untyped-call]


async def test_pymodbus_server_is_polled_over_a_line() -> None:
    line, heard = Line("modbus"), Heard()
    profile = profile_of("modbus-rtu", reporting={"rate_hz": 50})
    codec = codecs.make(profile)
    path = line.open()
    try:
        async with pymodbus_on(line), kept(profile, path, heard):
            await heard.until(lambda: len(b"".join(heard.data())) >= 9 * 20)
    finally:
        line.close()
    found = angles(codec, b"".join(heard.data()))
    assert len(found) >= 20
    assert set(found) == {12.5}
    assert not codec.refused


async def test_pymodbus_refuses_a_register_and_stays_silent_for_another_unit() -> None:
    line, heard = Line("modbus"), Heard()
    path = line.open()
    wrong = [{"number": 0, "unit": 1, "address": 500, "count": 2}]
    profile = profile_of(
        "modbus-rtu", channels=wrong, fields={"angle": {"source": "500:f32"}},
        reporting={"rate_hz": 50},
    )  # fmt: skip
    codec = codecs.make(profile)
    try:
        async with pymodbus_on(line), kept(profile, path, heard):
            await heard.until(lambda: len(b"".join(heard.data())) >= 5 * 5)
    finally:
        line.close()
    assert angles(codec, b"".join(heard.data())) == []
    assert codec.refused["exception: illegal register"] >= 5


def test_request_is_what_pymodbus_expects() -> None:
    channel = Channel(unit=17, function=4, address=300, count=5)
    frame = request(channel)
    assert frame == with_crc(bytes([17, 4]) + struct.pack(">HH", 300, 5))
    assert FramerRTU.compute_CRC(frame[:-2]).to_bytes(2, "big") == frame[-2:]
    assert sentences.no_reply(17, "x").startswith("unit 17")
