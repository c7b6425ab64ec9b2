"""The inputs of a session file in order of time, fetched from it as they are wanted.

A day of a quick level would not fit into a small board's memory; so what is kept of the raw data
is where it lies, eight bytes a packet, and every pass opens the file anew.
"""

import heapq
import sqlite3
from array import array
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from daemon.session.chunks import Packet, unpack
from daemon.session.opening import opened
from shared.errors import BadInputError
from shared.inputs import Bytes, Input
from shared.messages import LATEST_NS


@dataclass(slots=True)
class StoredInputs(Collection[Input]):
    """What of a session file is sound: the rows of every level's packets, and all other inputs.

    Args:
        path: the session file.
        begins_with: a schema, where the file's first page is not what it was (see `opened`).
        others: link changes, commands and so on, by time.
    """

    path: Path
    begins_with: str = ""
    others: list[Input] = field(default_factory=list)
    last_ns: int = -1
    """Session time of the newest input; -1 where there is none."""
    _rows: "dict[str, array[int]]" = field(default_factory=dict)
    _newest_ns: dict[str, int] = field(default_factory=dict)
    _count: int = 0

    def add_packet(self, row: int, chunks: Sequence[Bytes]) -> None:
        """Take the row of a packet that holds these chunks.

        Raises:
            ValueError: it is not later than the packets of its level before it, or later than
                any session.
        """
        if not chunks:
            return
        level, last_ns = chunks[0].level, chunks[-1].t_ns
        if chunks[0].t_ns <= self._newest_ns.get(level, -1):
            raise ValueError("it is not later than what came before")
        if last_ns >= LATEST_NS:
            raise ValueError("later than any session")
        self._rows.setdefault(level, array("q")).append(row)
        self._newest_ns[level] = last_ns
        self._count += len(chunks)
        self.last_ns = max(self.last_ns, last_ns)

    def add_others(self, others: list[Input]) -> None:
        """Take everything that is no raw data, in order of time."""
        self.others = others
        self.last_ns = max([self.last_ns, *(item.t_ns for item in others)])

    def __len__(self) -> int:
        return self._count + len(self.others)

    def __contains__(self, item: object) -> bool:
        return any(item == one for one in self)

    def __iter__(self) -> Iterator[Input]:
        if not self._rows:
            yield from self.others
            return
        with opened(self.path, begins_with=self.begins_with) as found:
            streams = [self._packets(found.database, rows) for rows in self._rows.values()]
            yield from heapq.merge(*streams, self.others, key=_time)

    def _packets(self, database: sqlite3.Connection, rows: Sequence[int]) -> Iterator[Input]:
        ask = "SELECT level, first_ns, count, crc, data FROM chunks WHERE id = ?"
        for row in rows:
            try:
                chunks = unpack(Packet(*database.execute(ask, (row,)).fetchone()))
            except (sqlite3.Error, ValueError, TypeError) as error:
                words = str(error).encode("ascii", "backslashreplace").decode()
                raise BadInputError(
                    str(self.path), "", f"it was changed while it was read: {words}"
                ) from error
            yield from chunks


def _time(item: Input) -> int:
    return item.t_ns
