"""A face beside the job that fails where nobody foresaw it harms nothing; one that cannot begin is said."""

import asyncio
from pathlib import Path

import pytest

from daemon.cli.attachable import attachable, unharmed
from daemon.faces.addresses import address_of
from shared.errors import OutsideError
from tests.faces.hosts import Service


class Broken:
    """Fails as no face should."""

    def __init__(self, error: Exception) -> None:
        self._error = error

    async def run(self) -> None:
        """Fail in the middle of its work."""
        await asyncio.sleep(0)
        raise self._error


async def test_the_job_goes_on_without_a_face_that_failed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    service = Service()

    async def shown() -> None:
        await asyncio.sleep(0.05)
        await service.say(3)

    failed = ExceptionGroup("in a task", [ZeroDivisionError()])
    address = address_of(tmp_path / "job.toml")
    await attachable(service.desk, address, "a", shown(), others=[Broken(failed)])
    assert service.desk.newest == 3
    assert "broken has failed (ExceptionGroup); the job goes on without it" in caplog.text


async def test_a_face_that_cannot_begin_ends_what_asked_for_it() -> None:
    with pytest.raises(OutsideError, match="no page"):
        await unharmed(Broken(OutsideError("no page", "another address")))
