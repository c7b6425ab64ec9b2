"""Write the recorded logs of the simulator: `python -m tests.drivers.make_recordings`.

The expected output beside each log is what the simulated level meant, rounded to what its
format carries; no codec of the program has a part in it.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from drivers.recordings import Chunk, Recording, sample_line, to_text
from shared.samples import Role, Sample
from simulator.draws import Draws
from simulator.wire import Wire
from simulator.wire.ble_notify import BleNotify, in_packets
from simulator.wire.bthome import Bthome
from simulator.wire.framed_binary import FramedBinary
from simulator.wire.modbus_rtu import ModbusUnit, framed
from simulator.wire.nmea_xdr import NmeaXdr
from simulator.wire.text_line import TextLine, TextStyle
from tests.drivers.encoders import (
    FrameKinds,
    HexText,
    JsonLines,
    LabelledLines,
    MakersAdvert,
    MakersSentence,
    SplitXdr,
)

FOLDER = Path(__file__).parent / "recordings"
COUNT = 60
Values = dict[Role, float]


def wandering(seed: int, step: float, extra: Callable[[int], Values]) -> list[Values]:
    """Return samples of a level that is tilted slowly through level and past it."""
    draws = Draws(seed, 3)
    found: list[Values] = []
    for index in range(COUNT):
        angle = -14.0 + 0.5 * index + draws.normal(0.03)
        angle = round(round(angle / step) * step, 6) + 0.0
        found.append({"angle": angle, **extra(index)})
    return found


def numbers(values: Values) -> dict[str, float]:
    """Return the same numbers by plain name."""
    return {str(role): value for role, value in values.items()}


def cut(data: bytes, draws: Draws) -> list[bytes]:
    """Cut one message somewhere inside, or not at all; never inside its line end."""
    if len(data) < 4 or draws.chance(0.3):
        return [data]
    at = 1 + int(draws.unit() * (len(data) - 3))
    return [data[:at], data[at:]]


def stream(wire: Wire, samples: list[Values], seed: int) -> tuple[list[Chunk], list[str]]:
    """Return chunks and expected lines of a byte stream at 10 Hz, cut anywhere."""
    draws = Draws(seed, 4)
    chunks: list[Chunk] = []
    lines: list[str] = []
    for index, values in enumerate(samples):
        message = b"".join(data for _channel, data in wire.write(values))
        parts = cut(message, draws)
        for number, part in enumerate(parts):
            chunks.append(Chunk(0.1 * index + 0.002 * number, 0, part))
        lines.append(sample_line(chunks[-1].t_s, Sample(numbers(values))))
    return chunks, lines


def packets(
    wire: Wire, samples: list[Values], seen: Callable[[int, Values], dict[str, float]]
) -> tuple[list[Chunk], list[str]]:
    """Return chunks and expected lines where every message is a packet of its own."""
    chunks: list[Chunk] = []
    lines: list[str] = []
    for index, values in enumerate(samples):
        for channel, data in wire.write(values):
            chunks.append(Chunk(0.1 * index, channel, data))
        lines.append(sample_line(0.1 * index, Sample(seen(index, values))))
    return chunks, lines


def uart(samples: list[Values]) -> tuple[list[Chunk], list[str]]:
    """Return chunks and expected lines of text lines in packets of 20 bytes."""
    wire = TextLine(TextStyle("TILT {angle} deg"))
    chunks = [Chunk(0.0, 0, b"7.21 deg\r\n")]  # half a line, as after connecting
    lines: list[str] = []
    waiting = b""
    for index, values in enumerate(samples):
        waiting += wire.write(values)[0][1]
        whole = waiting if index % 3 == 2 else waiting[: len(waiting) // 2]
        waiting = waiting[len(whole) :]
        t_s = 0.1 * (index + 1)
        parts = in_packets(whole, 20)
        ends = 0
        for part in parts:
            chunks.append(Chunk(t_s, 0, part))
            ends += part.count(b"\r")
        done = samples[len(lines) : len(lines) + ends]
        lines += [sample_line(t_s, Sample(numbers(one))) for one in done]
    return chunks, lines


def modbus(samples: list[Values]) -> tuple[list[Chunk], list[str], list[str]]:
    """Return chunks, expected lines and refusals of a polled level that is busy once."""
    unit = ModbusUnit(unit=1, words="CDAB")
    request = framed(bytes([1, 3, 0, 0, 0, 2]))
    chunks: list[Chunk] = []
    lines: list[str] = []
    for index, values in enumerate(samples):
        unit.write(values)
        unit.busy = int(index == 7)
        reply = unit.answer(request)
        t_s = 0.1 * index
        chunks += [Chunk(t_s, 0, reply[:4]), Chunk(t_s + 0.001, 0, reply[4:])]
        if index != 7:
            lines.append(sample_line(t_s + 0.001, Sample(numbers(values))))
    return chunks, lines, ["refused 1 exception: busy"]


def save(
    name: str,
    profile: str,
    made: tuple[list[Chunk], list[str]],
    settings: dict[str, Any] | None = None,
    refused: list[str] | None = None,
) -> None:
    """Write one log and its expected output."""
    chunks, lines = made
    source = "the simulator (tests/drivers/make_recordings.py), no real instrument"
    recording = Recording(profile, source, settings or {}, chunks)
    (FOLDER / f"{name}.log").write_text(to_text(recording), "utf-8")
    expected = "\n".join(["# decoded output", *lines, *(refused or [])]) + "\n"
    (FOLDER / f"{name}.expected").write_text(expected, "utf-8")


def own(codec: str, fields: dict[str, Any], **tables: Any) -> str:
    """Return a whole profile as JSON, for a format that is in no shipped one."""
    base = {"stillblade_profile": 1, "kind": "own", "title": "a test", "convention": "planar"}
    options = {"options": tables.pop("options", {})}
    made = base | {"format": {"codec": codec} | options, "fields": fields} | tables
    return json.dumps(made, ensure_ascii=False)


def of_their_own(plain: list[Values], two_axes: list[Values]) -> None:
    """Write the formats of `encoders`."""
    both = {"convention": "roll-pitch"}
    keep = {"first_line": "keep"}
    save("xdr-axes-apart", own(
        "nmea-xdr", {"roll": {"source": "ROLL"}, "pitch": {"source": "PTCH"}}, **both,
        options={"gather": ["pitch", "roll"]},
    ), stream(SplitXdr(), two_axes, 5))  # fmt: skip
    tenths: list[Values] = [{"angle": round(one["angle"] * 600.0) / 600.0} for one in plain]
    save("makers-sentence", own(
        "text-line", {"angle": {"source": "2"}},
        options=keep | {"begins": "$PBLDA,", "separator": "comma", "checksum": "xor", "minus": ["D"], "plus": ["U"]},
    ), stream(MakersSentence(), tenths, 6))  # fmt: skip
    warm: list[Values] = [{**one, "temperature": 20.0 + i // 20} for i, one in enumerate(plain)]
    save("hex-text", own(
        "text-line",
        {"angle": {"source": "a", "scale": 0.01}, "temperature": {"source": "t", "unit": "degC"}},
        options=keep | {"pattern": "A{a:4}{t:2}", "digits": "hex signed", "checksum": "CRC-16/XMODEM", "end": "\x03"},
    ), stream(HexText(), warm, 7))  # fmt: skip
    save("json-line", own(
        "json-line", {"roll": {"source": "t.roll"}, "pitch": {"source": "t.pitch"}}, **both,
        options=keep | {"only": {"type": "tilt"}},
    ), stream(JsonLines(), two_axes, 8))  # fmt: skip
    save("labelled-lines", own(
        "text-line", {"roll": {"source": "Roll"}, "pitch": {"source": "Pitch"}}, **both,
        options=keep | {"decimal": "comma", "minus": ["-"], "plus": [""], "gather": ["roll", "pitch"]},
    ), stream(LabelledLines(), two_axes, 9))  # fmt: skip
    scale = 180.0 / 32768.0
    steps: list[Values] = [
        {role: round(value / scale) * scale for role, value in one.items()} for one in two_axes
    ]
    save("frame-kinds", own(
        "framed-binary", {"roll": {"source": "r", "scale": scale}, "pitch": {"source": "p", "scale": scale}}, **both,
        options={"sync": "55", "layouts": {"01": "r:i16", "02": "p:i16"}, "order": "big",
                 "check": "CRC-32/ISO-HDLC", "check_from": "sync", "check_order": "big", "gather": ["roll", "pitch"]},
    ), stream(FrameKinds(), steps, 10))  # fmt: skip
    chunks, lines = packets(MakersAdvert(), plain, lambda _index, one: numbers(one))
    del lines[19::20]  # sent as "no angle"
    save("manufacturer-data", own(
        "ble-notify", {"angle": {"scale": 0.01}}, options={"layouts": {"0": "pad:1 angle:i16"}},
        transport={"link": "ble-advert"}, channels=[{"manufacturer_id": 65535}],
    ), (chunks, lines), refused=["refused 3 no angle"])  # fmt: skip


def main() -> None:
    """Write all of them."""
    plain = wandering(1, 0.01, lambda _index: {})
    warm = wandering(2, 0.01, lambda index: {"temperature": round(20.0 + 0.01 * index, 2)})
    coarse = wandering(3, 0.1, lambda index: {"battery": 90.0 - index // 10})
    two_axes: list[Values] = [
        {"roll": one["angle"], "pitch": round(-0.5 * one["angle"], 2) + 0.0} for one in plain
    ]
    named: dict[Role, str] = {"angle": "BLADE1"}
    save("nmea-xdr", "nmea-xdr", stream(NmeaXdr(named, 0.01, Draws(1, 5)), plain, 1),
         {"fields": {"angle": {"source": "BLADE1"}}})  # fmt: skip
    save("text-line", "text-line", stream(TextLine(TextStyle("{angle}")), plain, 2),
         {"format": {"options": {"first_line": "keep"}}})  # fmt: skip
    comma = TextStyle("ROLL={roll}°; PITCH={pitch}°", decimal_comma=True, plus=True, end="\r")
    save("text-line-two-axes", "text-line", stream(TextLine(comma), two_axes, 3), {
        "convention": "roll-pitch",
        "format": {"options": {"pattern": "ROLL={roll} ; PITCH={pitch}", "decimal": "comma",
                               "first_line": "keep"}},
        "fields": {"roll": {}, "pitch": {}},
    })  # fmt: skip
    counted: list[Values] = [{**one, "sequence": float(i)} for i, one in enumerate(warm)]
    save("framed-binary", "framed-binary", stream(FramedBinary(), counted, 4))
    chunks, lines, refused = modbus(
        [{"angle": round(one["angle"] * 8.0) / 8.0 + 0.0} for one in plain]
    )
    save("modbus-rtu", "modbus-rtu", (chunks, lines), {"format": {"options": {"words": "CDAB"}}},
         refused)  # fmt: skip
    save("ble-notify", "ble-notify", packets(
        BleNotify(), plain, lambda index, one: {"angle": one["angle"], "sequence": float(index)}
    ))  # fmt: skip
    save("ble-uart", "ble-uart", uart(plain),
         {"format": {"options": {"pattern": "TILT {angle} {*}"}}, "fields": {"angle": {"source": "angle"}}})  # fmt: skip
    save("bthome", "bthome", packets(Bthome(), coarse, lambda _index, one: numbers(one)))
    of_their_own(plain, two_axes)


if __name__ == "__main__":
    main()
