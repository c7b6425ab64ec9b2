"""What stands between a session and its person: a screen, or lines in and out."""

import asyncio
import io
import logging
import sys
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from daemon.shell.counter import Counter
from shared.events import Summary
from shared.hands import Do
from shared.plain import plain
from shared.playback import Playback

log = logging.getLogger("stillblade")

KEPT = 100
"""So many of the newest warnings are kept while a screen is shown."""


def progress(at_ns: int, to_ns: int) -> None:
    """Say on a terminal how far a session that is taken up is rebuilt; a pipe wants no such line."""
    if sys.stderr.isatty():
        part = min(at_ns / to_ns, 1.0) if to_ns > 0 else 1.0
        print(f"\rtaking the session up: {part:4.0%}", end="\r", file=sys.stderr, flush=True)


async def show(
    desk: Counter,
    *,
    as_json: bool,
    headless: bool,
    extra: Callable[[Summary], dict[str, Any]] | None = None,
    record: Path | None = None,
    elsewhere: bool = False,
    about: Callable[[], str] = str,
    do: Do | None = None,
) -> None:
    """Show the session on a screen, or print it and take commands from standard input.

    What the session came to stays on the terminal when the screen has gone. record: where the
    session is kept. elsewhere: a service keeps it, and it does not say where. about: a line for the screen that explains this moment, "" for none.
    do: has the hands of a demo that is played do something.
    """
    if headless:
        from daemon.cli.lines import Printer
        from daemon.cli.lines import headless as print_all

        here = sys.stdin is not None and not sys.stdin.closed
        commands = io.FileIO(sys.stdin.fileno(), closefd=False) if here else None
        await print_all(desk, Printer(sys.stdout, as_json=as_json), extra, commands)
        offer_sheet(desk, record)
        return
    from daemon.cli.attachable import unharmed
    from daemon.cli.sounds import sound_of
    from tui.app import StillbladeApp

    with _log_kept():
        async with asyncio.TaskGroup() as group:
            sound = sound_of(desk)
            sounding = group.create_task(unharmed(sound), name="sound") if sound else None
            mute = sound.mute if sound else bool
            app = StillbladeApp(
                desk, about=about, do=do, mute=mute, leaving=_leaving(record, elsewhere=elsewhere)
            )
            await app.run_async()
            if sounding is not None:
                sounding.cancel()
    last = desk.since(0)[-1:]
    if last and isinstance(last[0].body, Summary):
        from daemon.cli.lines import Printer

        Printer(sys.stdout, as_json=False).tell(last[0], extra(last[0].body) if extra else None)
        print(
            "\n".join(
                plain(words) for words in ([ELSEWHERE] if elsewhere else what_follows(record))
            )
        )


async def play(playback: Playback, about: str) -> None:
    """Show a session that has been on a screen. about: what is to be known of its record.

    Raises:
        BadInputError: an input of it that no engine can take.
    """
    from tui.replaying import ReplayApp

    with _log_kept():
        error = await ReplayApp(playback, about).run_async()
    if error is not None:
        raise error


ELSEWHERE = "the record is where the service runs: stillblade sessions lists it there"


def _leaving(record: Path | None, *, elsewhere: bool) -> str:
    """Say what becomes of a job whose screen is left before its end."""
    if elsewhere:
        return "it goes on where it runs"
    return "nothing of it is kept" if record is None else "everything is on record"


def offer_sheet(desk: Counter, record: Path | None) -> None:
    """Name the command for the page of a session that has ended, in the log: nobody looks at a screen."""
    last = desk.since(0)[-1:]
    if record is not None and last and isinstance(last[0].body, Summary):
        log.info("as a page, for the file: stillblade sheet %s", record)


def what_follows(record: Path | None) -> list[str]:
    """Say where a session is kept, and which commands look at it again; None: it is kept nowhere."""
    if record is None:
        return ["nothing is kept; --session FILE keeps it, for the page: stillblade sheet FILE"]
    return [
        f"the record: {record}",
        f"as a page, for the file: stillblade sheet {record}",
        f"again on the screen, at any moment of it: stillblade replay {record}",
        f"whether it is still the same: stillblade replay {record} --verify",
        f"every line of it: stillblade text {record}",
        f"where the uncertainty comes from: stillblade budget {record}",
    ]


@contextmanager
def _log_kept() -> Iterator[None]:
    """Keep the log off a screen, where its lines would run across; its warnings come after."""
    root = logging.getLogger()
    before, kept = root.handlers[:], _Kept()
    root.handlers[:] = [kept]
    try:
        yield
    finally:
        root.handlers[:] = before
        for record in kept.newest:
            root.handle(record)


class _Kept(logging.Handler):
    """The newest warnings."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.newest: deque[logging.LogRecord] = deque(maxlen=KEPT)

    def emit(self, record: logging.LogRecord) -> None:
        self.newest.append(record)
