"""Power cuts, emulated: every write of a session is traced, and only what was synced is sure.

    python -m benchmarks.power [CUTS] [SEED]

SQLite writes through a file system of our own (apsw) that notes writes, syncs, truncations and
names. A cut keeps of every file what was written before its last sync; of the rest each write
is kept, torn into sectors, or lost. Names (a creation, a renaming) are sure with the next sync.
Then the job is begun again: what had been told must be there, the record must be its own
replay, and the work must go on.
"""

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any
from unittest import mock

import apsw

from daemon.session import store as store_module
from daemon.session import tables as tables_module
from daemon.session.begin import begin, sessions_of
from daemon.session.jobs import load_job
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from daemon.shell.clocks import wall
from shared.events import Event
from shared.inputs import Clock, Input
from tests.daemon.bench import Person
from tests.whole.program import JOB

SECTOR = 512


@dataclass(slots=True)
class Disk:
    """What was done to files, in order: (what, file, where, data)."""

    done: list[tuple[str, int, Any, bytes]] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    count: int = 0

    def file(self, path: str) -> int:
        """Return the number of the file of this name; a new one where there is none."""
        if path not in self.names:
            self.count += 1
            self.names[path] = self.count
            self.done.append(("name", self.count, path, b""))
        return self.names[path]

    def rename(self, old: str, new: str) -> None:
        """Give a file another name."""
        number = self.names.pop(old)
        self.names[new] = number
        self.done.append(("rename", number, (old, new), b""))

    def forget(self, path: str) -> None:
        """Take a name away."""
        if path in self.names:
            self.done.append(("unname", self.names.pop(path), path, b""))


class _File(apsw.VFSFile):
    def __init__(self, disk: Disk, name: Any, flags: list[int]) -> None:
        self._disk = disk
        self._number = disk.file(name.filename() if hasattr(name, "filename") else str(name))
        super().__init__("", name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802 - SQLite's name
        self._disk.done.append(("write", self._number, offset, bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, newsize: int) -> None:  # noqa: N802
        self._disk.done.append(("truncate", self._number, newsize, b""))
        super().xTruncate(newsize)

    def xSync(self, flags: int) -> None:  # noqa: N802
        self._disk.done.append(("sync", self._number, None, b""))
        super().xSync(flags)


class _FileSystem(apsw.VFS):
    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        super().__init__("traced", "")

    def xOpen(self, name: Any, flags: list[int]) -> _File:  # noqa: N802
        return _File(self._disk, name, flags)

    def xDelete(self, filename: str, syncdir: bool) -> None:  # noqa: N802
        self._disk.forget(filename)
        super().xDelete(filename, syncdir)


@contextmanager
def traced(disk: Disk) -> Iterator[None]:
    """Have the session's writer write through the traced file system."""
    system = _FileSystem(disk)
    rename, unlink = Path.rename, Path.unlink

    def connect(path: Path, **_: object) -> apsw.Connection:
        connection = apsw.Connection(str(path), vfs="traced")
        # without shared memory, which this file system does not have; the writes are the same
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        return connection

    def renamed(path: Path, target: Path) -> Path:
        disk.rename(str(path), str(target))
        return rename(path, target)

    def unlinked(path: Path, missing_ok: bool = False) -> None:
        disk.forget(str(path))
        unlink(path, missing_ok=missing_ok)

    def settled(path: Path) -> None:
        disk.done.append(("sync", disk.names[str(path)], None, b""))

    shim = SimpleNamespace(
        connect=connect, Error=apsw.Error, OperationalError=apsw.Error, Connection=apsw.Connection
    )
    with (
        mock.patch.object(store_module, "sqlite3", shim),
        mock.patch.object(tables_module, "sqlite3", shim),
        mock.patch.object(store_module, "_settle_name", settled),
        mock.patch.object(Path, "rename", renamed),
        mock.patch.object(Path, "unlink", unlinked),
    ):
        yield
    system.unregister()


class _Recorded(Person):
    """A person whose every event is committed, and noted as told once it is."""

    def __init__(self, begun: Any, disk: Disk, told: list[tuple[int, int]]) -> None:
        self._begun, self._disk, self._told = begun, disk, told
        self._waiting: list[Input] = []
        super().__init__(begun.engine.header)

    def put(self, item: Input) -> list[Event]:
        self.engine = self._begun.engine
        events = super().put(item)
        self._waiting.append(item)
        if events or len(self._waiting) > 20:
            self._begun.store.commit(self._waiting, events, item.t_ns)
            self._waiting.clear()
            if events:
                self._told.append((len(self._disk.done), events[-1].n))
            self._begun.store.settle()
        return events


def recorded(folder: Path) -> tuple[Disk, list[tuple[int, int]]]:
    """Record a whole job in this folder; return what was written, and when what was told."""
    path = folder / "bench.toml"
    path.write_text(JOB.replace("PORT", "/dev/null").replace("rate_hz = 50", "rate_hz = 10"))
    disk, told = Disk(), [(0, 0)]
    with traced(disk):
        begun = begin(path, load_job(path), wall())
        person = _Recorded(begun, disk, told)
        person.up_to_round()
        person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
        person.put(Clock(wall(), "", t_ns=person.t_ns + 1))
        begun.store.close()
    return disk, told


def cut(disk: Disk, at: int, draw: Random) -> dict[str, bytes]:
    """Return the files, by name, as a power cut before operation `at` leaves them."""
    done = disk.done[:at]
    synced: dict[int, int] = {}
    sure = 0
    for place, (what, number, _, _) in enumerate(done):
        if what == "sync":
            synced[number] = sure = place
    keep = draw.choice([0.0, 0.3, 0.7, 1.0])
    files: dict[int, bytearray] = {}
    names: dict[str, int] = {}
    names_until = draw.randint(sure, at)
    for place, (what, number, where, data) in enumerate(done):
        certain = place <= synced.get(number, -1)
        if what in {"name", "rename", "unname"}:
            if place <= names_until:
                _name(names, what, number, where)
        elif what == "write" and (certain or draw.random() < keep):
            for offset, part in _sectors(
                where, data, 1.0 if certain else draw.choice([1.0, keep]), draw
            ):
                _put(files.setdefault(number, bytearray()), offset, part)
        elif what == "truncate" and (certain or draw.random() < keep):
            del files.setdefault(number, bytearray())[where:]
    return {name: bytes(files.get(number, b"")) for name, number in names.items()}


def _name(names: dict[str, int], what: str, number: int, where: Any) -> None:
    if what == "rename":
        names.pop(where[0], None)
        names[where[1]] = number
    elif what == "unname":
        names.pop(where, None)
    else:
        names[where] = number


def _sectors(offset: int, data: bytes, keep: float, draw: Random) -> Iterator[tuple[int, bytes]]:
    if keep == 1.0:
        yield offset, data
        return
    for start in range(0, len(data), SECTOR):
        if draw.random() < keep:
            yield offset + start, data[start : start + SECTOR]


def _put(content: bytearray, offset: int, data: bytes) -> None:
    if len(content) < offset:
        content += bytes(offset - len(content))
    content[offset : offset + len(data)] = data


def gone_on(files: dict[str, bytes], job: str, told: int, folder: Path) -> str:
    """Put the files down, begin the job again; return what is wrong, or ""."""
    path = folder / "bench.toml"
    path.write_text(job)
    for name, content in files.items():
        (folder / Path(name).name).write_bytes(content)
    for found in sessions_of(path):
        recording = read(found)
        if recording.events and not verify(recording, replay(recording)).agrees:
            return "not its own replay"
    begun = begin(path, load_job(path), wall())
    try:
        if len(begun.before) < told:
            return f"{told} events were told, {len(begun.before)} are there"
        at = begun.reach_ns + 1
        item = Clock(wall(), "", "resume", t_ns=at)
        begun.store.commit([item], begun.engine.feed(item), at)
    finally:
        begun.store.close()
    recording = read(begun.path)
    return "" if verify(recording, replay(recording)).agrees else "not its own replay afterwards"


@dataclass(slots=True)
class Cuts:
    """What came of the cuts: how many, and what went wrong by its words."""

    count: int = 0
    of: int = 0
    wrong: list[str] = field(default_factory=list)


def run(count: int, seed: int) -> Cuts:
    """Cut the power `count` times at random places of one recorded job."""
    draw, found = Random(seed), Cuts()
    with tempfile.TemporaryDirectory() as made:
        disk, told = recorded(Path(made))
        job = (Path(made) / "bench.toml").read_text()
    found.of = len(disk.done)
    for number in range(count):
        # a tenth each at the very start and while closing, the rest anywhere
        first, last = (0, 60) if number % 10 == 0 else (0, found.of)
        if number % 10 == 1:
            first = found.of - 40
        at = draw.randint(first, last)
        n = max(n for place, n in told if place <= at)
        with tempfile.TemporaryDirectory() as folder:
            try:
                wrong = gone_on(cut(disk, at, draw), job, n, Path(folder))
            except Exception as error:  # noqa: BLE001 - whatever escapes is what is counted
                wrong = f"{type(error).__name__}: {error}"
        found.count += 1
        if wrong:
            found.wrong.append(f"cut at {at}: {wrong}")
    return found


def main() -> int:
    """Run it and print what came of it; 1 where anything was wrong."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    found = run(count, seed)
    print(f"{found.count} power cuts in {found.of} operations, {len(found.wrong)} wrong")
    for wrong in found.wrong[:20]:
        print(f"  {wrong}")
    return 1 if found.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
