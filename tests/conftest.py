"""Suites and skips: `pytest` runs what needs Python only; `-m real` and `-m long` the rest."""

import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("stillblade", deadline=None)  # no test measures time
settings.load_profile("stillblade")
_OWN_STATE = tempfile.TemporaryDirectory(prefix="stillblade-tests-")
os.environ["XDG_STATE_HOME"] = _OWN_STATE.name  # the jobs that were run are no person's


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--no-skips", action="store_true", help="a skipped test fails the run (used by CI)"
    )


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Without -m real the oracles are not there: they come with an extra of their own."""
    wanted = config.getoption("-m") or ""
    return True if collection_path.name == "test_oracles.py" and "real" not in wanted else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Without -m, leave out what needs other programs or a long time."""
    if config.getoption("-m"):
        return
    kept = [i for i in items if not (i.get_closest_marker("real") or i.get_closest_marker("long"))]
    if len(kept) != len(items):
        left = [i for i in items if i not in kept]
        config.hook.pytest_deselected(items=left)
        items[:] = kept
    if hasattr(config, "workerinput"):  # whole runs mostly wait: begun first, others work meanwhile
        items.sort(key=lambda item: not item.nodeid.startswith("tests/whole/"))


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    skipped = terminalreporter.stats.get("skipped", [])
    if skipped and config.getoption("--no-skips"):
        terminalreporter.write_line(f"{len(skipped)} skipped: not allowed here", red=True)


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if skipped and session.config.getoption("--no-skips") and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_xdist_auto_num_workers() -> int:
    """Twice the processors: whole runs wait for pseudo-terminals most of their time."""
    return 2 * (os.cpu_count() or 1)
