"""`stillblade levels learn ADDRESS`: the dialog with an invented level in the fake air.

The same with the product's own clock and process is in tests/radio.
"""

import asyncio
import io
from pathlib import Path

import pytest
from bleak.exc import BleakError

from daemon.levels.guided import FIRST
from daemon.levels.unknown import Files, heard_of, learn_recording
from daemon.levels.way_by_air import ByAir
from daemon.levels.ways import MOVE_IT, SILENT
from drivers import profiles
from drivers.learn.asked import Heard
from drivers.learn.learning import learn_each
from shared.errors import OutsideError
from simulator.strangers.level import FULL, WALL_AND_FLOOR, stranger
from simulator.strangers.unlearnable import unlearnable
from tests.drivers.fake_air import World
from tests.drivers.sinks import QUICK
from tests.learn.truth import given, shown_wrong
from tests.levels.stage import ADDRESS, UUID, AirStage, a_level

ALL = ["", "", "", "", "", "90", "", ""]


async def learned(stage: AirStage, files: Files) -> int:
    failed: OutsideError | None = None
    code = -1
    async with asyncio.TaskGroup() as group:
        air = group.create_task(stage.world.run(), name="advertise")
        try:
            code = await stage.dialog.run(files)
        except OutsideError as error:
            failed = error
        air.cancel()
    if failed is not None:
        raise failed
    return code


@pytest.mark.parametrize("family", ["notification", "text notification"])
async def test_a_stranger_in_the_air_is_learned(family: str, tmp_path: Path) -> None:
    level = a_level(family)
    stage = AirStage(level, list(ALL))
    assert await learned(stage, Files(tmp_path / "mine")) == 0, stage.out.getvalue()
    text = (tmp_path / "mine.toml").read_text("utf-8")
    assert shown_wrong(level, text) == ""
    profile = profiles.read(text, "mine")
    assert profile.transport.link == "ble-notify"
    assert [one.characteristic_uuid for one in profile.channels] == [UUID]
    assert profile.channels[0].service_uuid == stage.one.service
    assert stage.world.written == [], "nobody asked for anything to be sent"
    assert stage.one.clients == [], "a level that stays connected is in the air for nobody"
    assert "2a19 (Battery Level): " in stage.out.getvalue()
    again = Files(tmp_path / "again")
    assert learn_recording(tmp_path / "mine.log", again, io.StringIO()) == 0
    assert (tmp_path / "again.toml").read_text("utf-8") == text
    assert {one.characteristic_uuid for one in heard_of(tmp_path / "mine.log")} == {"2a19", UUID}


async def test_one_in_the_air_that_sends_only_on_a_change(tmp_path: Path) -> None:
    level = a_level("notification", change=0.1)
    level.meaning.noise_deg = 0.005
    stage = AirStage(level, list(ALL))
    assert await learned(stage, Files(tmp_path / "mine")) == 0, stage.out.getvalue()
    assert stage.out.getvalue().count(MOVE_IT) == 1
    assert shown_wrong(level, (tmp_path / "mine.toml").read_text("utf-8")) == ""


async def test_a_motion_in_which_the_link_was_lost_is_made_again(tmp_path: Path) -> None:
    level = a_level("notification")
    stage = AirStage(level, ["", *ALL])
    stage.losses = [FIRST[1].says]
    assert await learned(stage, Files(tmp_path / "mine")) == 0, stage.out.getvalue()
    said = stage.out.getvalue()
    assert f"the connection to {ADDRESS} was lost" in said
    assert said.count(FIRST[1].says) == 2
    assert said.count(FIRST[2].says) == 1
    assert shown_wrong(level, (tmp_path / "mine.toml").read_text("utf-8")) == ""


async def test_a_link_that_never_holds_ends_it_and_keeps_what_was_heard(tmp_path: Path) -> None:
    stage = AirStage(a_level("notification"), list(ALL))
    stage.losses = [FIRST[1].says] * 3
    with pytest.raises(OutsideError, match="was lost"):
        await learned(stage, Files(tmp_path / "mine"))
    assert (tmp_path / "mine.marks").read_text("utf-8").endswith(" still\n")
    assert heard_of(tmp_path / "mine.log")


async def test_nothing_in_the_air_and_nothing_that_sends(tmp_path: Path) -> None:
    stage = AirStage(a_level("notification"), [])
    stage.one.in_the_air = False
    with pytest.raises(OutsideError, match=ADDRESS):
        await learned(stage, Files(tmp_path / "mine"))
    stage = AirStage(a_level("notification"), [])
    stage.world.trouble = {"start_notify": [BleakError("refused")]}
    stage.level.rate_hz = 0.01  # its battery alone is heard
    assert await learned(stage, Files(tmp_path / "mine")) == 1
    assert SILENT in stage.out.getvalue()
    assert stage.world.written == []
    assert not (tmp_path / "mine.log").exists()


async def test_a_device_that_offers_nothing_that_sends_is_said_to() -> None:
    world, said = World(), list[str]()
    world.add(ADDRESS, {})
    way = ByAir(ADDRESS, QUICK, world.air(), world.client_class())
    async with asyncio.TaskGroup() as group:
        air = group.create_task(world.run(), name="advertise")
        async with way.opened(lambda _channel, _data: None, said.append, _AtOnce()) as comes:
            assert not comes
        air.cancel()
    assert said[-1] == "it offers nothing that sends: not found"


class _AtOnce:
    """A clock that stands."""

    def now_ns(self) -> int:
        return 0

    async def wait(self, seconds: float) -> None:
        await asyncio.sleep(0)


def test_of_several_channels_the_one_with_an_angle_is_learned() -> None:
    """Whatever else a level notifies, and in whatever order it has its characteristics."""
    level = next(each for each in map(stranger, range(7, 300)) if each.family == "notification")
    heard, marks = given(level.heard((*FULL, *WALL_AND_FLOOR)), "ble-notify", 0)
    beside = Heard(unlearnable(0).heard.chunks, "ble-notify", characteristic_uuid="ff01")
    for channels in ([heard, beside], [beside, heard]):
        found = learn_each(channels, marks)
        assert found.heard is heard
        assert shown_wrong(level, found.outcome.candidates[0].profile) == ""
    assert learn_each([beside], marks).outcome.not_found_why.startswith("not found")
    assert learn_each([], marks).outcome.not_found_why == "not found: it sent nothing"
