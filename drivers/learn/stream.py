"""All bytes of a recording in a row, and when each of them came."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.learn.asked import Heard

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Stream:
    """Bytes joined, and the second in which the byte at each index arrived."""

    data: bytes
    ends: NDArray[np.int64]
    times_s: Floats

    def time_s(self, index: int) -> float:
        """Return when the byte at an index arrived."""
        chunk = int(np.searchsorted(self.ends, index, side="right"))
        return float(self.times_s[min(chunk, len(self.times_s) - 1)])


def joined(heard: Heard) -> Stream:
    """Join the chunks of a recording."""
    chunks = [(t_ns, data) for t_ns, data in heard.chunks if data]
    ends = np.cumsum([len(data) for _, data in chunks], dtype=np.int64)
    times = np.array([t_ns / NS for t_ns, _ in chunks], dtype=np.float64)
    return Stream(b"".join(data for _, data in chunks), ends, times)
