"""Sound as a face: signals and the leading tone from a child process, a voice where there is one.

Nobody waits for it: without a player, without a device or with one that hangs the work goes on; that is said
once. What plays is a program of the system; its complaints are thrown away.
"""

import asyncio
import contextlib
import logging
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from uuid import uuid4

from daemon.faces.tones import rendered
from shared.desk import Desk
from shared.inputs import Command
from shared.signals import EVERY
from shared.sounding import Sounding
from shared.view import View

log = logging.getLogger(__name__)

PLAYERS: tuple[tuple[str, ...], ...] = (("pw-play",), ("paplay",), ("aplay", "-q"), ("afplay",))
VOICES: tuple[tuple[str, ...], ...] = (("espeak-ng", "-s", "150"), ("say",))
PLAYS_S = 3.0
"""A player that has not ended by then hangs."""
SPEAKS_S = 12.0
MOST_FAILURES = 3
ANSWER_S = 10.0


def found(programs: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    """Return the first program of these that is installed, with its options; () where none is."""
    return next((each for each in programs if shutil.which(each[0])), ())


class Sound:
    """Plays what a session gives to hear.

    Args:
        desk: what every face is given.
        volume: 0 to 1.
        player: program and options that play a file; () plays nothing.
        voice: program and options that speak their last word; () speaks nothing.
    """

    def __init__(
        self, desk: Desk, volume: float, player: tuple[str, ...], voice: tuple[str, ...] = ()
    ) -> None:
        self._desk = desk
        self._volume = volume
        self._player = player
        self._voice = voice
        self._sounding = Sounding()
        self._view: View | None = None
        self._folder = Path()
        self._muted = False
        self._failures = 0
        self._playing: asyncio.Task[None] | None = None

    async def run(self) -> None:
        """Play until the session is over."""
        if not self._player:
            log.info("no sound: no program plays it (Debian: apt install alsa-utils)")
            return
        with contextlib.ExitStack() as stack:
            try:
                folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="stillblade-"))
                self._folder = Path(folder)
            except OSError as error:
                log.warning("no sound: %s", error.strerror)
                return
            async with asyncio.TaskGroup() as group:
                listening = group.create_task(self._listen(), name="sound events")
                async for view in self._desk.views():
                    self._look(view, group)
                listening.cancel()

    def mute(self, muted: bool) -> None:
        """Be silent from here on, what plays now too; or be heard again."""
        self._muted = muted
        if muted and self._playing is not None:
            self._playing.cancel()

    async def _listen(self) -> None:
        async for event in self._desk.events(0):
            self._sounding.hear(event.body)

    def _look(self, view: View, group: asyncio.TaskGroup) -> None:
        """Begin what is to be heard now, if anything."""
        self._view = view
        cue = self._sounding.look(view, asyncio.get_running_loop().time())
        if cue is not None:
            self._begin(*cue, group)

    def _begin(self, name: str, words: str, group: asyncio.TaskGroup) -> None:
        """Play it, instead of what still plays: the newest matters."""
        if self._muted or self._failures >= MOST_FAILURES:
            return
        if self._playing is not None:
            self._playing.cancel()
        self._playing = group.create_task(self._play(name, words), name="sound")

    async def _play(self, name: str, words: str) -> None:
        path = self._folder / f"{name.replace(' ', '-')}.wav"
        good = await asyncio.to_thread(self._kept, name, path) and await ran(
            [*self._player, str(path)], PLAYS_S
        )
        self._failures = 0 if good else self._failures + 1
        if self._failures == MOST_FAILURES:
            log.warning("no sound: %s plays nothing; look at the screen", self._player[0])
            await self._unheard(f"{self._player[0]} plays nothing")
        if words and self._voice:
            await ran([*self._voice, words], SPEAKS_S)

    async def _unheard(self, reason: str) -> None:
        """Nobody may wait for a sound that does not come: every reading wants a press again."""
        view = self._view
        if view is None or "unheard" not in view.offers:
            return
        command = Command(uuid4().hex, "sound", view.seen, "unheard", {"reason": reason})
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(ANSWER_S):
                await self._desk.send(command)

    def _kept(self, name: str, path: Path) -> bool:
        """Have its file, made when it is first wanted; False where there is no room for it."""
        if path.exists():
            return True
        part = path.with_suffix(".part")
        try:
            part.write_bytes(rendered(EVERY[name], self._volume))
            part.replace(path)
        except OSError:
            return False
        return True


async def ran(words: list[str], seconds: float) -> bool:
    """Run a program to its end; False where it fails or hangs. A cancel ends it."""
    try:
        child = await asyncio.create_subprocess_exec(
            *words,
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
        )
    except OSError:
        return False
    try:
        async with asyncio.timeout(seconds):
            return await child.wait() == 0
    except TimeoutError:
        return False
    finally:
        if child.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                child.kill()
            await child.wait()
