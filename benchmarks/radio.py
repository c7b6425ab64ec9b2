"""Eight levels at 100 Hz over the emulated radio: is anything lost, doubled or out of order?

    python -m benchmarks.radio [MINUTES]

bleak is unmodified; the Bluetooth service is emulated on a private bus (no radio, no real
adapter: what the air itself loses is not measured here).
"""

import asyncio
import itertools
import json
import sys
import time

from drivers.links import PATIENT
from simulator.radio import Radio
from tests.radio.stage import Stage

LEVELS = 8
RATE_HZ = 100


async def measure(minutes: float) -> dict[str, float]:
    """Run it; return what came of it."""
    samples = round(minutes * 60 * RATE_HZ)
    radio = Radio()
    await radio.start()
    try:
        stage = Stage(radio, count=LEVELS, rate_hz=RATE_HZ)
        await stage.prepare()
        async with stage.kept(PATIENT):
            await stage.heard.until(lambda: stage.heard.ups() == LEVELS)
            began, used = time.monotonic(), time.process_time()
            await stage.send(samples)
            await asyncio.sleep(2.0)
            took_s, cpu_s = time.monotonic() - began, time.process_time() - used
        return judged(stage, samples) | {"took_s": took_s, "reader_cpu": cpu_s / took_s}
    finally:
        await radio.stop()


def judged(stage: Stage, samples: int) -> dict[str, float]:
    """Return how many were sent, lost, doubled and out of order."""
    lost = doubled = swapped = 0
    for number in range(LEVELS):
        numbers = stage.numbers(number)
        lost += len(set(range(samples)) - set(numbers))
        doubled += len(numbers) - len(set(numbers))
        swapped += sum(after < before for before, after in itertools.pairwise(numbers))
    return {
        "sent": samples * LEVELS,
        "lost": lost,
        "doubled": doubled,
        "out_of_order": swapped,
        "reconnections": stage.heard.ups() - LEVELS,
    }


def main() -> int:
    """Measure; exit code 1 if anything went wrong."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    result = asyncio.run(measure(minutes))
    print(json.dumps({key: round(value, 3) for key, value in result.items()}))
    wrong = result["lost"] + result["doubled"] + result["out_of_order"] + result["reconnections"]
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
