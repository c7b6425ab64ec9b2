"""A line with one per cent noise: of 20,000 frames at most 3 come out wrong, and no reading does."""

from collections.abc import Callable

import pytest

from daemon.core.pipe import Pipe
from drivers import codecs
from shared.inputs import NS
from shared.job import LevelEntry
from shared.profile import LevelProfile
from simulator.draws import Draws
from simulator.wire import Wire
from simulator.wire.framed_binary import FramedBinary, SummedBinary
from simulator.wire.modbus_rtu import ModbusUnit, framed
from simulator.wire.nmea_xdr import NmeaXdr
from simulator.wire.noise import Noise
from simulator.wire.text_line import TextLine, TextStyle
from tests.drivers.making import bare_profile, profile_of

FRAMES = 20_000
TRUE_DEG = 15.0


def xdr() -> tuple[LevelProfile, Wire]:
    return profile_of("nmea-xdr"), NmeaXdr({"angle": "TILT"}, 0.01, Draws(1, 1))


def crc() -> tuple[LevelProfile, Wire]:
    return profile_of("framed-binary"), FramedBinary()


def summed() -> tuple[LevelProfile, Wire]:
    options = {"sync": "aa55", "layout": "angle:i16", "check": "sum8"}
    fields = {"angle": {"source": "angle", "scale": 0.01}}
    return bare_profile("framed-binary", options, fields), SummedBinary()


class Polled:
    """A Modbus level that is asked once a sample, over a line on which replies suffer."""

    def __init__(self) -> None:
        self._unit = ModbusUnit()

    def write(self, values: dict[str, float]) -> list[tuple[int, bytes]]:
        self._unit.write(values)  # type: ignore[arg-type]
        return [(0, self._unit.answer(framed(bytes([1, 3, 0, 0, 0, 2]))))]


def modbus() -> tuple[LevelProfile, Wire]:
    return profile_of("modbus-rtu"), Polled()  # type: ignore[return-value]


FORMATS = [xdr, crc, summed, modbus]


def chunks(wire: Wire, truth: list[float], seed: int) -> list[bytes]:
    noise = Noise(0.01, Draws(seed, 2))
    return [
        noise.spoil(b"".join(data for _channel, data in wire.write({"angle": angle})))
        for angle in truth
    ]


def wander(seed: int) -> list[float]:
    """Angles at rest with the level's own noise, in hundredths."""
    draws = Draws(seed, 3)
    return [round(TRUE_DEG + draws.normal(0.03), 2) for _ in range(FRAMES)]


def is_true(angle_deg: float) -> bool:
    return abs(angle_deg - TRUE_DEG) < 0.2


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("made", FORMATS, ids=lambda made: made.__name__)
def test_wrong_frames(made: Callable[[], tuple[LevelProfile, Wire]], seed: int) -> None:
    profile, wire = made()
    codec = codecs.make(profile)
    found = [
        is_true(sample.values["angle"])
        for chunk in chunks(wire, wander(seed), seed)
        for sample in codec.feed(0, chunk)
    ]
    assert found.count(False) <= 3
    assert found.count(True) > 0.6 * FRAMES


def readings_of(profile: LevelProfile, wire: Wire, frames: int) -> list[float]:
    """What the level's pipe would let a person take, sample by sample, at 10 Hz."""
    pipe = Pipe(LevelEntry(name="a", profile="x"), profile, lift_deg=8.0)
    pipe.link("up", "", "here")
    found = []
    for index, chunk in enumerate(chunks(wire, wander(1)[:frames], 1)):
        pipe.feed((index + 1) * NS // 10, 0, chunk)
        if pipe.reading is not None:
            found.append(pipe.reading.mean_deg)
    return found


@pytest.mark.parametrize("made", FORMATS, ids=lambda made: made.__name__)
def test_no_wrong_reading(made: Callable[[], tuple[LevelProfile, Wire]]) -> None:
    found = readings_of(*made(), frames=500)
    assert len(found) > 250
    assert max(abs(one - TRUE_DEG) for one in found) < 0.1


@pytest.mark.long
@pytest.mark.parametrize("made", FORMATS, ids=lambda made: made.__name__)
def test_no_wrong_reading_in_twenty_thousand(
    made: Callable[[], tuple[LevelProfile, Wire]],
) -> None:
    found = readings_of(*made(), frames=FRAMES)
    assert len(found) > FRAMES // 2
    assert max(abs(one - TRUE_DEG) for one in found) < 0.1


def test_noise_is_as_bad_as_it_says() -> None:
    """The oracle of the test above: without a check wrong numbers come through in hundreds."""
    profile = profile_of("text-line", format={"options": {"first_line": "keep"}})
    codec = codecs.make(profile)
    wrong = sum(
        not is_true(sample.values["angle"])
        for chunk in chunks(TextLine(TextStyle()), wander(1), 1)
        for sample in codec.feed(0, chunk)
    )
    assert wrong > 30
