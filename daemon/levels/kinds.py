"""`stillblade levels list`: what kinds of level there are."""

from typing import TextIO

from drivers import profiles


def list_kinds(out: TextIO) -> int:
    """Print every shipped profile: kind, what it reports, how it is connected, title."""
    for kind in profiles.names():
        profile = profiles.load(kind)
        print(
            f"{kind:14} {profile.convention:11} {profile.transport.link:11} {profile.title}",
            file=out,
        )
    return 0
