"""`stillblade levels listen ADDRESS`: services, characteristics, values; against a hostile stack.

The same over bleak's own Linux backend is in tests/radio.
"""

import asyncio
import io

import pytest

from daemon.levels.offers import Offers, listen_to
from drivers.links.services import Offered, short, standard_name
from drivers.links.uuids import long_uuid
from shared.plain import plainly
from tests.drivers.fake_air import World
from tests.drivers.test_ble_link import BATTERY, QUICK, UUID, A
from tests.faces.test_desk import until

# Assigned Numbers of the Bluetooth SIG, sections 3.4 (services) and 3.8 (characteristics),
# three of them from memory
ASSIGNED = [
    ("180f", "Battery Service"),
    ("2a19", "Battery Level"),
    ("2a29", "Manufacturer Name String"),
]


@pytest.mark.parametrize(("number", "name"), ASSIGNED)
def test_standard_numbers_have_their_names(number: str, name: str) -> None:
    assert standard_name(long_uuid(number)) == name
    assert short(long_uuid(number)) == number


@pytest.mark.parametrize("uuid", [UUID, long_uuid("fe2c"), long_uuid("0001"), "nonsense"])
def test_no_other_number_is_given_a_name(uuid: str) -> None:
    """Neither a maker's own, nor one that a company has been given."""
    assert standard_name(uuid) == ""


async def heard(world: World, seconds: float = 1.5) -> str:
    out = io.StringIO()
    level = next(iter(world.levels.values()))

    async def send() -> None:
        for value in range(200):
            level.notify(UUID, bytes([value]) + b"\x1b[2J 12.5")
            await asyncio.sleep(0.01)

    async with asyncio.TaskGroup() as group:
        tasks = [
            group.create_task(world.run(), name="advertise"),
            group.create_task(send(), name="send"),
        ]
        code = await listen_to(
            A, plainly(out), seconds, QUICK, air=world.air(), backend=world.client_class()
        )
        for task in tasks:
            task.cancel()
    assert code == 0
    return out.getvalue()


async def test_what_a_device_offers_and_says_is_told_and_moves_no_cursor() -> None:
    world = World()
    world.add(A, {UUID: b"", BATTERY: b"\x4b"}, name="level\x1b[31m")
    text = await heard(world)
    assert "connected: level\\x1b[31m" in text
    assert f"  {UUID}: read, notify, write" in text
    assert "  2a19 (Battery Level): read, notify, write" in text
    assert "2a19 (Battery Level)  4b" in text
    assert f"{UUID}  05 1b 5b 32 4a 20 31 32 2e 35  |··[2J 12.5|" in text
    assert "\x1b" not in text


async def test_a_characteristic_that_refuses_hides_no_other() -> None:
    from bleak.exc import BleakError

    world = World()
    world.add(A, {UUID: b"", BATTERY: b"\x4b"})
    world.trouble = {"start_notify": [BleakError("refused")], "read": [BleakError("no"), None]}
    assert "2a19 (Battery Level)  4b" in await heard(world)


async def test_a_lost_link_is_told_and_taken_up_again() -> None:
    world = World()
    level = world.add(A, {UUID: b"x"})

    async def lose() -> None:
        for _ in range(2):
            await until(lambda: any(one.is_connected for one in level.clients))
            level.lose_loudly()

    async with asyncio.TaskGroup() as group:
        group.create_task(lose(), name="lose")
        text = await heard(world, 2.5)
    assert text.count(f"the connection to {A} was lost") == 2, "the second was like the first"
    assert text.count("connected: level") >= 3
    assert text.count("service ") == 1


def test_a_value_that_reads_the_same_is_told_once() -> None:
    said: list[str] = []
    told = Offers(said.append, lambda: 0.0)
    one = Offered("180f", "Battery Service", "2a19", "Battery Level", ("read",))
    for data in (b"\x4b", b"\x4b", b"\x4a"):
        told.value(one, data, "read")
    assert [line.split()[-2:] for line in said] == [["4b", "|K|"], ["4a", "|J|"]]
    told.value(one, b"\x4a", "notified")
    assert told.values == 3
