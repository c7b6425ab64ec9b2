"""The first page: every command stands on it once, by what it is for, and what comes first comes first."""

import re

import pytest

from daemon.__main__ import app, main


def test_every_command_stands_once_under_its_use(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    uses = re.findall(r"╭─ ([^─]+) ─", text)
    assert uses[:2] == ["Begin", "The job"]
    assert "Commands" not in uses, "a command has no use"
    shown = re.findall(r"│ ([a-z][a-z-]*) ", text)
    assert shown[:4] == ["new", "check", "demo", "run"]
    assert sorted(shown) == sorted(name for name in app if not name.startswith("-"))


def test_a_scenario_that_is_mistyped_is_guessed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--fast", "--scenario", "knok-slight"]) == 2
    assert "did you mean knock-slight?" in capsys.readouterr().err
    assert main(["demo", "--fast", "--scenario", "zzz"]) == 2
    assert "`stillblade scenarios` lists them" in capsys.readouterr().err
