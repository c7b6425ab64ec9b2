"""`stillblade levels learn`: the dialog with an invented level on a pseudo-terminal.

The level, the person who moves it and the clock go in step: what is asked for takes as long as
the bytes of it, and no real time. The level sees at which speed the line is read (a
pseudo-terminal keeps it) and is garbage at any other.
"""

import asyncio
import io
import os
import termios
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from daemon.levels.found_drawn import fields_drawn
from daemon.levels.guided import FIRST, Dialog
from daemon.levels.marks import marks_text, read_marks
from daemon.levels.unknown import Files, heard_of, learn_recording
from drivers import profiles
from drivers.learn.asked import Heard, Mark
from shared.errors import BadInputError, OutsideError
from simulator.draws import Draws
from simulator.line import Line
from simulator.strangers.level import FULL, WALL_AND_FLOOR, Stranger, stranger
from simulator.strangers.person import NS, Motion, Performer
from simulator.strangers.speeds import read_at
from tests.drivers.sinks import QUICK
from tests.learn.truth import given, shown_wrong

SPEEDS = {
    getattr(termios, f"B{baud}"): baud for baud in (2400, 4800, 9600, 19200, 38400, 57600, 115200)
}


class Stage:
    """A stranger on a line, moved by a person who does what was asked; clock and answers too.

    answers: what is typed, in order; where they run out nobody is there any more.
    """

    def __init__(self, level: Stranger, answers: list[str]) -> None:
        self.level = level
        self.line = Line("stranger")
        self.port = self.line.open()
        self.out = io.StringIO()
        self.dialog = Dialog(self.port, self, self.out, self, QUICK)
        self.speeds: list[int] = []
        self.sent_to = b""
        self._now = 0
        self._answers = answers
        self._draws = Draws(level.seed, 3)
        self._performer = Performer(self._draws)
        self._performer.show([("still", None)])
        self._moving_s = 0.0
        self._looked = 0

    async def answer(self) -> str | None:
        """Type the next answer."""
        return self._answers.pop(0) if self._answers else None

    def now_ns(self) -> int:
        """Return the time of the stage."""
        return self._now

    async def wait(self, seconds: float) -> None:
        """Let the level send for so long, frame by frame, each heard before the next."""
        motion = self._asked()
        if motion is not None:
            self._all_shown()
            self._performer.show([motion])
            self._moving_s = 0.0
        performance = self._performer.done
        start_s, began_s = performance.asked[-1].start_ns / NS, self._now / NS
        count = int(seconds * self.level.rate_hz)
        times = [(index + 1) / self.level.rate_hz for index in range(count)]
        moved_s = [start_s + self._moving_s + t_s for t_s in times]
        at_s = [min(performance.length_s, moment) for moment in moved_s]
        self._moving_s += seconds
        poses = [performance.at(moment, self._draws) for moment in at_s]
        sent = self.level.frames(
            [(began_s + t, pose) for t, pose in zip(times, poses, strict=True)]
        )
        for t_s, frame in zip(times, sent, strict=True):
            self._now = round((began_s + t_s) * NS)
            await self._send(frame)

    def _all_shown(self) -> None:
        performance = self._performer.done
        takes_s = performance.length_s - performance.asked[-1].start_ns / NS
        assert takes_s <= max(self._moving_s, 20.0), "the dialog gave no time"

    def _asked(self) -> tuple[Motion, float | None] | None:
        """Return the motion that was asked for since it was last looked."""
        said, self._looked = self.out.getvalue()[self._looked :], len(self.out.getvalue())
        if "on a level floor" in said or "Lay it on the surface" in said:
            return ("known", 90.0 if "Lay it on the surface" in said else 0.0)
        asked = [(one.motion, one.deg) for one in FIRST if one.says in said]
        return asked[-1] if asked else None

    async def _send(self, frame: bytes) -> None:
        data = read_at(frame, self.level.baud, self._speed())
        wanted = self.dialog.received + len(data)
        self.line.write(data)
        self.sent_to += self.line.read()
        async with asyncio.timeout(20):
            while self.dialog.received < wanted:  # noqa: ASYNC110 - the link has no event
                await asyncio.sleep(0)

    def _speed(self) -> int:
        """Return the speed that whoever opened the line reads it at."""
        slave = os.open(self.port, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            speed = SPEEDS[termios.tcgetattr(slave)[5]]
        finally:
            os.close(slave)
        if speed not in self.speeds:
            self.speeds.append(speed)
        return speed


def a_level(family: str, **differs: object) -> Stranger:
    """Return an invented one in degrees, of a certain speed, on a clean line."""
    found = next(
        level
        for level in map(stranger, range(1, 300))
        if (level.family, level.meaning.unit) == (family, "deg") and not level.meaning.sideways
    )
    return replace(found, rate_hz=8.0, line_noise=0.0, **differs)  # type: ignore[arg-type]


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
    assert heard_of(tmp_path / "mine.log").chunks


async def test_a_level_that_says_nothing_is_not_asked(tmp_path: Path) -> None:
    stage = Stage(replace(a_level("text", baud=9600), rate_hz=0.01), [])
    assert await stage.dialog.run(Files(tmp_path / "mine")) == 1
    assert "it sends nothing by itself" in stage.out.getvalue()
    assert stage.line.read() == b""
    stage.line.close()


async def test_no_port_and_files_that_exist(tmp_path: Path) -> None:
    dialog = Dialog(str(tmp_path / "none"), Stage(a_level("text"), []), io.StringIO(), None, QUICK)
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
