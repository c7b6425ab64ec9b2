"""What a command writes goes over no record; what cannot be written is said."""

import errno
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.cli.outputs import write_out
from daemon.session.recording import read
from daemon.session.store import Store
from shared.errors import OutsideError

GOLDEN = max((Path(__file__).parents[1] / "golden").glob("*.jsonl"))


@pytest.fixture
def text(tmp_path: Path) -> Path:
    path = tmp_path / "job.jsonl"
    path.write_bytes(GOLDEN.read_bytes())
    return path


@pytest.fixture
def session(tmp_path: Path) -> Path:
    recording, path = read(GOLDEN), tmp_path / "other.session"
    store = Store.create(path, recording.header)
    store.commit(recording.inputs, recording.events, recording.reach_ns)
    store.close()
    return path


@pytest.mark.parametrize("onto", ["text", "session"])
@pytest.mark.parametrize(
    "words",
    [
        ["export", "{text}", "--to", "csv", "--out", "{out}"],
        ["sheet", "{text}", "--html", "--out", "{out}"],
        ["history", "--folder", "{folder}", "--svg", "{out}"],
    ],
)
def test_no_record_is_written_over(
    words: list[str],
    onto: str,
    text: Path,
    session: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = {"text": text, "session": session}[onto]
    if words[0] == "history" and onto == "text":
        out = tmp_path / "linked.svg"
        out.symlink_to(session)
    before = out.read_bytes()
    given = {"text": text, "out": out, "folder": tmp_path}
    assert main([word.format(**given) for word in words]) == 2
    assert "a record is never written over" in capsys.readouterr().err
    assert out.read_bytes() == before


def test_where_nothing_can_be_written_is_said(
    text: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = tmp_path / "gone" / "it.csv"
    assert main(["export", str(text), "--to", "csv", "--out", str(gone)]) == 3
    assert "name another file: --out" in capsys.readouterr().err


def test_half_of_a_new_file_does_not_stay(tmp_path: Path) -> None:
    """On a full disk an empty job file stayed, and the next try was told that it is there already."""

    def parts() -> Iterator[bytes]:
        yield b"half"
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    out = tmp_path / "next.toml"
    with pytest.raises(OutsideError, match=r"next\.toml: No space left"):
        write_out(out, "--out", parts())
    assert not out.exists()
