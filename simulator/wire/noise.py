"""A bad line: bytes changed, invented and lost."""

from simulator.draws import Draws


class Noise:
    """Spoils a stream byte by byte.

    share: of bytes that are hit; each hit changes the byte to any other, or puts a random one
    in front of it, or loses it, each a third of the time.
    """

    def __init__(self, share: float, draws: Draws) -> None:
        self._share = share
        self._draws = draws

    def spoil(self, data: bytes) -> bytes:
        """Return what arrives of `data`."""
        out = bytearray()
        for byte in data:
            if not self._draws.chance(self._share):
                out.append(byte)
                continue
            kind = int(self._draws.unit() * 3.0)
            if kind == 0:
                out.append(byte ^ (1 + int(self._draws.unit() * 255.0)))
            elif kind == 1:
                out += bytes([int(self._draws.unit() * 256.0), byte])
        return bytes(out)
