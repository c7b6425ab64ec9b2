"""What levels send: one file a kind of level, numbers by role in, bytes out."""

from typing import Protocol

from shared.samples import Role


class Wire(Protocol):
    """How one level writes its samples."""

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        """Return what the level sends for one sample: channel and bytes, in order."""
        ...
