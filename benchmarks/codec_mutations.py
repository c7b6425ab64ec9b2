"""Seeded mutations of every format's recorded log: nothing escapes, nothing hangs.

    python -m benchmarks.codec_mutations [COUNT] [CODEC ...]

A plain loop; prints the table of docs/levels.md. Every mutation is a piece of a real log with bytes changed, lost, invented or
repeated, fed in two chunks to a codec that has seen all the ones before.
"""

import sys
import time
from pathlib import Path
from random import Random

from drivers import codecs
from drivers.recordings import from_text
from shared.samples import Codec

LOGS = Path(__file__).parent.parent / "tests" / "drivers" / "recordings"
PIECE = 96
SLOWEST_S = 30.0
"""A single mutation that takes this long counts as a hang."""


def streams() -> dict[str, tuple[Codec, bytes]]:
    """Return a codec and the log's bytes in one piece, by the name of the log."""
    found = {}
    for log in sorted(LOGS.glob("*.log")):
        recording = from_text(log.read_text("utf-8"), log.name)
        data = b"".join(one.data for one in recording.chunks if one.data is not None)
        found[log.stem] = (codecs.make(recording.level_profile()), data)
    return found


def mutate(stream: bytes, random: Random) -> bytes:
    """Return a spoiled piece of the stream."""
    draw = random.random
    start = int(draw() * len(stream))
    data = bytearray(stream[start : start + 1 + int(draw() * PIECE)])
    for _ in range(1 + int(draw() * 4)):
        at, byte = int(draw() * len(data)), int(draw() * 256)
        kind = byte & 3
        if kind == 0:
            data[at : at + 1] = bytes([int(draw() * 256)])
        elif kind == 1:
            del data[at : at + 1 + (byte >> 5)]
        elif kind == 2:
            data[at:at] = bytes([byte, int(draw() * 256)])
        else:
            data[at:at] = data[at : at + (byte >> 3)]
    return bytes(data)


def run(codec: Codec, stream: bytes, count: int, seed: int) -> tuple[int, float]:
    """Feed `count` mutations; return samples seen and the slowest feed in seconds.

    Raises:
        AssertionError: a sample is empty or not finite. Whatever a codec raises comes out too.
    """
    random = Random(seed)
    samples, slowest_s = 0, 0.0
    for _ in range(count):
        data = mutate(stream, random)
        middle = len(data) // 2
        began = time.perf_counter()
        found = codec.feed(0, data[:middle]) + codec.feed(0, data[middle:])
        slowest_s = max(slowest_s, time.perf_counter() - began)
        for sample in found:
            assert sample.values
            assert all(value - value == 0.0 for value in sample.values.values())
        samples += len(found)
    return samples, slowest_s


def main() -> int:
    """Run it for every log, or for those named."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    chosen = sys.argv[2:]
    worst = 0.0
    print("| log | mutations | samples | refused | slowest feed |")
    print("| --- | --- | --- | --- | --- |")
    for name, (codec, stream) in streams().items():
        if chosen and name not in chosen:
            continue
        samples, slowest_s = run(codec, stream, count, seed=20)
        worst = max(worst, slowest_s)
        refused = codec.refused.total()
        print(f"| {name} | {count:,} | {samples:,} | {refused:,} | {slowest_s * 1e3:.0f} ms |")
    return 0 if worst < SLOWEST_S else 1


if __name__ == "__main__":
    sys.exit(main())
