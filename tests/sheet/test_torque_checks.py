"""Torque checks between settings: kept as they are said, told at their place, and nothing half written."""

import json
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.sheet.torque_checks import checks_beside
from tests.sheet.hub_sessions import keep, three

HUB = "H-31"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    keep(tmp_path, three())
    return tmp_path


def kept(folder: Path, day: str, *words: str, hub: str = HUB) -> int:
    return main(
        ["torque-check", hub, "--on", day, "--by", "Ada Merrow", "--folder", str(folder), *words]
    )


def test_a_check_stands_in_the_history_between_the_settings(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert kept(folder, "2032-06-01") == 0
    words = (
        "--hours",
        "112.5",
        "--torque",
        "25 N·m",
        "--found",
        "no bolt turned, [b]marks[/b] whole",
    )
    assert kept(folder, "2031-06-01", *words) == 0
    capsys.readouterr()
    assert main(["history", HUB, "--folder", str(folder)]) == 0
    lines = capsys.readouterr().out.splitlines()
    days = [line[:10] for line in lines if line[:2] == "20" and "blade" not in line]
    assert days == ["2031-04-02", "2031-06-01", "2031-09-20", "2032-03-11", "2032-06-01"]
    said = next(line for line in lines if line.startswith("2031-06-01"))
    assert said == (
        "2031-06-01, 112.5 h  torque check by Ada Merrow: 25 N·m, no bolt turned, [b]marks[/b] whole"
    )
    assert main(["history", HUB, "--folder", str(folder), "--json"]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [one["torque_check"]["on"] for one in told[3:]] == ["2031-06-01", "2032-06-01"]


@pytest.mark.parametrize(
    ("day", "words", "hub", "says"),
    [
        ("1.6.2031", (), HUB, "--on"),
        ("2031-13-01", (), HUB, "--on"),
        ("2031-06-01", (), "H-32", f"there are: {HUB}"),
        ("2031-06-01", ("--found", "x" * 201), HUB, "--found"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    folder: Path,
    day: str,
    words: tuple[str, ...],
    hub: str,
    says: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert kept(folder, day, *words, hub=hub) == 2
    assert says in capsys.readouterr().err
    assert not list(folder.glob("*.torque-checks.toml"))


def test_a_file_that_a_person_spoiled_stays_as_it_is_and_is_said(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert kept(folder, "2031-06-01") == 0
    path = folder / f"{HUB}.torque-checks.toml"
    text = path.read_text("utf-8") + "\n# mine\n[[check]]\non = 2031-07-01\n"
    path.write_text(text, "utf-8")
    capsys.readouterr()
    assert kept(folder, "2031-08-01") == 2
    assert "check 2: by" in capsys.readouterr().err
    assert path.read_text("utf-8") == text
    assert main(["history", HUB, "--folder", str(folder)]) == 0
    assert "check 2: by" in capsys.readouterr().err
    path.write_text(text + 'by = "Tomas Quill"\n', "utf-8")
    assert kept(folder, "2031-08-01") == 0
    assert "# mine" in path.read_text("utf-8")
    assert [one.by for one in checks_beside(folder, HUB)[0]] == [
        "Ada Merrow",
        "Tomas Quill",
        "Ada Merrow",
    ]
