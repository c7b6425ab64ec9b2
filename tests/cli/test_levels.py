"""`stillblade levels`: what is refused at the command line, and what is said when it is stopped."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.__main__ import main
from daemon.cli.levels import _keep_noise, _keep_seating, bar
from daemon.levels.look import target
from daemon.levels.marks import marks_text
from daemon.levels.unknown import recording_text
from daemon.session.headers import make_header
from daemon.session.jobs import load_job
from daemon.session.learned import known
from drivers import profiles
from shared.errors import BadInputError
from shared.profile import Noise, Seating
from simulator.strangers.level import FULL, WALL_AND_FLOOR, stranger
from tests.learn.truth import given as heard_by
from tests.learn.truth import shown_wrong
from tests.whole.program import JOB

AS_SHIPPED = ["ble-notify", "bthome", "framed-binary", "nmea-xdr"]
"""Kinds whose recording was made with no settings laid over them."""
RECORDINGS = Path(__file__).parents[1] / "drivers" / "recordings"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["zero", "nmea-xdr"], "--port"),
        (["zero", "nmea-xdr", "--port", "x", "--seconds", "0"], "--seconds: 0.0 is no limit"),
        (["listen", "nmea-xdr", "--port", "x", "--seconds", "-2"], "--seconds: -2.0 is no limit"),
        (["capture", "nmea-xdr", "x.log", "--port", "x", "--seconds", "nan"], "--seconds: nan"),
        (["scan", "--seconds", "inf"], "--seconds: inf is no limit"),
        (["scan", "--seconds", "soon"], '"soon" is not a number.'),
        (["try", "nmea-xdr", "no.log"], "no.log: cannot be read: No such file or directory ("),
        (["play", "no-such", "--port", "x"], "no-such"),
        (["seating", "nmea-xdr"], "--port"),
        (["seating", "nmea-xdr", "--port", "x", "--seconds", "-1"], "--seconds: -1.0 is no limit"),
        (["standard", "nmea-xdr", "--port", "x", "--length", "100", "--height", "100"], "--height"),
        (["standard", "nmea-xdr", "--port", "x", "--length", "nan", "--height", "1"], "--length"),
        (
            [
                *[
                    "standard",
                    "nmea-xdr",
                    "--port",
                    "x",
                    "--length",
                    "9",
                    "--height",
                    "1",
                    "--u-height",
                ],
                "-1",
            ],
            "--u-height: -1.0",
        ),
    ],
)
def test_bad_input_is_named(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["levels", *words]) == 2
    assert says in capsys.readouterr().err


@pytest.mark.parametrize("words", [["try", "nmea-xdr"], ["learn"]])
def test_a_recording_that_is_no_text_is_refused_in_words(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = tmp_path / "photo.log"
    recording.write_bytes(b"\xff\xd8\xff\xe0")
    assert main(["levels", *words, str(recording)]) == 2
    said = capsys.readouterr().err
    assert "not a text file in UTF-8" in said
    assert "codec" not in said


@given(st.floats(allow_nan=True), st.floats(allow_nan=True), st.floats(), st.floats())
def test_any_bar_is_refused_or_has_an_angle(a: float, b: float, c: float, d: float) -> None:
    try:
        known = bar(a, b, c, d)
    except BadInputError:
        return
    assert 0.0 <= known.angle_deg <= 90.0
    assert known.u_deg >= 0.0


@pytest.mark.parametrize("kind", profiles.names())
def test_a_shipped_profile_shown_is_a_profile_to_begin_with(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["levels", "show", kind]) == 0
    shown = capsys.readouterr().out
    assert profiles.read(shown, "shown") == profiles.load(kind)
    mine = tmp_path / "mine.toml"
    mine.write_text(shown, "utf-8")
    log = RECORDINGS / f"{kind}.log"
    if kind not in AS_SHIPPED:
        return
    assert main(["levels", "try", str(mine), str(log)]) == 0
    assert capsys.readouterr().out == log.with_suffix(".expected").read_text("utf-8")


def test_a_profile_that_reads_nothing_of_a_recording_says_what_it_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["levels", "try", "framed-binary", str(RECORDINGS / "nmea-xdr.log")]) == 1
    assert main(["levels", "show", "no-such"]) == 2
    assert "one of ble-notify" in capsys.readouterr().err
    for wrong in (tmp_path / "none.log", Path(__file__)):
        assert main(["levels", "try", "nmea-xdr", str(wrong)]) == 2
        assert wrong.name in capsys.readouterr().err


def test_stopped_it_says_so_without_a_traceback(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "daemon", "levels", "zero", "nmea-xdr", "--port", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        assert process.stdout.readline().startswith("lay the level")
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=60)
    finally:
        process.kill()
    assert process.returncode == 1
    assert errors == "stopped: nothing was found\n"


def test_learn_reads_a_recording_with_its_marks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    level = stranger(7)
    arrived = level.heard((*FULL, *WALL_AND_FLOOR))
    heard, marks = heard_by(arrived, "ble-notify", 0)
    Path("a.log").write_text(recording_text([heard], "invented"), "utf-8")
    assert main(["levels", "learn", "a.log"]) == 2
    assert "no marks can be read" in capsys.readouterr().err
    Path("a.marks").write_text(marks_text(marks), "utf-8")
    assert main(["levels", "learn", "a.log", "--name", "mine"]) == 0
    assert "nothing else fits" in capsys.readouterr().out
    assert shown_wrong(level, Path("mine.toml").read_text("utf-8")) == ""
    assert main(["levels", "learn", "a.log", "--name", "mine"]) == 2
    assert "exists already" in capsys.readouterr().err


def test_learn_at_a_port_that_is_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["levels", "learn", "/dev/none-such"]) == 3
    assert "/dev/none-such" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_seating_and_a_noise_are_kept_beside_the_job_and_used(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB.replace(", noise = { sd_deg = 0.02, n = 900 }", ""))
    level = target("chord", job)
    _keep_seating(level, Seating(u_deg=0.07, n=5, date="2031-05-06"), job)
    _keep_noise(level, Noise(sd_deg=0.04, lag1=0.1, n=200, date="2031-05-06"), job)
    assert capsys.readouterr().out.count("its sessions use it from the next one on") == 2
    profile = make_header(load_job(job), tmp_path, levels=known(tmp_path)).profiles["chord"]
    assert (profile.seating.u_deg, profile.noise.sd_deg) == (0.07, 0.04)


def test_what_cannot_be_kept_is_not_said_to_be_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB.replace(", noise = { sd_deg = 0.02, n = 900 }", ""))
    level = target("chord", job)
    gone = tmp_path / "gone" / "job.toml"
    with pytest.raises(OSError, match=r"stillblade-levels\.json'$"):
        _keep_noise(level, Noise(sd_deg=0.04, lag1=0.1, n=200, date="2031-05-06"), gone)
    with pytest.raises(OSError, match=r"stillblade-levels\.json'$"):
        _keep_seating(level, Seating(u_deg=0.07, n=5, date="2031-05-06"), gone)
    assert "it is kept" not in capsys.readouterr().out


def test_without_a_job_or_over_a_measured_one_it_says_what_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    level = target("chord", job)
    _keep_seating(level, Seating(u_deg=0.07, n=5, date="2031-05-06"), None)
    assert 'seating = { u_deg = 0.07, n = 5, date = "2031-05-06" }' in capsys.readouterr().out
    _keep_noise(level, Noise(sd_deg=0.04, lag1=0.1, n=200), job)
    assert "states a measured one" in capsys.readouterr().out
    assert [one.name for one in tmp_path.iterdir()] == ["job.toml"]
