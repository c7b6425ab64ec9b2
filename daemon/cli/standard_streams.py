"""The program's standard streams: closed, full or narrow ones are lived with, and said so."""

import contextlib
import io
import logging
import os
import sys

from shared.plain import plain, plain_lines


def mend() -> None:
    """A standard stream that was closed takes nothing; every other can write any character."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: PTH123, SIM115
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def flushed() -> int:
    """Write out what standard output still holds; 3 where it takes nothing more."""
    try:
        sys.stdout.flush()
    except OSError as error:
        if isinstance(sys.stdout, io.TextIOWrapper):
            # the interpreter flushes once more as it ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return failed(f"standard output takes nothing more: {error.strerror}", 3)
    return 0


def failed(words: object, code: int) -> int:
    """Say on standard error why the program ends; return its exit code."""
    with contextlib.suppress(OSError):
        print(f"stillblade: {plain_lines(str(words))}", file=sys.stderr, flush=True)
    return code


def log_plainly() -> None:
    """Send the log to standard error, one plain line an entry."""
    logging.basicConfig(stream=sys.stderr, level=logging.INFO)
    for handler in logging.getLogger().handlers:
        handler.setFormatter(_PlainFormatter("%(levelname)s %(name)s: %(message)s"))


class _PlainFormatter(logging.Formatter):
    """Log lines that no name from outside can break or colour."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - its name
        record.message = plain(record.message)
        return super().formatMessage(record)
