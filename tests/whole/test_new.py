"""From a level on a line and nothing else to a first captured reading, by `stillblade new` alone."""

import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.line import Line
from tests.whole.program import Level, end_all, stillblade

if sys.platform == "win32":
    collect_ignore = ["test_new.py"]
else:
    from tests.whole.beginning import (
        ITS_PROPELLER,
        SLOPE,
        first_reading,
        its_level,
        place,
        tried_and_written,
    )
    from tests.whole.dialogue import Dialogue


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


def test_from_nothing_to_a_first_captured_reading(
    dialogue: Dialogue, level: Level, port: str, tmp_path: Path
) -> None:
    its_level(dialogue, port)
    assert "sounds like nmea-xdr" in dialogue.heard
    assert "smallest step 0.01" in dialogue.heard
    assert "now: angle " in dialogue.heard
    job = tried_and_written(dialogue, level, tmp_path)
    told = re.search(r"about \d+( to \d+)? readings if nothing moves", dialogue.heard)
    assert told is not None, dialogue.heard
    assert told[0] in stillblade("check", str(job)).stdout
    first_reading(job, level)


def test_answers_are_taken_back_and_what_is_left_out_is_said_to_be_unproven(
    dialogue: Dialogue, level: Level, port: str, tmp_path: Path
) -> None:
    its_level(dialogue, port)
    dialogue.say(("unproven", "skip"), ("unproven", "skip"), ("unproven", "skip"))
    dialogue.say(*ITS_PROPELLER[:4], ("tractor or a pusher", "back"), ("How many blades", "3"))
    dialogue.say(*ITS_PROPELLER[4:8], ("names for the 3 blades", "green, yellow"))
    dialogue.say(("names for the 3 blades", "a, b, c"), *ITS_PROPELLER[9:])
    dialogue.say(("Which file", "mine.toml"), ("Enter writes it", "13"), ("How many blades", "2"))
    dialogue.wait_for("which no longer fits")
    dialogue.say(("names for the 2 blades", "green, yellow"), ("Enter writes it", ""))
    assert dialogue.end() == 0, dialogue.heard
    text = (tmp_path / "mine.toml").read_text()
    assert tomllib.loads(text)["propeller"]["blades"] == 2
    for check in ("zero", "noise", "seating"):
        assert f"# {check}: UNPROVEN, it was left out; `stillblade levels {check} chord" in text
    assert sorted(one.name for one in tmp_path.iterdir()) == ["mine.toml"]


def test_an_arrow_is_no_answer_and_is_not_shown_as_its_code(dialogue: Dialogue) -> None:
    dialogue.wait_for("Which is your level?")
    dialogue.wait_for("> ")
    dialogue.keys("\x1b[D\n")
    dialogue.wait_for("An arrow or another key that types nothing was in it: type it again.")
    assert "x1b" not in dialogue.heard
    dialogue.type("nowhere")
    dialogue.wait_for("'nowhere' is not there")


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
        its_level(dialogue, port)
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


def test_answers_of_a_pipe_that_ends_write_nothing(tmp_path: Path) -> None:
    done = stillblade(
        "new", str(tmp_path / "job.toml"), "--air", "0", stdin="nonsense\n\n?\nback\n"
    )
    assert done.returncode == 1
    assert "the answers ended: nothing was written" in done.stderr
    assert "'nonsense' is not there" in done.stdout
    assert "nothing to take back" in done.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("there.toml", "is there already"),
        ("none/job.toml", "no folder"),
        ("job.txt", "ends in .toml"),
    ],
)
def test_a_file_that_cannot_be_written_is_refused_before_anything_is_asked(
    name: str, says: str, tmp_path: Path
) -> None:
    (tmp_path / "there.toml").write_text("mine")
    done = stillblade("new", str(tmp_path / name), stdin="")
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stdout == ""
