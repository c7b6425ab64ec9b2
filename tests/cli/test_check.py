"""`stillblade check`: each fault has its finding and its remedy; a real run on this machine."""

import asyncio
import errno
import json
import os
import re
import shutil
import socket
import sqlite3
import sys
import tempfile
from collections import namedtuple
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import serialx
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
)

from daemon.cli import findings
from daemon.cli.check import check
from daemon.cli.findings import Finding
from daemon.core.foretold import Foretold
from daemon.faces import mqtt
from daemon.faces.mqtt import Access
from daemon.session import probe
from daemon.session.probe import Disk, tried
from drivers.links import air as air_module
from drivers.links import tried as links
from drivers.links.patience import Patience
from shared.errors import BadInputError
from shared.job import Broker, LevelEntry
from shared.profile import Transport
from tests.drivers.fake_air import World
from tests.faces.mosquitto import Mosquitto, free_port
from tests.whole.program import JOB

if sys.platform == "win32":
    collect_ignore = ["test_check.py"]

NOW = datetime(2031, 5, 4, 10, 0, tzinfo=UTC)
QUICK = Patience(call_s=0.3, close_s=0.3)
GB = 1_000_000_000


# --- clock ----------------------------------------------------------------------------------


def test_a_clock_that_was_never_set() -> None:
    found = findings.of_clock(datetime(1970, 1, 1, 0, 3, tzinfo=UTC), None)
    assert (found.state, "1970" in found.say, "set" in found.remedy) == ("wrong", True, True)


def test_a_clock_that_was_set_back() -> None:
    found = findings.of_clock(NOW, NOW + timedelta(days=3))
    assert (found.state, "a file here is of 2031-05-07" in found.say) == ("wrong", True)


def test_a_clock_that_is_right() -> None:
    assert findings.of_clock(NOW, NOW + timedelta(minutes=5)).state == "good"
    assert findings.of_clock(NOW, None) == Finding(
        "clock", "good", "the clock says 2031-05-04 10:00+00:00"
    )


# --- disk -----------------------------------------------------------------------------------


def test_a_good_disk_is_left_as_it_was(tmp_path: Path) -> None:
    found = tried(tmp_path)
    assert (found.why_not, list(tmp_path.iterdir())) == ("", [])
    assert findings.of_disk(found).state == "good"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    found = findings.of_disk(tried(tmp_path / "gone"))
    assert (found.state, "make it" in found.remedy) == ("wrong", True)


def test_a_full_disk() -> None:
    found = findings.of_disk(Disk(Path("jobs"), 0, "database or disk is full"))
    assert (found.state, found.remedy) == ("wrong", "make room on the disk")


def test_a_disk_that_is_nearly_full() -> None:
    found = findings.of_disk(Disk(Path("jobs"), 150_000_000))
    assert (found.state, found.say) == ("wrong", "150 MB are free in jobs")
    assert "make room" in found.remedy


@pytest.mark.parametrize("number", [errno.EACCES, errno.EROFS])
def test_a_folder_that_may_not_be_written_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    def refused(*_: object) -> Any:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(tempfile, "mkstemp", refused)
    found = findings.of_disk(tried(tmp_path))
    assert (found.state, os.strerror(number) in found.say) == ("wrong", True)
    assert "you may write to" in found.remedy


def test_a_disk_that_cannot_be_synced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fsync", fails)
    found = findings.of_disk(tried(tmp_path))
    assert (found.state, os.strerror(errno.EIO) in found.say) == ("wrong", True)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_no_database_works_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As some network disks, which have no locks or no shared memory."""

    def fails(_: Path) -> sqlite3.Connection:
        raise sqlite3.OperationalError("locking protocol")

    monkeypatch.setattr(probe, "writable", fails)
    found = findings.of_disk(tried(tmp_path))
    assert (found.state, "locking protocol" in found.say) == ("wrong", True)
    assert "a disk of this machine" in found.remedy


# --- ports ----------------------------------------------------------------------------------


def entry(where: str) -> LevelEntry:
    return LevelEntry(name="chord", profile="nmea-xdr", port=where)


async def of_port(where: str) -> Finding:
    return findings.of_port(where, await links.port_trouble(entry(where), Transport(), QUICK))


async def test_no_port_given_and_a_port_that_is_not_there(tmp_path: Path) -> None:
    found = await of_port("")
    assert (found.state, "no port is given" in found.say) == ("wrong", True)
    found = await of_port(str(tmp_path / "ttyUSB7"))
    assert (found.state, "is not there" in found.say) == ("wrong", True)
    assert found.remedy.startswith("plug the level")


@pytest.mark.parametrize(
    ("number", "say", "remedy"),
    [
        (errno.EBUSY, "in use by another program", "close that one"),
        (errno.EACCES, "no permission to open", "join group|ask for"),
        (errno.EPROTO, "cannot be used", "plug it in again"),
    ],
)
async def test_a_port_that_does_not_open(
    monkeypatch: pytest.MonkeyPatch, number: int, say: str, remedy: str
) -> None:
    async def refused(*_: object, **__: object) -> Any:
        raise OSError(number, os.strerror(number), "/dev/null")

    monkeypatch.setattr(serialx, "create_serial_connection", refused)
    found = await of_port("/dev/null")
    assert (found.state, say in found.say) == ("wrong", True)
    assert any(one in found.remedy for one in remedy.split("|"))


async def test_a_port_that_gives_no_answer_is_not_called_wrong(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def hangs(*_: object, **__: object) -> Any:
        await asyncio.Event().wait()

    monkeypatch.setattr(serialx, "create_serial_connection", hangs)
    found = await of_port("/dev/null")
    assert (found.state, "did not answer" in found.say) == ("unknown", True)


async def test_without_a_job_every_port_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    Listed = namedtuple("Listed", "device")  # noqa: PYI024 - all that is read of it

    async def two() -> list[Listed]:
        return [Listed("/dev/ttyGONE0"), Listed("/dev/ttyGONE1")]

    monkeypatch.setattr(serialx, "async_list_serial_ports", two)
    found = await links.ports_with_trouble(QUICK)
    assert [where for where, _ in found] == ["/dev/ttyGONE0", "/dev/ttyGONE1"]
    assert all("is not there" in trouble for _, trouble in found)
    assert findings.of_no_ports().state == "wrong"


# --- Bluetooth ------------------------------------------------------------------------------


def off(reason: BleakBluetoothNotAvailableReason) -> Exception:
    return BleakBluetoothNotAvailableError("", reason)


WHY = BleakBluetoothNotAvailableReason


@pytest.mark.parametrize(
    ("trouble", "say", "remedy"),
    [
        (FileNotFoundError(errno.ENOENT, "no bus"), "no system D-Bus", "start dbus"),
        (PermissionError(errno.EACCES, "no"), "no permission", "join|group bluetooth"),
        (
            BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", []),
            "service is not running",
            "start bluetooth",
        ),
        (off(WHY.NO_BLUETOOTH), "no Bluetooth adapter", "plug one in"),
        (off(WHY.POWERED_OFF), "Bluetooth is off", "switch it on"),
    ],
)
async def test_what_may_be_wrong_with_bluetooth(
    monkeypatch: pytest.MonkeyPatch, trouble: Exception, say: str, remedy: str
) -> None:
    world = World()
    world.trouble["scan"] = [trouble]
    found = findings.of_bluetooth(await tried_air(world, monkeypatch))
    assert (found.state, say in found.say) == ("wrong", True)
    assert any(one in found.remedy for one in remedy.split("|")), found.remedy


async def test_bluetooth_that_works_or_gives_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    world = World()
    assert findings.of_bluetooth(await tried_air(world, monkeypatch)).state == "good"
    world.trouble["scan"] = ["hang"]
    assert findings.of_bluetooth(await tried_air(world, monkeypatch)).state == "unknown"


async def tried_air(world: World, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(air_module, "shared_air", world.air)
    return await links.air_trouble(0.01, QUICK)


# --- broker -----------------------------------------------------------------------------------


def access(port: int, **more: Any) -> Access:
    return Access(Broker(host="127.0.0.1", port=port, **{"anonymous": True, **more}), Path())


async def test_a_broker_that_is_not_there() -> None:
    found = findings.of_broker("x:1", await mqtt.trouble(access(free_port())))
    assert (found.state, "Connection refused" in found.say) == ("wrong", True)
    assert "start it" in found.remedy


async def test_a_broker_that_gives_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mqtt, "ANSWER_S", 0.3)
    with socket.socket() as mute:
        mute.bind(("127.0.0.1", 0))
        mute.listen()
        found = findings.of_broker("x:1", await mqtt.trouble(access(mute.getsockname()[1])))
    assert (found.state, "did not answer" in found.say) == ("unknown", True)


@pytest.mark.real
def test_a_broker_that_works_and_one_that_does_not_want_us(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: name)
    with Mosquitto() as good, Mosquitto("max_keepalive 60") as strict:
        for made, code in ((good, 0), (strict, 1)):
            master, slave = os.openpty()
            path = tmp_path / "bench.toml"
            table = f'[broker]\nhost = "127.0.0.1"\nport = {made.port}\nanonymous = true\n'
            path.write_text(JOB.replace("PORT", os.ttyname(slave)) + table)
            assert check(path, json_=True) == code
            os.close(master)
            os.close(slave)
            last = json.loads(capsys.readouterr().out.splitlines()[-1])
            assert (last["what"], last["state"]) == ("broker", "wrong" if code else "good")
    assert "Not authorized" in last["say"] or "not authorised" in last["say"].lower()
    assert "user" in last["remedy"]


# --- sound, and the whole ---------------------------------------------------------------------


def test_sound() -> None:
    assert findings.of_sound("aplay").state == "good"
    found = findings.of_sound("")
    assert (found.state, "install" in found.remedy) == ("wrong", True)


@pytest.mark.parametrize(
    ("states", "code"),
    [
        (["good", "good"], 0),
        (["good", "wrong"], 1),
        (["unknown", "wrong"], 1),
        (["unknown", "good"], 3),
    ],
)
def test_the_exit_code(states: list[Any], code: int) -> None:
    assert findings.exit_code([Finding("x", state, "") for state in states]) == code


def test_a_job_on_a_wire_wants_no_bluetooth(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: name)
    path = tmp_path / "bench.toml"
    path.write_text(JOB.replace("PORT", str(tmp_path / "ttyUSB7")))
    assert check(path, json_=True) == 1
    rows = [json.loads(row) for row in capsys.readouterr().out.splitlines()]
    assert {row["what"]: row["state"] for row in rows} == {
        "clock": "good",
        "disk": "good",
        "sound": "good",
        "readings": "good",
        "port": "wrong",
    }
    assert all(row["remedy"] for row in rows if row["state"] == "wrong")


def test_a_job_that_cannot_be_read_is_bad_input(tmp_path: Path) -> None:
    with pytest.raises(BadInputError):
        check(tmp_path / "gone.toml")


def test_all_is_well_where_all_is_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pseudo-terminal is a port that opens (real, nothing faked but the player)."""
    monkeypatch.setattr(shutil, "which", lambda name: name)
    master, slave = os.openpty()
    try:
        path = tmp_path / "bench.toml"
        path.write_text(JOB.replace("PORT", os.ttyname(slave)))
        assert check(path) == 0
    finally:
        os.close(master)
        os.close(slave)
    out = capsys.readouterr().out
    assert out.count("good ") == 5
    assert re.search(r"about \d+( to \d+)? readings if nothing moves", out)


def test_limits_narrower_than_the_readings_tell_are_wrong_before_the_work_begins() -> None:
    assert findings.of_readings(Foretold(11, 13, provable=True)).state == "good"
    found = findings.of_readings(Foretold(11, 13, provable=False))
    assert found.state == "wrong"
    assert "about 11 to 13 readings" in found.say
    assert "spread_deg" in found.remedy
