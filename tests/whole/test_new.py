"""From a level on a line and nothing else to a first captured reading, by `stillblade new` alone."""

import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.session.headers import make_header
from daemon.session.jobs import load_job
from daemon.session.learned import known
from simulator.line import Line
from tests.whole.program import Level, Running, end_all

if sys.platform == "win32":
    collect_ignore = ["test_new.py"]
else:
    from tests.whole.dialogue import Dialogue

SLOPE, ZERO = 1.7, 0.08
"""The bench that the level lies on, and how much it shows too much, degrees."""
ITS_PROPELLER = (
    ("name for this job", "Two blades, Harrowmere strip"),
    ("Which aircraft", ""),
    ("title, revision, page", "Manual of the propeller, rev. C, p. 12"),
    ("How many blades", "2"),
    ("tractor or a pusher", "tractor"),
    ("looking forward?", "clockwise"),
    ("At which station", "150 mm in from the tip"),
    ("hub's centre, with its unit", "620 mm"),
    ("names for the 2 blades", "green, yellow"),
    ("Which blade angle", "17.5"),
    ("How far off may one blade be", "0,3"),
    ("How far may any two blades differ", "0.2"),
    ("flat, leaning", "flat"),
    ("All, each, or which sets", "all"),
    ("torque for bolts", "no"),
)


@pytest.fixture(autouse=True)
def _nothing_outlives_its_test() -> Iterator[None]:
    yield
    end_all()


@pytest.fixture
def port(line: Line, level: Level) -> str:
    assert level.line is line
    return line.open()


def talk_to(folder: Path) -> Iterator[Dialogue]:
    dialogue = Dialogue(folder, "new", "--air", "0")
    yield dialogue
    dialogue.kill()


@pytest.fixture
def dialogue(tmp_path: Path) -> Iterator[Dialogue]:
    yield from talk_to(tmp_path)


def place(dialogue: Dialogue, level: Level, angle_deg: float) -> None:
    """Lift the level, lay it again, and leave it until it is read."""
    level.carry()
    level.lay(angle_deg)
    dialogue.wait_for("taken: ")


def begin(dialogue: Dialogue, level: Level, port: str) -> None:
    level.lay(SLOPE)
    dialogue.say(
        ("Which is your level?", port),
        ("Which profile reads it", ""),
        ("does the number follow", "yes"),
        ("stay, or does it shrink", "stays"),
        ("name for this level", "chord"),
    )


def test_from_nothing_to_a_first_captured_reading(
    dialogue: Dialogue, level: Level, port: str, tmp_path: Path
) -> None:
    begin(dialogue, level, port)
    assert "sounds like nmea-xdr" in dialogue.heard
    assert "now: angle 1." in dialogue.heard

    dialogue.say(("unproven", ""))
    place(dialogue, level, SLOPE + ZERO)
    place(dialogue, level, -SLOPE + ZERO)
    dialogue.wait_for("zero error")
    dialogue.say(("unproven", ""))
    level.carry()
    level.lay(SLOPE)
    dialogue.wait_for("noise ")
    dialogue.say(("unproven", ""))
    for off in (0.0, 0.02, -0.03, 0.01, 0.0):
        place(dialogue, level, SLOPE + off)
    dialogue.wait_for("seating ")
    dialogue.say(*ITS_PROPELLER, ("Which file", ""), ("Enter writes it", ""))
    dialogue.wait_for("stillblade run two-blades-harrowmere-strip.toml")
    assert dialogue.end() == 0, dialogue.heard

    path = tmp_path / "two-blades-harrowmere-strip.toml"
    job = load_job(path)
    assert job.target.model_dump() == {"angle_deg": 17.5, "tolerance_deg": 0.3, "spread_deg": 0.2}
    assert job.propeller.labels == ["green", "yellow"]
    assert "UNPROVEN" not in path.read_text()
    profile = make_header(job, tmp_path, levels=known(tmp_path)).profiles["chord"]
    assert profile.fields["angle"].offset == pytest.approx(-ZERO, abs=0.07)
    assert profile.accuracy.zero_date
    assert profile.noise.n >= 120
    assert profile.noise.sd_deg == pytest.approx(0.02, rel=0.3)
    assert profile.seating.n == 5
    assert 0.005 < profile.seating.u_deg < 0.1

    program = Running(path)
    program.wait_for(event="step", stage="prepare")
    program.press("done")
    program.wait_for(event="step", stage="reference")
    captured = level.read(program, -3.0, blade="reference")
    assert captured["event"] == "captured"
    program.kill()


def test_answers_are_taken_back_and_what_is_left_out_is_said_to_be_unproven(
    dialogue: Dialogue, level: Level, port: str, tmp_path: Path
) -> None:
    begin(dialogue, level, port)
    dialogue.say(("unproven", "skip"), ("unproven", "skip"), ("unproven", "skip"))
    dialogue.say(*ITS_PROPELLER[:4], ("tractor or a pusher", "back"), ("How many blades", "3"))
    dialogue.say(*ITS_PROPELLER[4:8], ("names for the 3 blades", "green, yellow"))
    dialogue.say(("names for the 3 blades", "a, b, c"), *ITS_PROPELLER[9:])
    dialogue.say(("Which file", "mine.toml"), ("Enter writes it", "12"), ("How many blades", "2"))
    dialogue.wait_for("which no longer fits")
    dialogue.say(("names for the 2 blades", "green, yellow"), ("Enter writes it", ""))
    assert dialogue.end() == 0, dialogue.heard
    text = (tmp_path / "mine.toml").read_text()
    assert tomllib.loads(text)["propeller"]["blades"] == 2
    for check in ("zero", "noise", "seating"):
        assert f"# {check}: UNPROVEN, it was left out; `stillblade levels {check} chord" in text
    assert sorted(one.name for one in tmp_path.iterdir()) == ["mine.toml"]


@pytest.mark.parametrize(
    "where", ["first question", "live number", "running check", "last question"]
)
def test_ctrl_c_leaves_the_folder_as_it_was(
    where: str, dialogue: Dialogue, level: Level, port: str, tmp_path: Path
) -> None:
    if where == "first question":
        dialogue.wait_for("Which is your level?")
    elif where == "live number":
        level.lay(SLOPE)
        dialogue.say(("Which is your level?", port), ("Which profile reads it", ""))
        dialogue.wait_for("does the number follow")
    else:
        begin(dialogue, level, port)
    if where == "running check":
        dialogue.say(("unproven", ""))
        place(dialogue, level, SLOPE)
    if where == "last question":
        dialogue.say(("unproven", "skip"), ("unproven", "skip"), ("unproven", "skip"))
        dialogue.say(*ITS_PROPELLER, ("Which file", ""))
        dialogue.wait_for("Enter writes it")
    dialogue.keys("\x03")
    assert dialogue.end() == 1
    assert "stopped: nothing was written" in dialogue.heard
    assert "Traceback" not in dialogue.heard
    assert list(tmp_path.iterdir()) == []
