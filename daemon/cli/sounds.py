"""`stillblade sounds`: every signal with its meaning, and how loud they are."""

import json
from typing import TYPE_CHECKING

from daemon.cli.options import Flag, check

if TYPE_CHECKING:
    from pathlib import Path

    from daemon.faces.sound import Sound
    from shared.desk import Desk

DEFAULT = 70
"""Percent."""


def sounds(*, volume: int | None = None, quiet: Flag = False) -> int:
    """Play every signal and say what it means; keep how loud they are for every job.

    Exits with 3 where nothing plays them.

    Parameters
    ----------
    volume
        0 to 100; 0 is silent. It is kept.
    quiet
        Only say what there is.
    """
    import asyncio
    import sys

    from daemon.faces.sound import PLAYERS, found
    from shared.signals import EVERY

    check(volume is None or 0 <= volume <= 100, "--volume", f"{volume} is not between 0 and 100")
    if volume is not None:
        _keep(volume)
    player = found(PLAYERS)
    for name, signal in EVERY.items():
        print(f"{name:10}  {signal.means}", flush=True)
        if player and not quiet and not asyncio.run(_played(name, player)):
            print(f"{player[0]} plays nothing: is there a device?", file=sys.stderr)
            return 3
    if not player and not quiet:
        print("no program plays sounds (Debian: apt install alsa-utils)", file=sys.stderr)
        return 3
    return 0


async def _played(name: str, player: tuple[str, ...]) -> bool:
    import tempfile
    from pathlib import Path

    from daemon.faces.sound import PLAYS_S, ran
    from daemon.faces.tones import rendered
    from shared.signals import EVERY

    with tempfile.TemporaryDirectory(prefix="stillblade-") as folder:
        path = Path(folder) / "signal.wav"
        path.write_bytes(rendered(EVERY[name], kept() / 100))
        return await ran([*player, str(path)], PLAYS_S)


def sound_of(desk: "Desk") -> "Sound | None":
    """Return what plays a session's signals; None where nothing is to be heard."""
    volume = kept()
    if volume == 0:
        return None
    from daemon.faces.sound import PLAYERS, VOICES, Sound, found

    return Sound(desk, volume / 100, found(PLAYERS), found(VOICES))


def kept() -> int:
    """Return how loud signals are, in percent, as it was kept."""
    try:
        volume = json.loads(_file().read_text("utf-8"))["volume"]
    except (OSError, ValueError, KeyError, TypeError):
        return DEFAULT
    return volume if isinstance(volume, int) and 0 <= volume <= 100 else DEFAULT


def _keep(volume: int) -> None:
    _file().parent.mkdir(parents=True, exist_ok=True)
    _file().write_text(json.dumps({"volume": volume}), "utf-8")


def _file() -> "Path":
    from platformdirs import user_config_path

    return user_config_path("stillblade") / "sound.json"
