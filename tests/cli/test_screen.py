"""The log and a screen: no line of it runs across, and no warning is lost."""

import asyncio
import logging
from pathlib import Path

import pytest

from daemon.cli.screen import KEPT, _log_kept, show
from daemon.session.recording import read
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from tests.daemon.bench import Person, header

GOLDEN = max((Path(__file__).parents[1] / "golden").glob("*.jsonl"))


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


@pytest.mark.parametrize("as_json", [True, False])
@pytest.mark.parametrize("ended", [True, False])
def test_a_job_that_ended_without_a_screen_is_offered_its_sheet_once(
    as_json: bool,
    ended: bool,
    caplog: pytest.LogCaptureFixture,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("sys.stdin", None)
    caplog.set_level(logging.INFO, "stillblade")
    whole = read(GOLDEN).events
    events = whole if ended else whole[:-1]

    async def shown() -> None:
        desk = Counter(Inbox(lambda: 0), events, Person(header()).engine.view())
        await desk.close()
        await show(desk, as_json=as_json, headless=True, record=Path("job-1.session"))

    asyncio.run(shown())
    offered = "as a page, for the file: stillblade sheet job-1.session"
    assert caplog.messages == [offered] * ended
    assert "stillblade sheet" not in capsys.readouterr().out


class Left:
    """A screen whose person leaves at once."""

    def __init__(self, desk: Counter, **more: object) -> None:
        del desk, more

    async def run_async(self) -> None:
        """Leave."""


@pytest.mark.parametrize(
    ("elsewhere", "says", "not_said"),
    [
        (True, "where the service runs", "nothing is kept"),
        (False, "nothing is kept; --session FILE", "where the service runs"),
    ],
)
def test_a_screen_that_was_attached_says_who_has_the_record(
    elsewhere: bool,
    says: str,
    not_said: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tui.app.StillbladeApp", Left)

    async def shown() -> None:
        desk = Counter(Inbox(lambda: 0), read(GOLDEN).events, Person(header()).engine.view())
        await desk.close()
        await show(desk, as_json=False, headless=False, elsewhere=elsewhere)

    asyncio.run(shown())
    said = capsys.readouterr().out
    assert says in said
    assert not_said not in said
