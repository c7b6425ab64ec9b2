"""Which wire a level of the job has: one row a shipped kind of profile."""

from collections.abc import Callable

from shared.job import LevelEntry
from shared.samples import Role
from simulator.draws import Draws
from simulator.scenario import LevelTable
from simulator.wire import Wire
from simulator.wire.ble_notify import BleNotify
from simulator.wire.bthome import Bthome
from simulator.wire.framed_binary import FramedBinary
from simulator.wire.modbus_rtu import PolledUnit
from simulator.wire.nmea_xdr import NmeaXdr
from simulator.wire.text_line import TextLine, TextStyle

ROLES: dict[str, tuple[Role, ...]] = {
    "planar": ("angle",),
    "projection": ("angle",),
    "roll-pitch": ("roll", "pitch"),
    "vector": ("ax", "ay", "az"),
}
PACKETS = frozenset({"ble-notify", "bthome", "modbus-rtu"})
"""Kinds whose messages arrive whole: a packet is never cut nor joined to the next."""


def wire_of(entry: LevelEntry, table: LevelTable, draws: Draws) -> Wire:
    """Return what writes this level's samples.

    Raises:
        KeyError: the hangar knows no wire for this kind of profile.
    """
    return WIRES[entry.profile](entry, table, draws)


def _nmea_xdr(entry: LevelEntry, table: LevelTable, draws: Draws) -> Wire:
    fields = entry.settings["fields"]
    roles = ROLES[table.convention]
    if table.battery_percent is not None:
        roles = (*roles, "battery")
    if table.own_button:
        roles = (*roles, "button")
    sources = {role: str(fields[role]["source"]) for role in roles}
    return NmeaXdr(sources, table.resolution_deg, draws)


WIRES: dict[str, Callable[[LevelEntry, LevelTable, Draws], Wire]] = {
    "nmea-xdr": _nmea_xdr,
    "text-line": lambda _entry, _table, _draws: TextLine(TextStyle()),
    "framed-binary": lambda _entry, _table, _draws: FramedBinary(),
    "ble-notify": lambda _entry, _table, _draws: BleNotify(),
    "modbus-rtu": lambda _entry, _table, _draws: PolledUnit(),
    "bthome": lambda _entry, _table, _draws: Bthome(),
}
