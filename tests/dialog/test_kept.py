"""What is written at the end of the conversation: the job whatever becomes of what was tried."""

from pathlib import Path

import pytest

from daemon.dialog import conversation
from daemon.dialog.trying import Tried
from daemon.measure.proving.checks import Found
from daemon.session.learned import NAME, known
from shared.job import LevelEntry
from shared.profile import Noise, Seating


def made(folder: Path) -> conversation.Made:
    """A job whose level was tried, each check with what is remembered of it."""
    noise, seating = Noise(sd_deg=0.05, n=300), Seating(u_deg=0.03, n=9)
    checks = {
        "zero": Found(True, ("near",)),
        "noise": Found(True, ("calm",), noise=noise),
        "seating": Found(True, ("fine",), seating=seating),
        "play": None,
    }
    level = LevelEntry(name="chord", profile="nmea-xdr", port="/dev/null")
    tried = [Tried(name, found) for name, found in checks.items()]
    return conversation.Made(folder / "job.toml", "name = 'bench'\n", level, tried)


def test_what_was_tried_is_kept_with_its_day(tmp_path: Path) -> None:
    conversation._write(made(tmp_path), "2031-05-06")
    (level,) = known(tmp_path).levels.values()
    assert (level.zero_date, level.noises[0].date, level.seated.date) == ("2031-05-06",) * 3
    assert (tmp_path / "job.toml").read_text("utf-8") == "name = 'bench'\n"


def test_a_job_is_written_where_what_was_tried_cannot_be_kept(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / NAME).write_text("no JSON", "utf-8")
    conversation._write(made(tmp_path), "2031-05-06")
    assert (tmp_path / "job.toml").exists()
    assert (tmp_path / NAME).read_text("utf-8") == "no JSON"
    assert "not kept" in caplog.text
