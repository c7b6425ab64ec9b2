"""How long does `history` take over many sessions: the first time, and with its index?

    python -m benchmarks.history [SESSIONS] [FOLDER]

Sessions of the simulated person's job, copied under other names in a temporary folder (about 0.13 MB each); the
command is run as a program, and its own processor time is told beside the clock.
"""

import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from daemon.demo.fast import fast
from daemon.session.store import Store
from daemon.sheet.shelf import INDEX


def filled(folder: Path, sessions: int) -> None:
    """Fill a folder with so many sessions of one hub."""
    recording = fast("hands-free", 8).recording
    first = folder / "job-1.session"
    store = Store.create(first, recording.header)
    store.commit(recording.inputs, recording.events, recording.reach_ns)
    store.close()
    for number in range(2, sessions + 1):
        shutil.copy(first, folder / f"job-{number}.session")


def timed(folder: Path) -> tuple[float, float]:
    """Return seconds by the clock, and of the processor, of one run of the command."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    words = [sys.executable, "-m", "daemon", "history", "--folder", str(folder)]
    told = subprocess.run(words, check=True, capture_output=True, text=True)  # noqa: S603
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert "blade 1" in told.stdout
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - began, spent


def main() -> None:
    """Measure, and print one line a run."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory(dir=sys.argv[2] if len(sys.argv) > 2 else None) as name:
        folder = Path(name)
        filled(folder, sessions)
        for what in ("first", "with its index", "with its index", "with its index"):
            clock, processor = timed(folder)
            size = (folder / INDEX).stat().st_size / 1e6
            print(f"{sessions} sessions, {what}: {clock:.2f} s, of the processor {processor:.2f} s")
        print(f"the index: {size:.1f} MB")


if __name__ == "__main__":
    main()
