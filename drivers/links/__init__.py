"""Links: from the world to a sink, for ever, whatever fails on the way.

`keep` runs one level until it is cancelled. It never gives up and never lets an error of
the outside world through: what failed is the reason of `down`, a sentence with a remedy.
"""

from drivers.links.first_frame import FirstFrame
from drivers.links.patience import PATIENT, Patience
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
    announcer = Announcer(entry.name, sink, FirstFrame(profile, patience.unread_s))
    link = profile.transport.link
    # the libraries of a link load only where a level needs them: start-up time
    if link == "serial":
        from drivers.links.serial import keep_serial  # noqa: PLC0415

        await keep_serial(entry, profile, announcer, patience)
    elif link == "modbus":
        from drivers.links.modbus import keep_modbus  # noqa: PLC0415

        await keep_modbus(entry, profile, announcer, patience)
    else:
        await _keep_in_the_air(entry, profile, announcer, patience)


async def _keep_in_the_air(
    entry: LevelEntry, profile: LevelProfile, announcer: Announcer, patience: Patience
) -> None:
    from drivers.links.advert import keep_advert  # noqa: PLC0415
    from drivers.links.air import shared_air  # noqa: PLC0415
    from drivers.links.ble import keep_ble  # noqa: PLC0415

    if profile.transport.link == "ble-advert":
        await keep_advert(entry, profile, announcer, patience, shared_air())
    else:
        await keep_ble(entry, profile, announcer, patience, shared_air())
