"""A command that needs nothing loads nothing: what a person waits for at the start."""

import subprocess
import sys

import pytest

HEAVY = {"asyncio", "markdown_it", "numpy", "pydantic", "socket", "sqlite3", "textual"}
LOADED = """
import sys
from daemon.__main__ import main
code = main(sys.argv[1:])
print(*sys.modules, file=sys.stderr)
sys.exit(code)
"""


def loaded(*words: str, script: str = LOADED) -> set[str]:
    """Return the modules that a command has loaded by its end."""
    done = subprocess.run(
        [sys.executable, "-c", script, *words],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return set(done.stderr.split())


@pytest.mark.parametrize(
    "words", ["--help", "levels --help", "run --help", "calc pitch 20 --radius-m 1"]
)
def test_help_loads_nothing_a_job_is_done_with(words: str) -> None:
    modules = loaded(*words.split())
    assert "daemon.cli.run" in modules
    assert modules & HEAVY == set()


def test_the_list_of_kinds_loads_no_link() -> None:
    modules = loaded("levels", "list")
    assert "drivers.profiles" in modules
    assert not any(name.startswith("drivers.links") for name in modules)
    assert modules & (HEAVY - {"pydantic", "socket"}) == set()


def test_a_link_loads_its_library_only_where_a_level_needs_it() -> None:
    modules = loaded(script="import sys, drivers.links; print(*sys.modules, file=sys.stderr)")
    assert "drivers.links.first_frame" in modules
    assert modules & {"serialx", "bleak", "dbus_fast", "drivers.codecs.modbus_rtu"} == set()


def test_the_texts_under_the_keys_of_a_profile_are_read_for_the_schema_only() -> None:
    script = """
import ast, sys
def parse(*_, **__): raise AssertionError("nobody asked for a schema")
ast.parse = parse
from shared.profile import LevelProfile
print(*sys.modules, file=sys.stderr)
"""
    assert "shared.profile" in loaded(script=script)


def test_what_a_job_is_done_with_is_loaded_without_a_look_for_garbage() -> None:
    script = """
import gc, sys
from daemon.__main__ import main
main(["--help"])
def looks(): return sum(one["collections"] for one in gc.get_stats())
before = looks()
import daemon.session.begin, daemon.shell.service, drivers.links.serial, tui.app
assert looks() == before
print(*sys.modules, file=sys.stderr)
"""
    assert "tui.app" in loaded(script=script)
