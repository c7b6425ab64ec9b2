"""Every stop is obeyed, whatever hangs, and the record is closed."""

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from daemon.session.recording import read
from daemon.session.replay import replay, verify

if sys.platform == "win32":
    collect_ignore = ["test_stops.py"]

PATIENCE_S = 60.0
AS_BEFORE = """
import signal
for each in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
    signal.signal(each, signal.SIG_DFL)  # whoever runs the tests may ignore some
"""
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Hostile:
    """A session in a process of its own, and what it said."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.told = 0

    def wait_for(self, words: str) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if line.startswith("told"):
                self.told = int(line.split()[1])
            if line.strip() == words:
                return
        raise AssertionError(f"it never said {words!r}: {self.process.communicate()}")

    def send(self, number: int) -> None:
        self.process.send_signal(number)

    def end(self) -> tuple[int, str]:
        self.process.wait(PATIENCE_S)  # and nothing is read before, which a full pipe waits for
        _, errors = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, errors


@contextmanager
def hostile(path: Path, what: str, *, before: str = "") -> Iterator[Hostile]:
    start = f"{AS_BEFORE}{before}\nfrom tests.cli.hostile import main; main()"
    words = [sys.executable, "-c", start]
    process = subprocess.Popen(
        [*words, str(path), what], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        with process:
            found = Hostile(process)
            found.wait_for("ready")
            yield found
    finally:
        process.kill()


def sound(path: Path, told: int) -> None:
    """The record holds what was told, is its own replay, and is one plain file."""
    recording = read(path)
    assert len(recording.events) >= told >= 2
    assert verify(recording, replay(recording)).agrees


@pytest.mark.parametrize("number", SIGNALS)
def test_one_signal_ends_it_in_order(tmp_path: Path, number: int) -> None:
    path = tmp_path / "a.session"
    with hostile(path, "nothing") as program:
        program.send(number)
        program.wait_for("stopped")
        assert program.end() == (0, "")
    sound(path, program.told)
    assert [one.name for one in tmp_path.iterdir()] == ["a.session"]


@pytest.mark.parametrize("number", SIGNALS)
@pytest.mark.parametrize("what", ["face", "loop", "thread", "group", "full pipe"])
def test_the_second_ends_it_whatever_hangs(tmp_path: Path, number: int, what: str) -> None:
    path = tmp_path / "a.session"
    with hostile(path, what) as program:
        if what in {"loop", "full pipe"}:
            program.wait_for("hangs")
        program.send(number)
        time.sleep(0.2)
        assert program.process.poll() is None
        program.send(number)
        code, errors = program.end()
    assert code == 3
    assert "ended by force: the record is closed" in errors
    sound(path, program.told)
    assert [one.name for one in tmp_path.iterdir()] == ["a.session"]


@pytest.mark.parametrize("number", SIGNALS)
def test_a_disk_that_never_answers_is_no_reason_to_stay(tmp_path: Path, number: int) -> None:
    path = tmp_path / "a.session"
    with hostile(path, "disk") as program:
        program.wait_for("stalled")
        program.send(number)
        time.sleep(0.2)  # two of the same kind at once are one
        program.send(number)
        code, errors = program.end()
    assert code == 3
    assert "ended by force: the disk does not answer" in errors
    sound(path, program.told)


def test_two_at_once_as_a_system_sends_that_goes_down(tmp_path: Path) -> None:
    path = tmp_path / "a.session"
    with hostile(path, "nothing") as program:
        program.send(signal.SIGTERM)
        program.send(signal.SIGHUP)
        assert program.end()[0] in {0, 3}  # 3 where the machine is slow
    sound(path, program.told)
    assert [one.name for one in tmp_path.iterdir()] == ["a.session"]


def test_where_nobody_sends_a_second_one_waiting_ends_it(tmp_path: Path) -> None:
    path = tmp_path / "a.session"
    before = "import daemon.cli.stops as s; s.BY_ITSELF_S = 0.5"
    with hostile(path, "face", before=before) as program:
        program.send(signal.SIGHUP)
        code, errors = program.end()
    assert code == 3
    assert "ended by force" in errors
    sound(path, program.told)


def test_a_signal_that_is_ignored_stays_so(tmp_path: Path) -> None:
    """As under `nohup` (POSIX: ignores SIGHUP for the command it runs)."""
    path = tmp_path / "a.session"
    before = "import signal; signal.signal(signal.SIGHUP, signal.SIG_IGN)"
    with hostile(path, "nothing", before=before) as program:
        program.send(signal.SIGHUP)
        program.send(signal.SIGHUP)
        time.sleep(1.0)
        assert program.process.poll() is None
        program.send(signal.SIGTERM)
        assert program.end()[0] == 0
    sound(path, program.told)
