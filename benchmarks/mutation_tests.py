"""A pytest plugin for `benchmarks.mutants`: which test runs which function, and only these tests.

With STILLBLADE_REACHED=FOLDER it writes, for every test that passed, how long it worked (not how
long it took: the machine may be busy) and which functions of the files named in STILLBLADE_FILES
it called. With STILLBLADE_TESTS=FILE it runs the tests listed there, in that order.
"""

import json
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

REACHED, TESTS = os.environ.get("STILLBLADE_REACHED"), os.environ.get("STILLBLADE_TESTS")
_files = frozenset(filter(None, os.environ.get("STILLBLADE_FILES", "").split(os.pathsep)))
_reached: dict[str, dict[str, Any]] = {}
_failed: set[str] = set()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep the listed tests, in their order."""
    if TESTS is not None:
        wanted = json.loads(Path(TESTS).read_text("utf-8"))
        found = {item.nodeid: item for item in items}
        items[:] = [found[name] for name in wanted if name in found]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Follow one test with its fixtures."""
    if REACHED is None:
        return (yield)
    called: set[tuple[str, int]] = set()

    def step(frame: FrameType, event: str, _: Any) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename in _files:
            called.add((code.co_filename, code.co_firstlineno))

    began = time.process_time()
    sys.setprofile(step)
    try:
        result = yield
    finally:
        sys.setprofile(None)
    took_s = time.process_time() - began
    _reached[item.nodeid] = {"s": round(took_s, 3), "functions": sorted(called)}
    return result


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """A test that fails without any mutant kills nothing."""
    if not report.passed:
        _failed.add(report.nodeid)


def pytest_sessionfinish() -> None:
    """Write what was seen; the process that only hands tests out has seen nothing."""
    if REACHED is not None and _reached:
        passed = {name: seen for name, seen in _reached.items() if name not in _failed}
        name = f"{os.environ.get('PYTEST_XDIST_WORKER', 'one')}.json"
        Path(REACHED, name).write_text(json.dumps(passed), "utf-8")
