"""A level on a pseudo-terminal, and a job that it is for."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.line import Line
from tests.whole.program import JOB, Level


@pytest.fixture
def line() -> Iterator[Line]:
    line = Line("chord")
    yield line
    line.close()


@pytest.fixture
def level(line: Line) -> Iterator[Level]:
    level = Level(line)
    yield level
    level.stop()


@pytest.fixture
def hurried(line: Line) -> Iterator[Level]:
    """For jobs of many readings, where nothing depends on how long they take."""
    level = Level(line, hurry=2.0)
    yield level
    level.stop()


@pytest.fixture
def job(tmp_path: Path, line: Line) -> Path:
    path = tmp_path / "bench.toml"
    path.write_text(JOB.replace("PORT", line.open()), "utf-8")
    return path
