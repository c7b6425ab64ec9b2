"""A level on a pseudo-terminal to try things with: `python -m simulator.wire KIND [--rate HZ]`.

Prints the path of the line, then takes a fault a line on standard input: pull, put-back,
noise, wrong-speed, silent, fair. Ends with its input.
"""

import argparse
import asyncio
import math
import sys
import time
from typing import get_args

from shared.samples import Role
from simulator.draws import Draws
from simulator.wire import Wire
from simulator.wire.framed_binary import FramedBinary
from simulator.wire.modbus_rtu import ModbusUnit
from simulator.wire.nmea_xdr import NmeaXdr
from simulator.wire.terminal import Fault, TerminalLevel
from simulator.wire.text_line import TextLine, TextStyle

KINDS = ("framed-binary", "modbus-rtu", "nmea-xdr", "text-line")
_ANSWERS_HZ = 500.0
"""How often a polled level looks whether it was asked."""


def _wire(kind: str) -> Wire:
    if kind == "framed-binary":
        return FramedBinary()
    if kind == "modbus-rtu":
        return ModbusUnit()
    if kind == "nmea-xdr":
        return NmeaXdr({"angle": "TILT"}, 0.01, Draws(1, 1))
    return TextLine(TextStyle())


def _tilt() -> dict[Role, float]:
    """A level that is rocked slowly about 15 degrees."""
    return {"angle": round(15.0 + 2.0 * math.sin(time.monotonic() / 3.0), 2)}


async def _serve(kind: str, rate_hz: float) -> None:
    level = TerminalLevel(kind, _wire(kind), _tilt, rate_hz)
    print(level.path, flush=True)  # noqa: T201 - this is a program
    reader = asyncio.StreamReader()
    loop = asyncio.get_running_loop()
    await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), sys.stdin)
    async with asyncio.TaskGroup() as group:
        running = group.create_task(level.run(), name=kind)
        while line := await reader.readline():
            word = line.decode().strip()
            if word in get_args(Fault):
                level.fault(word)  # type: ignore[arg-type]
            else:
                print(f"no fault {word!r}: {', '.join(get_args(Fault))}", file=sys.stderr)  # noqa: T201
        running.cancel()


def main() -> None:
    """Run one level."""
    parser = argparse.ArgumentParser(prog="python -m simulator.wire", description=__doc__)
    parser.add_argument("kind", choices=KINDS)
    parser.add_argument("--rate", type=float, default=10.0, help="samples a second")
    given = parser.parse_args()
    rate_hz = _ANSWERS_HZ if given.kind == "modbus-rtu" else given.rate
    asyncio.run(_serve(given.kind, rate_hz))


if __name__ == "__main__":
    main()
