"""The pseudo-terminal line, seen from the other end with plain termios reads."""

import asyncio
import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.line import ROOM_BYTES, Line


@pytest.fixture
def line() -> Iterator[Line]:
    made = Line("chord")
    yield made
    made.close()


def read_all(fd: int, count: int) -> bytes:
    got = b""
    os.set_blocking(fd, False)
    for _ in range(1000):
        try:
            got += os.read(fd, 4096)
        except BlockingIOError:
            if len(got) >= count:
                break
            os.sched_yield()
    return got


def test_bytes_arrive_unchanged(line: Line) -> None:
    path = line.open()
    fd = os.open(path, os.O_RDWR | os.O_NOCTTY)
    data = bytes(range(256))
    line.write(data)
    assert read_all(fd, 256) == data  # raw: no echo, no newline translation
    os.write(fd, b"poll\n")
    assert line.read() == b"poll\n"
    os.close(fd)


def test_a_full_line_never_waits_and_counts_what_is_lost(line: Line) -> None:
    line.open()
    for _ in range(60):
        line.write(b"x" * 4096)
    assert line.lost > 0
    assert line.lost < 60 * 4096 - ROOM_BYTES + 1


def test_what_another_thread_writes_meanwhile_is_not_lost(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the system reads the buffer it cannot grow: that ended the thread of a level."""
    line.open()
    wrong: list[Exception] = []

    def meanwhile() -> None:
        try:
            line.write(b"other\n")
        except BufferError as error:
            wrong.append(error)

    other, write = threading.Thread(target=meanwhile), os.write

    def slow(fd: int, data: bytearray) -> int:
        with memoryview(data) as held:
            if not other.ident:
                other.start()
                other.join(0.2)
            return write(fd, held)

    monkeypatch.setattr(os, "write", slow)
    line.write(b"one\n")
    other.join()
    assert wrong == []
    assert line.lost == 0


async def test_a_full_line_leaves_the_loop_free(line: Line) -> None:
    line.open()
    turns = 0

    async def spin() -> None:
        nonlocal turns
        for _ in range(50):
            turns += 1
            await asyncio.sleep(0)

    async with asyncio.TaskGroup() as group:
        group.create_task(spin(), name="spin")
        for _ in range(50):
            line.write(b"y" * 8192)
            await asyncio.sleep(0)
    assert turns == 50


def test_pulled_and_put_back_under_the_same_path(line: Line) -> None:
    path = line.open()
    fd = os.open(path, os.O_RDWR | os.O_NOCTTY)
    line.pull()
    assert not Path(path).exists()
    with pytest.raises(OSError, match="Input/output error"):
        # EIO is what a reader gets when the other end of a terminal has gone (tty_ioctl, Linux)
        os.write(fd, b"x")
    os.close(fd)
    line.write(b"into the void")
    assert line.lost == len(b"into the void")
    line.put_back()
    again = os.open(path, os.O_RDWR | os.O_NOCTTY)
    line.write(b"back\r\n")
    assert read_all(again, 6) == b"back\r\n"
    os.close(again)


def test_close_leaves_nothing_behind() -> None:
    line = Line("chord")
    folder = Path(line.open()).parent
    line.close()
    line.close()
    assert not folder.exists()
