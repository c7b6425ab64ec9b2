"""Sound: the tones by their spectrum, and a face that plays them, whatever the player does."""

import asyncio
import io
import shutil
import sys
import wave
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from daemon.__main__ import main
from daemon.cli import sounds as command
from daemon.faces import sound as module
from daemon.faces.sound import Sound, found
from daemon.faces.tones import RATE_HZ, rendered
from daemon.shell.counter import VIEW_EVERY_S
from shared import sounding
from shared.events import Event, Summary
from shared.signals import EVERY, Signal
from tests.faces.hosts import Service
from tests.faces.test_desk import until
from tests.tui import scenes

if sys.platform == "win32":
    collect_ignore = ["test_sound.py"]


def samples(content: bytes) -> np.ndarray:
    with wave.open(io.BytesIO(content)) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (RATE_HZ, 1, 2)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float)


def frequency(part: np.ndarray) -> float:
    """The strongest frequency, in Hz: a Hann window, zeros behind, and a parabola over the peak."""
    size = 1 << 20
    power = np.abs(np.fft.rfft(part * np.hanning(len(part)), size))
    at = int(power[1:-1].argmax()) + 1
    left, middle, right = np.log(power[at - 1 : at + 2])
    return float((at + 0.5 * (left - right) / (left - 2 * middle + right)) * RATE_HZ / size)


# --- tones ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVERY)
def test_every_tone_is_within_a_hertz_of_what_it_should_be(name: str) -> None:
    found = samples(rendered(EVERY[name]))
    at = 0
    for first, last, ms in EVERY[name].tones:
        count = round(ms / 1000 * RATE_HZ)
        part = found[at : at + count]
        at += count
        if first == 0.0:
            assert not part.any()
        else:
            assert frequency(part) == pytest.approx(
                (first + last) / 2, abs=1.0 if first == last else 60
            )
    assert at == len(found)


@pytest.mark.parametrize(("first", "last"), [(500.0, 750.0), (750.0, 500.0)])
def test_a_glide_goes_evenly_from_one_to_the_other(first: float, last: float) -> None:
    tone = samples(rendered(Signal("", ((first, last, 2000),))))
    for share in (0.1, 0.5, 0.9):
        middle = int(share * len(tone))
        part = tone[middle - 1500 : middle + 1500]
        assert frequency(part) == pytest.approx(first + share * (last - first), abs=1.0)


def test_nothing_clicks_and_the_volume_is_kept() -> None:
    loud, soft = samples(rendered(EVERY["alarm"])), samples(rendered(EVERY["alarm"], 0.25))
    assert abs(loud[0]) + abs(loud[-1]) == 0
    assert np.abs(np.diff(loud)).max() < 32767 * 2 * np.pi * 440 / RATE_HZ * 1.05
    assert np.abs(soft).max() / np.abs(loud).max() == pytest.approx(0.25, abs=0.001)
    assert not samples(rendered(EVERY["alarm"], 0.0)).any()


# --- a face ------------------------------------------------------------------------------------------


class Player:
    """A program that notes down what it is asked to play."""

    def __init__(self, folder: Path, then: str = "") -> None:
        self._log = folder / "played"
        self._log.touch()
        self._kept = folder / "kept"
        self._kept.mkdir()
        self.program = folder / "player"
        self.program.write_text(
            f'#!/bin/sh\nn=$(wc -l < "{self._log}")\ncp "$1" "{self._kept}/$n" 2>/dev/null\n'
            f'echo "$1" >> "{self._log}"\n{then}\n'
        )
        self.program.chmod(0o755)

    @property
    def words(self) -> list[str]:
        return self._log.read_text().splitlines()

    @property
    def names(self) -> list[str]:
        """Which signals were played, by what is in the files."""
        known = {rendered(signal, 0.5): name for name, signal in EVERY.items()}
        return [known[(self._kept / str(n)).read_bytes()] for n in range(len(self.words))]


@asynccontextmanager
async def playing(
    service: Service, player: Player, voice: Player | None = None
) -> AsyncIterator[None]:
    async with asyncio.TaskGroup() as group:
        speaks = (str(voice.program),) if voice else ()
        made = Sound(service.desk, 0.5, (str(player.program),), speaks)
        task = group.create_task(made.run(), name="sound")
        yield
        task.cancel()


async def test_each_moment_is_heard_once_when_it_begins(tmp_path: Path) -> None:
    service, player = Service(), Player(tmp_path)
    async with playing(service, player):
        for view, count in ((scenes.TIGHTEN, 1), (scenes.TAKEN, 2), (scenes.QUESTION, 3)):
            await service.desk.tell([], view)
            await until(lambda n=count: len(player.words) == n)  # type: ignore[misc]
            await service.desk.tell([], view)
            await asyncio.sleep(0.1)
    assert player.names == ["hands", "taken", "question"]


async def test_a_reading_that_is_told_with_its_picture_is_heard_as_taken(tmp_path: Path) -> None:
    """The picture was heard before the event: what was just taken was said not to count."""
    service, player = Service(), Player(tmp_path)
    async with playing(service, player):
        await service.desk.tell([], scenes.REREADING)
        await until(lambda: len(player.words) == 1)
        await asyncio.sleep(
            5 * VIEW_EVERY_S
        )  # who waits for pictures and who waits for events both do
        await service.desk.tell([Event(1, 1, scenes.read_again(18.5))], scenes.LYING)
        await until(lambda: len(player.words) == 2)
    assert player.names == ["step", "taken"]


async def test_who_is_muted_hears_nothing_until_it_is_let(tmp_path: Path) -> None:
    service, player = Service(), Player(tmp_path, "exec sleep 60")
    async with asyncio.TaskGroup() as group:
        made = Sound(service.desk, 0.5, (str(player.program),))
        task = group.create_task(made.run(), name="sound")
        await service.desk.tell([], scenes.TIGHTEN)
        await until(lambda: len(player.words) == 1)
        playing_now = made._playing
        assert playing_now is not None
        made.mute(True)
        await until(playing_now.done)
        await service.desk.tell([], scenes.TAKEN)
        await asyncio.sleep(0.2)
        made.mute(False)
        await service.desk.tell([], scenes.QUESTION)
        await until(lambda: len(player.words) == 2)
        task.cancel()
    assert player.names == ["hands", "question"]


async def test_where_nothing_plays_whoever_relies_on_it_is_told_to_press(tmp_path: Path) -> None:
    """A device that is gone: said once, and the job goes on with a press a reading."""
    service, player = Service(), Player(tmp_path, "exit 1")
    views = [replace(scenes.SET, step=n, offers=("unheard",)) for n in range(1, 60)]
    async with playing(service, player):
        async with asyncio.timeout(20):
            for view in views:
                await service.desk.tell([], view)
                if service.asked:
                    break
                await asyncio.sleep(0.1)
    assert [(one.kind, one.client) for one in service.asked] == [("unheard", "sound")]
    assert "plays nothing" in str(service.asked[0].args["reason"])


async def test_who_comes_late_hears_the_alarm_and_hears_it_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        sounding, "_again", lambda signal, since_s: bool(signal.again_s) and since_s > 0.2
    )
    service, player = Service(), Player(tmp_path)
    await service.desk.tell([], scenes.ALARM)
    async with playing(service, player):
        async with asyncio.timeout(20):
            while len(player.words) < 3:
                await service.desk.tell([], scenes.ALARM)
                await asyncio.sleep(0.02)
    assert set(player.names) == {"alarm"}


async def test_the_leading_tone_leads_while_a_blade_is_turned(tmp_path: Path) -> None:
    service, player = Service(), Player(tmp_path)
    async with playing(service, player):
        async with asyncio.timeout(20):
            while "coarser" not in player.names:
                await service.desk.tell([], scenes.SET)
                await asyncio.sleep(0.02)
    assert set(player.names) <= {"step", "coarser"}  # the newest is heard, whatever still plays


async def test_a_voice_says_what_was_taken_after_its_tone(tmp_path: Path) -> None:
    service = Service()
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    player, voice = Player(tmp_path / "a"), Player(tmp_path / "b")
    async with playing(service, player, voice):
        await service.desk.tell([], scenes.ALARM)
        await until(lambda: bool(voice.words))
    assert voice.words[0].startswith("blade 1, moved")


async def test_a_player_that_hangs_is_ended_and_the_newest_is_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(module, "PLAYS_S", 0.2)
    service, player = Service(), Player(tmp_path, "exec sleep 60")
    async with playing(service, player):
        for number, view in enumerate((scenes.TAKEN, scenes.TIGHTEN, scenes.ALARM), 1):
            await service.desk.tell([], view)
            await until(lambda n=number: len(player.words) >= n)  # type: ignore[misc]
        await service.say(5)
    assert player.names[:3] == ["taken", "hands", "alarm"]
    assert service.desk.newest == 5


@pytest.mark.parametrize("then", ["exit 1", "kill -9 $$"])
async def test_a_player_that_plays_nothing_is_spoken_of_once(
    tmp_path: Path, then: str, caplog: pytest.LogCaptureFixture
) -> None:
    service, player = Service(), Player(tmp_path, then)
    async with playing(service, player):
        for number in range(6):
            await service.desk.tell([], (scenes.TAKEN, scenes.TIGHTEN)[number % 2])
            await asyncio.sleep(0.15)
        await until(lambda: "plays nothing" in caplog.text)
    assert caplog.text.count("plays nothing") == 1
    assert len(player.words) <= 4


async def test_without_a_player_the_work_goes_on() -> None:
    service = Service()
    await asyncio.wait_for(Sound(service.desk, 0.5, ()).run(), 5)
    missing = Sound(service.desk, 0.5, ("no-such-player",))
    async with asyncio.TaskGroup() as group:
        task = group.create_task(missing.run(), name="sound")
        await service.desk.tell([], scenes.ALARM)
        await service.say(3)
        task.cancel()
    assert service.desk.newest == 3


async def test_it_ends_with_the_session(tmp_path: Path) -> None:
    service, player = Service(), Player(tmp_path)
    async with asyncio.timeout(20), playing(service, player):
        summary = Summary("finished", [], None, None, None, None, [], [], 0)
        await service.desk.tell([Event(1, 1, summary)], scenes.FINISHED)
        await service.desk.close()
        await until(lambda: "the end" in player.names)


def test_the_first_program_that_is_installed_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: name if name == "aplay" else None)
    assert found(module.PLAYERS) == ("aplay", "-q")
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert found(module.PLAYERS) == ()


# --- the command --------------------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def _kept_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "_file", lambda: tmp_path / "config" / "sound.json")


def test_every_signal_is_played_with_its_meaning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    player = Player(tmp_path)
    monkeypatch.setattr(module, "PLAYERS", ((str(player.program),),))
    assert main(["sounds", "--volume", "50"]) == 0
    assert player.names == list(EVERY)
    printed = capsys.readouterr().out
    assert all(signal.means in printed for signal in EVERY.values())


def test_how_loud_is_kept_and_nothing_is_heard_at_nothing() -> None:
    assert command.kept() == command.DEFAULT
    assert main(["sounds", "--volume", "0", "--quiet"]) == 0
    assert command.kept() == 0
    assert command.sound_of(Service().desk) is None
    assert main(["sounds", "--volume", "101"]) == 2
    assert command.kept() == 0
    command._file().write_text("[")
    assert command.kept() == command.DEFAULT


@pytest.mark.parametrize("players", [(), (("false",),)])
def test_nothing_that_plays_is_said(
    players: tuple[tuple[str, ...], ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "PLAYERS", players)
    assert main(["sounds"]) == 3
