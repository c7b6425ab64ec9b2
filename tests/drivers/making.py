"""Short ways to a profile and its codec, for tests."""

from typing import Any

from drivers import codecs, profiles
from shared.profile import LevelProfile
from shared.samples import Codec


def profile_of(kind: str, **tables: Any) -> LevelProfile:
    """A shipped profile with tables laid over it."""
    return profiles.overlay(profiles.load(kind), tables)


def bare_profile(
    codec: str, options: dict[str, Any], fields: dict[str, Any], **tables: Any
) -> LevelProfile:
    """A profile from nothing."""
    made = {
        "stillblade_profile": 1,
        "kind": "test",
        "title": "test",
        "convention": "planar",
        "format": {"codec": codec, "options": options},
        "fields": fields,
    }
    return profiles.from_tables(made | tables, "test")


def bare_codec(codec: str, options: dict[str, Any], fields: dict[str, Any], **tables: Any) -> Codec:
    """A codec of a profile from nothing."""
    return codecs.make(bare_profile(codec, options, fields, **tables))


def angles(codec: Codec, *chunks: bytes) -> list[float]:
    """The angles a codec makes of chunks on channel 0."""
    return [
        one.values["angle"]
        for chunk in chunks
        for one in codec.feed(0, chunk)
        if "angle" in one.values
    ]
