"""The log and a screen: no line of it runs across, and no warning is lost."""

import logging

import pytest

from daemon.cli.screen import KEPT, _log_kept


def test_warnings_come_once_the_screen_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lines: list[str] = []

    class Lines(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            lines.append(record.getMessage())

    root, log = logging.getLogger(), logging.getLogger("stillblade.test")
    monkeypatch.setattr(root, "handlers", [Lines()])
    monkeypatch.setattr(root, "level", logging.INFO)
    with _log_kept():
        log.info("told in the events as well")
        for number in range(KEPT + 2):
            log.warning("keep the journal %d", number)
        assert lines == []
    assert lines == [f"keep the journal {number}" for number in range(2, KEPT + 2)]
    log.info("goes on")
    assert lines[-1] == "goes on"
