"""The example of the page on trial flights by its own words: three jobs, flights and points, and the next job file."""

import shlex
import sys
from pathlib import Path

import pytest

from benchmarks import invented_flights
from daemon.__main__ import main
from daemon.session.jobs import load_job
from shared.errors import BadInputError

PAGE = (Path(__file__).parents[2] / "docs" / "trial-flights.md").read_text("utf-8")
CONFIRMED = ("--confirmed-by", "Tomas Quill")


class Desk:
    """Types what the page says in an empty folder."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch = monkeypatch
        self._capsys = capsys

    def example(self, *words: str) -> str:
        """Return what the invented aircraft says."""
        self._monkeypatch.setattr(sys, "argv", ["invented_flights", *words])
        assert invented_flights.main() == 0
        return self._capsys.readouterr().out.strip()

    def types(self, command: str) -> list[str]:
        """Return what the program says to a command."""
        assert main(shlex.split(command.replace("\\\n", " "))[1:]) == 0
        return self._capsys.readouterr().out.splitlines()

    def flies(self, job: str, on: str) -> str:
        """Do a job, fly it and enter the point; return the command that entered it."""
        command = self.example(job, "--on", on)
        self.types(command)
        return command

    def advised(self, job: str, *more: str) -> list[str]:
        """Ask for the next step and its job file."""
        return self.types(
            shlex.join(["stillblade", "trial", "advise", "H-77", "--job", job, *more])
        )


def test_three_flights_lead_to_the_next_job_file_as_the_page_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    desk = Desk(monkeypatch, capsys)
    limits = desk.example("first.toml").partition("\n\n")[2]
    command = desk.flies("first.toml", "2031-05-02")
    assert all(line.strip() in PAGE for line in command.splitlines())
    kept = Path("H-77.trial.toml")
    text = kept.read_text("utf-8").replace("# may_change = true ", "may_change = true ")
    kept.write_text(f"{text}\n{limits}", "utf-8")
    first = desk.advised("second.toml", *CONFIRMED)
    assert all(one in PAGE for one in (*first[:2], first[-1]))
    desk.flies("second.toml", "2031-05-09")
    desk.advised("third.toml")
    third = Path("third.toml")
    with pytest.raises(BadInputError, match=r"target\.angle_deg"):
        load_job(third)
    third.write_text(third.read_text("utf-8").replace("# angle_deg", "angle_deg"), "utf-8")
    desk.flies("third.toml", "2031-05-16")
    last = desk.advised("fourth.toml")
    assert all(one in PAGE for one in (*last[:2], last[-1]))
    _, papers = invented_flights.invented()
    assert f"the best allowed setting of this aircraft is {papers.best_deg:.2f}°" in PAGE
