"""Three flights over three sessions of one invented aircraft by commands, from points to the next job file."""

import math
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.session.jobs import load_job
from daemon.session.store import Store
from shared.errors import BadInputError
from tests.sheet.test_history import DATES, session, setting

LIMITS = """
[[limit]]
name = "static, least"
manual = "Invented engine manual, p. 12"
runs = ["static"]
least_rpm = 2150

[[limit]]
name = "static, most"
manual = "Invented engine manual, p. 12"
runs = ["static"]
most_rpm = 2400

[[limit]]
name = "redline"
manual = "Invented engine manual, p. 3"
runs = ["level", "climb"]
most_rpm = 2700
"""
DRIFTS = (0.0, 0.5, 1.5)
"""Of the three sessions, degrees coarser than the golden session's blades."""


def flown(number: int) -> list[str]:
    """What the pilot of the invented aircraft wrote down: about 4 % of rpm a degree."""
    static = 2480 * math.exp(-0.040 * DRIFTS[number])
    level = 2780 * math.exp(-0.044 * DRIFTS[number])
    return [
        *("--static-rpm", f"{static:.0f}", "--level-rpm", f"{level:.0f}"),
        *("--true-airspeed-kt", "105", "--pressure-altitude-ft", "500", "--celsius", "14"),
        *("--wind-kt", "2", "--read-on", "panel", "--checked-by", "optical"),
        *("--checked-rpm", "2000", "--shown-rpm", "2000", "--flown", f"{DATES[number]}T15:00"),
    ]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three sessions of hub H-77."""
    for number, drift in enumerate(DRIFTS):
        one = session(number, drift)
        store = Store.create(tmp_path / f"job-{number}.session", one.header)
        store.commit(one.inputs, one.events, one.reach_ns)
        store.close()
    return tmp_path


def add(folder: Path, number: int, *more: str) -> int:
    return main(["trial", "add", str(folder / f"job-{number}.session"), *flown(number), *more])


def limited(folder: Path) -> Path:
    """Enter the limits as a person does, with a remark of their own."""
    path = folder / "H-77.trial.toml"
    text = path.read_text("utf-8").replace("# may_change = true ", "may_change = true ")
    path.write_text(f"# my remark\n{text}{LIMITS}", "utf-8")
    return path


def advise(folder: Path, *more: str) -> int:
    return main(["trial", "advise", "H-77", "--folder", str(folder), *more])


def test_from_three_flights_to_the_next_job_file(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert add(folder, 0) == 0
    assert "without them nothing is advised" in capsys.readouterr().out
    assert advise(folder) == 1
    assert "Nothing is advised" in capsys.readouterr().out
    path = limited(folder)
    assert advise(folder) == 0
    told = capsys.readouterr().out
    assert told.index("DANGER") < told.index("One small step: 0.50° coarser")
    assert add(folder, 1) == 0
    assert add(folder, 2) == 0
    assert "# my remark" in path.read_text("utf-8")
    capsys.readouterr()
    job = folder / "next.toml"
    assert advise(folder, "--job", str(job)) == 0
    told = capsys.readouterr().out
    assert "Proposed: " in told
    assert "90 % range" in told
    assert "signs nothing off" in told
    with pytest.raises(BadInputError, match=r"target\.angle_deg"):
        load_job(job)
    assert "# angle_deg = " in job.read_text("utf-8")
    sure = folder / "sure.toml"
    assert advise(folder, "--job", str(sure), "--confirmed-by", "R. Example") == 0
    made = load_job(sure)
    angles = [angle for angle, _ in setting(2, DRIFTS[2]).angles.values()]
    assert 0.1 <= made.target.angle_deg - sum(angles) / len(angles) <= 1.0
    assert "confirmed by R. Example" in made.notes


def test_a_confirmed_target_is_noted_once_and_other_notes_stay(folder: Path) -> None:
    """The session's job was itself confirmed: its note of another target goes, the workshop's stays."""
    add(folder, 0)
    limited(folder)
    again = session(1, DRIFTS[1])
    notes = "The shed.\nTarget 19.00 by trial flights, confirmed by R. Example."
    job = again.header.job.model_copy(update={"notes": notes})
    (folder / "job-1.session").unlink()
    store = Store.create(folder / "job-1.session", again.header.model_copy(update={"job": job}))
    store.commit(again.inputs, again.events, again.reach_ns)
    store.close()
    add(folder, 1)
    next_job = folder / "next.toml"
    assert advise(folder, "--job", str(next_job), "--confirmed-by", "T. Other") == 0
    first, last = load_job(next_job).notes.splitlines()
    assert first == "The shed."
    assert last.startswith("Target 2")
    assert last.endswith("confirmed by T. Other.")


def test_a_session_of_no_day_wants_the_day_of_the_flight(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The demo on data time has none; whoever gave no --flown is told of it, and by no pattern."""
    kept = session(0, DRIFTS[0])
    (folder / "job-0.session").unlink()
    header = kept.header.model_copy(update={"started": ""})
    store = Store.create(folder / "job-0.session", header)
    store.commit(kept.inputs, kept.events, kept.reach_ns)
    store.close()
    typed = ["trial", "add", str(folder / "job-0.session"), *flown(0)[:-2]]
    assert main(typed) == 2
    said = capsys.readouterr().err
    assert "its session was of no day (say on which: --flown 2027-05-31)" in said
    assert main([*typed, "--flown", "31.5.2027"]) == 2
    assert "must be a day as in 2027-05-31" in capsys.readouterr().err
    assert main([*typed, "--flown", "2027-05-31"]) == 0


def test_the_angle_is_what_was_measured_and_never_the_target(folder: Path) -> None:
    add(folder, 1)
    (point,) = tomllib.loads((folder / "H-77.trial.toml").read_text("utf-8"))["point"]
    angles = setting(1, DRIFTS[1]).angles.values()
    assert point["angle_deg"] == pytest.approx(sum(a for a, _ in angles) / len(angles), abs=1e-4)
    assert point["u95_deg"] == pytest.approx(sum(u for _, u in angles) / len(angles), abs=1e-4)
    assert point["angle_deg"] != setting(1).target_deg


def test_the_picture_stands_in_the_history_and_on_the_sheet(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(3):
        add(folder, number)
    limited(folder)
    out = folder / "hub.svg"
    assert main(["history", "H-77", "--folder", str(folder), "--svg", str(out)]) == 0
    assert "s static, l level" in capsys.readouterr().out
    titles = [one.text for one in ET.parse(out).iter("{http://www.w3.org/2000/svg}title")]
    assert titles == ["Blade angles of one hub", "Angle against rpm: trial flights"]
    assert main(["sheet", str(folder / "job-2.session"), "--html"]) == 0
    page = (folder / "job-2.html").read_text("utf-8")
    assert "Angle against rpm" in page
    assert "middle of what is allowed" in page
    assert main(["trial", "show", "H-77", "--folder", str(folder)]) == 0
    assert "believed before any point" in capsys.readouterr().out


@pytest.mark.parametrize("broken", ["stillblade_trial = ", "stillblade_trial = 1\nx = 2\n"])
def test_a_bad_file_is_refused_and_stays_as_it_is(
    folder: Path, broken: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder / "H-77.trial.toml"
    path.write_text(broken, "utf-8")
    assert add(folder, 0) == 2
    assert advise(folder) == 2
    assert "H-77.trial.toml" in capsys.readouterr().err
    assert path.read_text("utf-8") == broken
    assert main(["history", "H-77", "--folder", str(folder)]) == 0


def test_a_value_that_cannot_be_names_its_option(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert add(folder, 0, "--mass-kg", "-3") == 2
    assert "--mass-kg" in capsys.readouterr().err
    assert not (folder / "H-77.trial.toml").exists()
    assert advise(folder) == 2
    assert "trial add" in capsys.readouterr().err


def test_a_point_whose_session_is_gone_gives_no_job_file(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    add(folder, 0)
    limited(folder)
    (folder / "job-0.session").unlink()
    assert advise(folder, "--job", str(folder / "next.toml")) == 2
    assert "job-0.session" in capsys.readouterr().err
    assert not (folder / "next.toml").exists()


def test_a_limit_of_a_run_that_nobody_flew_is_said_with_the_step(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = str(folder / "job-0.session")
    air = ("--pressure-altitude-ft", "500", "--celsius", "14", "--read-on", "panel")
    flown_on = ("--flown", f"{DATES[0]} 12:00")
    assert main(["trial", "add", first, "--static-rpm", "2080", *air, *flown_on]) == 0
    limited(folder)
    assert advise(folder) == 0
    told = capsys.readouterr().out
    assert "finer" in told
    assert "not flown yet, so only believed: redline in level; open the throttle only" in told


@pytest.mark.parametrize(
    ("flown_on", "said"),
    [
        ("", "job-2.session of 2032-03-11T09:00 set hub H-77 again after it"),
        (DATES[1], "job-1.session of 2031-09-20T09:00 set hub H-77 again after it"),
        (f"{DATES[1]}T09:30", "job-1.session of 2031-09-20T09:00 set hub H-77 again after it"),
        (f"{DATES[1]}T08:30", ""),
        ("2031-06-01", ""),
        ("2031-04-01", "is before job-0.session"),
    ],
)
def test_a_session_that_was_not_the_last_before_the_flight_is_refused(
    folder: Path, flown_on: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first of three sessions is named: by its date the flight belongs to it, or to a later one."""
    given = flown(0)[:-2] + (["--flown", flown_on] if flown_on else [])
    code = main(["trial", "add", str(folder / "job-0.session"), *given])
    assert code == (2 if said else 0)
    assert said in capsys.readouterr().err
    assert (folder / "H-77.trial.toml").exists() == (not said)
