"""What stands between a session and its person: a screen, or lines in and out."""

import asyncio
import io
import logging
import signal
import sys
from collections.abc import Callable, Coroutine
from typing import Any, TypeVar

from daemon.shell.counter import Counter
from shared.events import Summary

T = TypeVar("T")


def until_stopped(work: Coroutine[Any, Any, T]) -> T | None:
    """Run to the end, or until SIGINT or SIGTERM; the record is closed in any case.

    Returns:
        What the work returned; None where it was stopped.
    """

    async def guarded() -> T:
        task = asyncio.current_task()
        if sys.platform != "win32" and task is not None:
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, task.cancel)
        return await work

    try:
        return asyncio.run(guarded())
    except asyncio.CancelledError:
        logging.getLogger("stillblade").info("stopped")
        return None


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
) -> None:
    """Show the session on a screen, or print it and take commands from standard input."""
    if headless:
        from daemon.cli.lines import Printer
        from daemon.cli.lines import headless as print_all

        here = sys.stdin is not None and not sys.stdin.closed
        commands = io.FileIO(sys.stdin.fileno(), closefd=False) if here else None
        await print_all(desk, Printer(sys.stdout, as_json=as_json), extra, commands)
        return
    from tui.app import StillbladeApp

    # Lines on standard error would run across the screen; the record has what matters.
    logging.getLogger().handlers.clear()
    logging.getLogger().addHandler(logging.NullHandler())
    await StillbladeApp(desk).run_async()
