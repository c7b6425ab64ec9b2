"""`stillblade levels learn`: the dialog with an invented level on a pseudo-terminal.

See `tests.levels.stage`.
"""

import io
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from daemon.levels.found_drawn import fields_drawn
from daemon.levels.guided import Dialog
from daemon.levels.marks import marks_text, read_marks
from daemon.levels.unknown import Files, heard_of, learn_recording
from daemon.levels.way_by_wire import ByWire
from daemon.levels.ways import MOVE_IT, SILENT
from drivers import profiles
from drivers.learn.asked import Heard, Mark
from shared.errors import BadInputError, OutsideError
from simulator.strangers.level import FULL, WALL_AND_FLOOR
from simulator.strangers.person import NS
from tests.drivers.sinks import QUICK
from tests.learn.truth import given, shown_wrong
from tests.levels.stage import Stage, a_level


@pytest.mark.parametrize(("family", "baud"), [("text", 19200), ("binary", 115200)])
async def test_a_stranger_is_learned_from_plug_to_profile(
    family: str, baud: int, tmp_path: Path
) -> None:
    level = a_level(family, baud=baud)
    stage = Stage(level, ["", "", "", "", "", "90", "", ""])
    assert await stage.dialog.run(Files(tmp_path / "mine")) == 0, stage.out.getvalue()
    stage.line.close()
    text = (tmp_path / "mine.toml").read_text("utf-8")
    assert shown_wrong(level, text) == ""
    assert f"baud = {baud}" in text
    assert stage.sent_to == b""
    said = stage.out.getvalue()
    assert "nothing else fits" in said
    assert "18 ... 13 ... 8 ... 3 ... done\n" in said, "nobody knows how long a motion goes on"
    assert "stillblade levels listen" in said
    assert (tmp_path / "mine.svg").read_text("utf-8").startswith("<svg")
    again = Files(tmp_path / "again")
    assert learn_recording(tmp_path / "mine.log", again, io.StringIO()) == 0
    assert (tmp_path / "again.toml").read_text("utf-8") == text


async def test_a_level_that_sends_only_on_a_change_is_asked_to_be_moved(tmp_path: Path) -> None:
    level = a_level("text", baud=9600, change=0.1)
    level.meaning.noise_deg = 0.005
    stage = Stage(level, ["", "", "", "", "", "90", "", ""])
    assert await stage.dialog.run(Files(tmp_path / "mine")) == 0, stage.out.getvalue()
    stage.line.close()
    text = (tmp_path / "mine.toml").read_text("utf-8")
    assert shown_wrong(level, text) == ""
    assert 'mode = "on-change"' in text
    assert "[noise]" not in text, "nobody has seen it"
    said = stage.out.getvalue()
    assert said.count(MOVE_IT) == 1
    assert "it sends only on a change, last digit" in said


async def test_without_a_known_slope_it_says_what_is_open(tmp_path: Path) -> None:
    level = a_level("text", baud=9600)
    stage = Stage(level, ["", "", "", "", "", ""])
    assert await stage.dialog.run(Files(tmp_path / "mine")) == 0
    stage.line.close()
    said = stage.out.getvalue()
    assert "scale unverified" in said
    assert "this is not certain" in said
    assert "A slope of about 90 degrees would tell most." in said
    assert "# Not verified: scale" in (tmp_path / "mine.toml").read_text("utf-8")


async def test_a_person_who_leaves_leaves_the_recording(tmp_path: Path) -> None:
    stage = Stage(a_level("text", baud=9600), ["", ""])
    assert await stage.dialog.run(Files(tmp_path / "mine")) == 1
    stage.line.close()
    assert not (tmp_path / "mine.toml").exists()
    assert [mark.motion for mark in read_marks(tmp_path / "mine.marks")] == ["still", "tilt"]
    assert heard_of(tmp_path / "mine.log")[0].chunks


async def test_a_level_that_says_nothing_is_not_asked(tmp_path: Path) -> None:
    stage = Stage(replace(a_level("text", baud=9600), rate_hz=0.01), [])
    assert await stage.dialog.run(Files(tmp_path / "mine")) == 1
    assert stage.out.getvalue().endswith(f"{SILENT}\n")
    assert "polled" in SILENT
    assert stage.line.read() == b""
    stage.line.close()


async def test_no_port_and_files_that_exist(tmp_path: Path) -> None:
    none = ByWire(str(tmp_path / "none"), QUICK)
    dialog = Dialog(none, Stage(a_level("text"), []), io.StringIO())
    with pytest.raises(OutsideError, match="none"):
        await dialog.run(Files(tmp_path / "mine"))
    (tmp_path / "mine.svg").write_text("mine", "utf-8")
    with pytest.raises(BadInputError, match="exists already"):
        await dialog.run(Files(tmp_path / "mine"))


def test_marks_are_read_as_they_were_written(tmp_path: Path) -> None:
    marks = [Mark(0, 20 * NS, "still"), Mark(21 * NS, 35 * NS, "tilt", -40.0)]
    path = tmp_path / "a.marks"
    path.write_text(marks_text(marks), "utf-8")
    assert read_marks(path) == marks


@pytest.mark.parametrize(
    "line", ["x", "1 2", "2 1 still", "0 1 dance", "0 1 tilt nan", "0 1e9 still"]
)
def test_a_damaged_mark_is_named(line: str, tmp_path: Path) -> None:
    path = tmp_path / "a.marks"
    path.write_text(f"# stillblade marks 1\n{line}\n", "utf-8")
    with pytest.raises(BadInputError, match="line 2"):
        read_marks(path)


def test_a_recording_of_nothing_exits_with_no(tmp_path: Path) -> None:
    (tmp_path / "a.log").write_text("# stillblade recording 1\n0.000 0 2a\n", "utf-8")
    (tmp_path / "a.marks").write_text("# stillblade marks 1\n0 9 still\n9 20 tilt 40\n", "utf-8")
    out = io.StringIO()
    assert learn_recording(tmp_path / "a.log", Files(tmp_path / "b"), out) == 1
    assert out.getvalue().startswith("not found")
    assert not (tmp_path / "b.toml").exists()


def test_the_picture_has_every_field_and_every_motion() -> None:
    level = a_level("text", baud=9600)
    heard, marks = given(level.heard((*FULL, *WALL_AND_FLOOR)), "serial", 9600)
    profile = profiles.load("text-line")
    picture = fields_drawn(profile, Heard([(n * NS, b"%d\r\n" % n) for n in range(9)]), marks)
    assert picture.count("<polyline") == 1
    assert picture.count("tilt") == 2
    root = ET.fromstring(picture)
    assert root.tag.endswith("svg")
    assert heard.chunks
