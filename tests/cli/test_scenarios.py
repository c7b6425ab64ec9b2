"""What scenarios there are is a list; running them is asked for."""

import json

import pytest

from daemon.__main__ import main
from simulator import scenario


def test_without_a_name_they_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scenarios"]) == 0
    rows = capsys.readouterr().out.splitlines()
    assert [row.split()[0] for row in rows] == scenario.names()
    assert all(len(row.split()) > 2 for row in rows), "each with what happens in it"


def test_the_list_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scenarios", "--json"]) == 0
    first = json.loads(capsys.readouterr().out.splitlines()[0])
    assert first["event"] == "scenario"
    assert first["title"] == scenario.load(first["name"]).title


def test_all_means_all(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def run_all(names: list[str], *_: object) -> list[object]:
        asked.extend(names)
        return []

    monkeypatch.setattr("daemon.demo.suite.run_all", run_all)
    assert main(["scenarios", "--all", "--json"]) == 0
    assert asked == scenario.names()
