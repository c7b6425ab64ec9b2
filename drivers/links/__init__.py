"""Links: from the world to a sink, for ever, whatever fails on the way.

`keep` runs one level until it is cancelled. It never gives up and never lets an error of
the outside world through: what failed is the reason of `down`, a sentence with a remedy.
"""

from drivers.links.patience import PATIENT, Patience
from drivers.links.serial import keep_serial
from drivers.links.sink import Announcer, Sink
from shared.job import LevelEntry
from shared.profile import LevelProfile

__all__ = ["PATIENT", "Patience", "Sink", "keep"]


async def keep(
    entry: LevelEntry, profile: LevelProfile, sink: Sink, patience: Patience = PATIENT
) -> None:
    """Keep one level connected until cancelled; the link is the profile's.

    entry.port: stable link of the port, or the Bluetooth address.
    """
    announcer = Announcer(entry.name, sink)
    await keep_serial(entry, profile, announcer, patience)
