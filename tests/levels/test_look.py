"""`stillblade levels`: list, scan, listen, capture, with what a person sees of each."""

import asyncio
import errno
import io
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.levels import look as levels
from daemon.levels.ear import Ear, Target
from daemon.levels.kinds import list_kinds
from drivers import profiles, sentences
from drivers.links import look
from drivers.recordings import decoded, from_text
from shared.errors import BadInputError, OutsideError
from shared.job import LevelEntry
from shared.samples import Role
from simulator.draws import Draws
from simulator.wire import Wire
from simulator.wire.framed_binary import FramedBinary
from simulator.wire.nmea_xdr import NmeaXdr
from simulator.wire.terminal import TerminalLevel
from simulator.wire.text_line import TextLine, TextStyle
from tests.drivers.making import profile_of
from tests.drivers.sinks import QUICK
from tests.faces.test_desk import until


def tilt() -> dict[Role, float]:
    return {"angle": 12.5}


@asynccontextmanager
async def terminal(wire: Wire, rate_hz: float = 50.0) -> AsyncIterator[TerminalLevel]:
    level = TerminalLevel("level", wire, tilt, rate_hz)
    async with asyncio.TaskGroup() as group:
        running = group.create_task(level.run(), name="level")
        try:
            yield level
        finally:
            running.cancel()


def xdr() -> NmeaXdr:
    return NmeaXdr({"angle": "TILT"}, 0.01, Draws(1, 1))


def test_list_names_every_kind_and_its_convention() -> None:
    out = io.StringIO()
    assert list_kinds(out) == 0
    lines = out.getvalue().splitlines()
    assert [line.split()[0] for line in lines] == profiles.names()
    assert all(line.split()[1] == "planar" for line in lines)


async def test_scan_without_a_bus_says_so_and_shows_the_ports(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    out = io.StringIO()
    await levels.scan(out, 0.1, replace(QUICK, call_s=5.0))
    assert sentences.no_bus() in out.getvalue()


@pytest.mark.parametrize(
    ("wire", "kind"),
    [
        (xdr, "nmea-xdr"),
        (lambda: TextLine(TextStyle()), "text-line"),
        (FramedBinary, "framed-binary"),
    ],
)
async def test_guess_on_a_port(wire: type[Wire], kind: str) -> None:
    async with terminal(wire()) as level:
        assert await look.guess_on_port(level.path, QUICK, 0.4) == kind


@pytest.mark.parametrize(
    "template",
    ["{angle} kg", "X={angle} Y=3.25", "{angle} 3.25", "T {angle}", "seen {angle} times"],
)
async def test_no_guess_at_numbers_that_may_be_anything(template: str) -> None:
    async with terminal(TextLine(TextStyle(template))) as level:
        assert await look.guess_on_port(level.path, QUICK, 0.3) == ""


async def test_a_talker_of_two_angles_is_guessed_though_a_name_is_missing() -> None:
    class Two(NmeaXdr):
        def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
            return super().write({"roll": values["angle"], "pitch": 1.0})

    async with terminal(Two({"roll": "ROLL", "pitch": "PTCH"}, 0.01, Draws(1, 1))) as level:
        assert await look.guess_on_port(level.path, QUICK, 0.4) == "nmea-xdr"


def test_names_from_the_air_cannot_act_on_a_terminal() -> None:
    assert look.shown("level \x1b[2J\u202ex") == "level \ufffd[2J\ufffdx"


async def test_no_guess_where_nothing_talks(tmp_path: Path) -> None:
    assert await look.guess_on_port(str(tmp_path / "none"), QUICK, 0.1) == ""


async def test_listen_shows_bytes_numbers_and_rate() -> None:
    out = io.StringIO()
    async with terminal(xdr()) as level:
        target = levels.target("nmea-xdr", port=level.path)
        assert await levels.listen(target, out, 1.0, QUICK) == 0
    text = out.getvalue()
    assert f"level is connected: {level.path}" in text
    assert "[0] 24 49 49 58 44 52" in text  # $IIXDR
    assert "|$IIXDR,A,12.50,D,TILT" in text
    assert "angle 12.5" in text
    assert " Hz" in text
    assert "0 gaps" in text.splitlines()[-1]


async def test_listen_at_the_wrong_speed_says_so() -> None:
    patience = replace(QUICK, unread_s=0.4)
    out = io.StringIO()
    async with terminal(xdr()) as level:
        level.fault("wrong-speed")
        assert (
            await levels.listen(levels.target("nmea-xdr", port=level.path), out, 1.5, patience) == 1
        )
    assert "no valid frames in 0.4 s at 9600" in out.getvalue()


async def test_capture_is_ready_to_contribute(tmp_path: Path) -> None:
    out, path = io.StringIO(), tmp_path / "mine.log"
    async with terminal(xdr()) as level:
        target = levels.target("nmea-xdr", port=level.path)
        assert await levels.capture(target, path, out, 1.0, "a test", QUICK) == 0
        with pytest.raises(BadInputError, match="exists already"):
            await levels.capture(target, path, out, 1.0, "", QUICK)
    recording = from_text(path.read_text("utf-8"), "mine.log")
    assert (recording.profile, recording.source) == ("nmea-xdr", "a test")
    expected = (tmp_path / "mine.expected").read_text("utf-8")
    assert decoded(recording.level_profile(), recording.chunks) == expected
    assert expected.count("angle=12.5") > 20


async def test_capture_keeps_a_profile_of_ones_own(tmp_path: Path) -> None:
    profile = profile_of("text-line", format={"options": {"decimal": "comma"}})
    path = tmp_path / "own.log"
    async with terminal(TextLine(TextStyle(decimal_comma=True))) as level:
        entry = LevelEntry(name="a", profile="own", port=level.path)
        await levels.capture(Target(entry, profile), path, io.StringIO(), 0.6, "", QUICK)
    assert from_text(path.read_text("utf-8"), "own.log").level_profile() == profile


async def test_a_capture_that_is_cut_short_is_whole_as_far_as_it_went(tmp_path: Path) -> None:
    out, path = io.StringIO(), tmp_path / "cut.log"
    async with terminal(xdr()) as level:
        target = levels.target("nmea-xdr", port=level.path)
        capturing = levels.capture(target, path, out, 600.0, "", QUICK)
        task = asyncio.get_running_loop().create_task(capturing, name="capture")
        await until(lambda: "angle" in out.getvalue())
        task.cancel()
        assert await task == 0
    recording = from_text(path.read_text("utf-8"), "cut.log")
    expected = (tmp_path / "cut.expected").read_text("utf-8")
    assert decoded(recording.level_profile(), recording.chunks) == expected
    assert expected.count("angle=12.5") >= 1
    assert "samples, " in out.getvalue().splitlines()[-2]


class Closed(io.StringIO):
    """A pipe whose reader leaves after so many lines."""

    def __init__(self, lines: int) -> None:
        super().__init__()
        self._left = lines

    def write(self, text: str) -> int:
        """Take it, or fail as a pipe does."""
        self._left -= text.count("\n")
        if self._left < 0:
            raise BrokenPipeError(errno.EPIPE, "Broken pipe")
        return super().write(text)


async def test_what_nobody_reads_any_more_ends_and_a_recording_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "piped.log"
    async with terminal(xdr()) as level, asyncio.timeout(20):
        target = levels.target("nmea-xdr", port=level.path)
        with pytest.raises(OutsideError, match="takes nothing more: Broken pipe"):
            await levels.listen(target, Closed(3), None, QUICK)
        with pytest.raises(OutsideError, match="takes nothing more: Broken pipe"):
            await levels.capture(target, path, Closed(3), 600.0, "", QUICK)
    assert "angle=12.5" in path.with_suffix(".expected").read_text("utf-8")


async def test_capture_where_nothing_can_be_written(tmp_path: Path) -> None:
    target = levels.target("nmea-xdr", port="/dev/none")
    with pytest.raises(OutsideError, match=r"cannot be written: .*\(nothing was kept: name an"):
        await levels.capture(target, tmp_path / "no" / "x.log", io.StringIO(), 0.1, "", QUICK)


JOB = """
stillblade_job = 1
name = "test"
[propeller]
blades = 3
rotation = "clockwise"
layout = "tractor"
station = "75 % radius"
[target]
angle_deg = 15
tolerance_deg = 0.2
spread_deg = 0.2
[[level]]
name = "blue"
profile = "nmea-xdr"
port = "/dev/blue"
"""


def test_a_level_of_a_job_by_its_name(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB, "utf-8")
    found = levels.target("blue", job)
    assert (found.entry.port, found.profile.kind) == ("/dev/blue", "nmea-xdr")
    assert levels.target("blue", job, "/dev/other").entry.port == "/dev/other"
    with pytest.raises(BadInputError, match="one of blue"):
        levels.target("red", job)
    with pytest.raises(BadInputError, match="levels scan"):
        levels.target("nmea-xdr")


def test_what_is_refused_is_told_with_its_reason_while_it_happens() -> None:
    now, told = [0.0], list[str]()
    target = Target(LevelEntry(name="a", profile="x"), profile_of("nmea-xdr"))
    ear = Ear(target, told.append, clock=lambda: now[0])
    for _ in range(24):
        now[0] += 0.125
        ear.bytes("a", 0, b"$IIXDR,A,12.50,D,TILT*00\r\n")
        ear.look()
    lines = [line.split("s  ")[1] for line in told if "refused" in line]
    assert lines == ["refused: 8 checksum"] * 3
    assert ear.summary().endswith("24 refused: 24 checksum")


def test_what_a_job_would_refuse_is_not_shown_as_fine() -> None:
    told = list[str]()
    profile = profile_of("text-line", limits={"low_deg": 0.0, "high_deg": 40.0})
    ear = Ear(Target(LevelEntry(name="a", profile="x"), profile), told.append, clock=lambda: 0.0)
    ear.bytes("a", 0, b"\r\n55.0\r\n18.5\r\n")
    assert "angle 55 (refused: out of range)" in told[-1]
    assert "angle 18.5" in told[-1]
    assert ear.samples == 1
    assert ear.summary().endswith("1 out of range")


@pytest.mark.parametrize(
    ("data", "shown"),
    [(b"4.75\r\n", "34 2e 37 35 0d 0a  |4.75··|"), (b"\xaa\x55\x01A", "aa 55 01 41")],
)
def test_bytes_are_shown_as_text_where_they_are_text(data: bytes, shown: str) -> None:
    told = list[str]()
    target = Target(LevelEntry(name="a", profile="x"), profile_of("text-line"))
    Ear(target, told.append, clock=lambda: 0.0).bytes("a", 0, data)
    assert f"[0] {shown}" in told[0]
    assert ("|" in told[0]) == ("|" in shown)


def test_gaps_are_counted_and_told() -> None:
    now, told = [0.0], list[str]()
    target = Target(LevelEntry(name="a", profile="x"), profile_of("text-line"))
    ear = Ear(target, told.append, clock=lambda: now[0])
    ear.up("a", "here")
    ear.bytes("a", 0, b"\r\n")
    for step in (0.1, 0.1, 0.1, 3.0, 0.1):
        now[0] += step
        ear.look()
        ear.bytes("a", 0, b"1.5\r\n")
    assert (ear.samples, ear.gaps) == (5, 1)
    assert any("no sample for 1 s" in line for line in told)
    assert any("gap of 3.00 s" in line for line in told)
    ear.down("a", "gone: come back")
    assert ear.chunks[-1].data is None
    assert "gone: come back" in told[-1]
