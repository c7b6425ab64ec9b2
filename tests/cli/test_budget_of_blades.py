"""`stillblade budget`: the lines add up to what was said, and a spread is judged by itself."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from daemon.__main__ import main
from shared.events import Captured
from tests.daemon.bench import Person, header


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("budget") / "quiet.session"
    assert main(["demo", "--scenario", "quiet", "--fast", "--json", "--session", str(path)]) == 0
    return path


def rows(session: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    capsys.readouterr()
    assert main(["budget", str(session), "--json"]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_the_lines_add_up(session: Path, capsys: pytest.CaptureFixture[str]) -> None:
    budgets = [row for row in rows(session, capsys) if row["event"] == "budget"]
    assert [row["what"] for row in budgets[3:]] == [
        "blade 2 minus blade 1",
        "blade 3 minus blade 1",
        "blade 3 minus blade 2",
    ]
    for row in budgets:
        # root sum of squares (JCGM 100, 5.1.2)
        together = math.sqrt(sum(line["u_deg"] ** 2 for line in row["lines"]))
        assert row["u_deg"] == pytest.approx(together, abs=2e-6)


def test_equal_blades_are_not_said_to_differ(
    session: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    last = rows(session, capsys)[-1]
    assert last["event"] == "spread"
    main(["budget", str(session)])
    assert last["say"] in capsys.readouterr().out


def test_a_real_spread_is_said_to_be_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from daemon.session.store import Store

    person = Person(header())
    person.press("done")
    for angle in (-3.0, -3.0, 17.0, 17.0, 17.0, 17.25, 17.25, 17.25):
        person.read(angle)
    assert person.said(Captured)[-1].blade == 2
    path = tmp_path / "two.session"
    store = Store.create(path, person.header)
    store.commit(person.inputs, person.events, person.t_ns)
    store.close()
    assert main(["budget", str(path)]) == 0
    assert "so the blades differ" in capsys.readouterr().out


def test_a_session_without_readings_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["budget", str(tmp_path / "none.session")]) == 2
    assert "none.session" in capsys.readouterr().err
