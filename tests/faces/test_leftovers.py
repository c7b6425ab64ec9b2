"""Sockets of services that were killed, and of services that were not: which are cleared away."""

import asyncio
import errno
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from filelock import FileLock

from daemon.faces import addresses
from daemon.faces.addresses import Address, address_of
from shared.errors import OutsideError
from tests.faces.hosts import Service, listening

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="nothing is cleared away there")

LISTENS = """
import asyncio, sys
from pathlib import Path
from daemon.faces.addresses import Address, opened

async def main():
    await opened(Address(Path(sys.argv[1])), lambda reader, writer: writer.close(), 1000)
    print("listens", flush=True)
    await asyncio.get_running_loop().create_future()

asyncio.run(main())
"""


@pytest.fixture
def ours(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The folder of sockets, with a short name: one of a socket has 107 bytes (unix(7))."""
    with tempfile.TemporaryDirectory(prefix="sb-") as short:
        monkeypatch.setenv("XDG_RUNTIME_DIR", short)
        yield addresses.folder()


@pytest.fixture
def processes() -> Iterator[list["subprocess.Popen[str]"]]:
    """Every one of them is ended in the end."""
    begun: list[subprocess.Popen[str]] = []
    yield begun
    for process in begun:
        process.kill()
        process.communicate()


def service(job: str, begun: list["subprocess.Popen[str]"]) -> Path:
    """Start a process that listens for a job; return its socket."""
    path = address_of(Path(job)).path
    process = subprocess.Popen(
        [sys.executable, "-c", LISTENS, str(path)], stdout=subprocess.PIPE, text=True
    )
    begun.append(process)
    assert process.stdout is not None
    assert process.stdout.readline() == "listens\n"
    return path


async def test_only_the_socket_of_a_killed_process_is_cleared_away(
    ours: Path, processes: list["subprocess.Popen[str]"]
) -> None:
    """One that is stopped (Ctrl-Z) answers nobody, and listens all the same."""
    runs, stopped, killed = (service(job, processes) for job in ("a.toml", "b.toml", "c.toml"))
    processes[1].send_signal(signal.SIGSTOP)
    processes[2].kill()
    processes[2].wait()
    for path in (runs, stopped, killed):
        aged(path)
    assert killed.is_socket()
    async with listening(Service(), address_of(Path("d.toml"))):
        assert [path.exists() for path in (runs, stopped, killed)] == [True, True, False]


async def test_a_service_that_just_begins_is_waited_for(ours: Path) -> None:
    """Its socket is bound, and refuses like one that was left, until it listens."""
    path = address_of(Path("a.toml")).path
    lock = FileLock(ours / addresses.BEGINNING, thread_local=False)
    with socket.socket(socket.AF_UNIX) as begins:
        async with asyncio.TaskGroup() as group:
            with lock:
                begins.bind(str(path))
                aged(path)
                other = group.create_task(other_begins(), name="another service")
                await asyncio.sleep(0.1)
                assert not other.done()
                assert path.exists()
                begins.listen()
        assert path.exists()


async def other_begins() -> None:
    async with listening(Service(), address_of(Path("b.toml"))):
        pass


async def test_a_folder_of_too_long_a_name_is_told_with_the_remedy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A socket's name has 107 bytes (unix(7))."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / ("x" * 100)))
    with pytest.raises(OutsideError, match="set XDG_RUNTIME_DIR to a folder of a shorter name"):
        await addresses.opened(address_of(Path("b.toml")), lambda _, __: None, 1000)


async def test_who_waits_too_long_for_another_is_told(
    ours: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(addresses, "CONNECT_S", 0.05)
    with (
        FileLock(ours / addresses.BEGINNING),
        pytest.raises(OutsideError, match=r"has been starting for 0\.05 s"),
    ):
        await addresses.opened(address_of(Path("b.toml")), lambda _, __: None, 1000)


def left(path: Path) -> Path:
    """A socket that nobody has listened on for long."""
    with socket.socket(socket.AF_UNIX) as gone:
        gone.bind(str(path))
    return aged(path)


def aged(path: Path, by_s: float = 61.0) -> Path:
    """Have a socket bound so long ago."""
    then = time.time() - by_s
    os.utime(path, (then, then))
    return path


async def test_a_new_one_may_be_of_an_earlier_version_that_waits_for_nobody(ours: Path) -> None:
    path = aged(left(ours / "job-set-0a1b2c3d.sock"), 30.0)
    await other_begins()
    assert path.exists()


async def test_one_that_has_more_to_do_than_it_takes_is_there(ours: Path) -> None:
    address = address_of(Path("a.toml"))
    with ExitStack() as stack:
        busy = stack.enter_context(socket.socket(socket.AF_UNIX))
        busy.bind(str(address.path))
        busy.listen(0)
        waiting = [stack.enter_context(socket.socket(socket.AF_UNIX)) for _ in range(4)]
        for one in waiting:
            one.setblocking(False)
        assert errno.EAGAIN in [one.connect_ex(str(address.path)) for one in waiting]
        aged(address.path)
        await other_begins()
        assert address.path.exists()
        with pytest.raises(OutsideError, match="another service listens"):
            await addresses.opened(address, lambda _, __: None, 1000)


def there(paths: list[Path]) -> list[bool]:
    """Which of them are there, as what they are: a link that leads nowhere is."""
    return [os.path.lexists(path) for path in paths]


async def test_nothing_else_is_cleared_away(ours: Path, tmp_path: Path) -> None:
    another = left(tmp_path / "x-set-0a1b2c3d.sock")
    kept = [
        left(ours / "somebody-elses.sock"),
        left(ours / "job-set-0a1b2c3d.socket"),
        ours / "job-set-0a1b2c3e.sock",
        ours / "job-set-0a1b2c3f.sock",
    ]
    kept[2].write_text("no socket")
    kept[3].symlink_to(another)
    aged(kept[2])
    gone = [left(ours / f"job-{kind}-0a1b2c3d.sock") for kind in ("set", "read", "watch")]
    await other_begins()
    assert there([*kept, another]) == [True] * 5
    assert there(gone) == [False] * 3


async def test_a_folder_that_others_may_enter_is_not_cleared(ours: Path) -> None:
    path = left(ours / "job-set-0a1b2c3d.sock")
    address = Address(ours / "desk.sock")
    await asyncio.to_thread(ours.chmod, 0o755)
    async with listening(Service(), address):
        assert path.exists()
    await asyncio.to_thread(ours.chmod, 0o700)
    async with listening(Service(), address):
        assert not path.exists()


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() != 0, reason="only root gives away")
async def test_a_socket_of_another_user_is_not_cleared_away(ours: Path) -> None:
    path = left(ours / "job-set-0a1b2c3d.sock")
    os.chown(path, 65534, -1)
    await other_begins()
    assert path.exists()
