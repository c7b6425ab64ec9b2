"""Codecs, sans-I/O: bytes in, samples out. One file a format.

A codec is found by the name in a profile's `[format] codec`: "nmea-xdr" is the module
`drivers.codecs.nmea_xdr`. The module has two public names:

- `Options`, a `shared.model.Written` model of `[format.options]`;
- `make(profile, options)`, which returns a `shared.samples.Codec`.

So a new format is one new file here, and no other room changes. Channels from 250 on are the
same for every format: battery, signal strength and device information of a Bluetooth link.

What several formats share is in modules whose names begin with a line below; what of it is meant for
other rooms has its name here.
"""

import importlib
import pkgutil

from pydantic import ValidationError

from drivers.codecs._aside import BATTERY_CHANNEL, INFORMATION_CHANNEL, SIGNAL_CHANNEL, Aside
from drivers.codecs._checks import check, checks_of
from shared.errors import BadInputError
from shared.model import first_problem
from shared.profile import LevelProfile
from shared.samples import Codec

__all__ = [
    "BATTERY_CHANNEL",
    "INFORMATION_CHANNEL",
    "SIGNAL_CHANNEL",
    "check",
    "checks_of",
    "make",
    "names",
]


def names() -> list[str]:
    """Return the names of all codecs, sorted."""
    return sorted(
        info.name.replace("_", "-")
        for info in pkgutil.iter_modules(__path__)
        if not info.name.startswith("_")
    )


def make(profile: LevelProfile) -> Codec:
    """Return a fresh codec for one level of this profile.

    Raises:
        BadInputError: no such codec, or its options are wrong; says which key.
    """
    name = profile.format.codec
    if name not in names():
        raise BadInputError(
            f"profile {profile.kind}", "format.codec", f"no codec {name!r}", f"one of {names()}"
        )
    module = importlib.import_module(f"drivers.codecs.{name.replace('-', '_')}")
    try:
        options = module.Options.model_validate(profile.format.options)
    except ValidationError as error:
        key, problem, remedy = first_problem(error)
        where = f"profile {profile.kind}"
        raise BadInputError(where, f"format.options.{key}".rstrip("."), problem, remedy) from error
    codec: Codec = module.make(profile, options)
    return Aside(codec)
