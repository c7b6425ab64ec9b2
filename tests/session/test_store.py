"""The session file while it is written: other programs, deletions, journals, flipped bits."""

import logging
import os
import random
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest

from daemon.session import opening
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from daemon.session.store import HeldError, Store
from daemon.session.tables import PAGE
from shared.errors import BadInputError, OutsideError
from shared.events import Event
from shared.inputs import Input
from tests.daemon.bench import Person, header


@pytest.fixture(scope="module")
def person() -> Person:
    person = Person(header())
    person.up_to_round()
    person.end()
    return person


Commit = tuple[list[Input], list[Event], int]


def commits(person: Person) -> list[Commit]:
    """The session as the service commits it: every event with the inputs up to its cause."""
    found: list[Commit] = []
    waiting: list[Input] = []
    events = [*person.events]
    for item in person.inputs:
        waiting.append(item)
        due = [event for event in events if event.t_ns <= item.t_ns]
        if due:
            found.append((waiting, due, item.t_ns))
            events, waiting = events[len(due) :], []
    return [*found, (waiting, [], person.t_ns)]


def written(person: Person, path: Path, upto: int | None = None) -> Store:
    store = Store.create(path, person.header)
    for one in commits(person)[:upto]:
        store.commit(*one)
        store.settle()
    return store


def test_a_new_file_has_its_name_and_its_folder_on_the_disk_before_anything_is_told(
    person: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file whose name is not on the disk is lost with the power (fsync(2))."""
    synced: list[list[str]] = []
    fsync = os.fsync

    def noted(descriptor: int) -> None:
        if stat.S_ISDIR(os.fstat(descriptor).st_mode):
            synced.append(sorted(path.name for path in tmp_path.iterdir()))
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", noted)
    store = Store.create(tmp_path / "a.session", person.header)
    assert synced == [["a.session"]]
    assert store.notices == ()
    (tmp_path / "a.session").unlink()
    store.commit(*commits(person)[0])
    assert len(synced) == 2
    assert "a.session" in synced[1]
    store.close()


def test_nothing_stays_of_a_start_that_was_cut_short(person: Person, tmp_path: Path) -> None:
    """A kill while it is made leaves the file under its other name, and its journal."""
    for name in (".a.session.making", ".a.session.making-journal"):
        (tmp_path / name).write_text("cut short")
    Store.create(tmp_path / "a.session", person.header).close()
    assert [path.name for path in tmp_path.iterdir()] == ["a.session"]


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files there")
def test_a_session_that_finds_no_room_is_not_there_and_leaves_nothing(
    person: Person, tmp_path: Path
) -> None:
    with files_of_at_most(PAGE), pytest.raises(OutsideError, match="cannot record"):
        Store.create(tmp_path / "a.session", person.header)
    assert list(tmp_path.iterdir()) == []


def test_what_was_opened_is_closed_again(person: Person, tmp_path: Path) -> None:
    path = tmp_path / "a.session"
    store = written(person, path, 3)
    looked_into(path)
    store.close()
    looked_into(path)


def looked_into(path: Path) -> None:
    with opening.opened(path) as found:
        assert found.database.execute("SELECT count(*) FROM events").fetchone()[0] > 0
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        found.database.execute("SELECT 1")


def test_a_commit_is_safe_before_it_is_moved_out_of_the_journal(
    person: Person, tmp_path: Path
) -> None:
    store = written(person, tmp_path / "a.session", 11)
    store.commit(*commits(person)[11])
    left = left_by_a_kill(tmp_path / "a.session", tmp_path / "left")
    store.close()
    assert len(read(left).events) == sum(len(one[1]) for one in commits(person)[:12])


def left_by_a_kill(path: Path, folder: Path) -> Path:
    """Copy a session as a kill leaves it: nothing is closed."""
    folder.mkdir()
    for one in path.parent.glob(f"{path.name}*"):
        if not one.name.endswith("-shm"):
            shutil.copy(one, folder / one.name)
    return folder / path.name


def a_whole_journal(person: Person, folder: Path) -> tuple[Path, Path]:
    """A killed session whose commits stand in its journal: another program was reading it."""
    path = folder / "a.session"
    store = written(person, path, 2)
    reader = sqlite3.connect(path)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM events").fetchone()
    for one in commits(person)[2:-1]:
        store.commit(*one)
    copy = left_by_a_kill(path, folder / "killed")
    reader.close()
    store.close()
    return copy, copy.with_name("a.session-wal")


def test_no_more_than_one_commit_hangs_on_the_journal(person: Person, tmp_path: Path) -> None:
    store = written(person, tmp_path / "a.session", 12)
    alone = tmp_path / "alone.session"
    shutil.copy(tmp_path / "a.session", alone)
    store.close()
    found = read(alone)
    assert found.events == person.events[: len(found.events)]
    assert len(found.events) == sum(len(one[1]) for one in commits(person)[:12])
    assert ["journal" in note for note in found.notes] == [True], "it says what may be missing"


def test_one_flipped_bit_in_the_journal_is_never_silent(person: Person, tmp_path: Path) -> None:
    path, wal = a_whole_journal(person, tmp_path)
    whole = read(path)
    whole.inputs = list(whole.inputs)  # before the file is spoiled
    assert len(whole.events) > 20
    assert not whole.notes
    data, draw = wal.read_bytes(), random.Random(3)
    for _ in range(100):
        at = draw.randrange(len(data))
        wal.write_bytes(data[:at] + bytes([data[at] ^ 1 << draw.randrange(8)]) + data[at + 1 :])
        found = read(path, salvage=True)
        assert found.damage or found.notes, at
        assert found.events == whole.events[: len(found.events)]


def test_one_flipped_bit_in_the_file_is_never_silent(person: Person, tmp_path: Path) -> None:
    path = tmp_path / "a.session"
    written(person, path).close()
    whole = read(path)
    whole.inputs = list(whole.inputs)  # before the file is spoiled
    data, draw = path.read_bytes(), random.Random(4)
    lost = 0
    for _ in range(100):
        at = draw.randrange(len(data))
        path.write_bytes(data[:at] + bytes([data[at] ^ 1 << draw.randrange(8)]) + data[at + 1 :])
        found = read(path, salvage=True)
        same = (list(found.inputs), found.events, found.reach_ns) == (
            whole.inputs,
            whole.events,
            whole.reach_ns,
        )
        assert found.damage or same, at
        lost += len(found.events) < len(whole.events) - 5
    assert lost <= 10, "one bit costs a row or a page, not the session"


def test_a_commit_that_was_cut_off_is_a_note_and_no_damage(person: Person, tmp_path: Path) -> None:
    path, wal = a_whole_journal(person, tmp_path)
    whole = read(path)
    whole.inputs = list(whole.inputs)  # before the file is spoiled
    wal.write_bytes(wal.read_bytes()[:-100])
    found = read(path)
    assert found.events == whole.events[: len(found.events)]
    assert len(found.events) < len(whole.events)
    assert "cut off" in found.notes[0]
    assert verify(found, replay(found)).agrees


@pytest.mark.parametrize("beside", ["no database", "a session"])
def test_of_a_journal_that_cannot_be_taken_in_every_commit_is_missed(
    person: Person, tmp_path: Path, beside: str
) -> None:
    """Two commits of a frame each (SQLite file format, 4.1), and a header of no journal."""
    path = tmp_path / "a.session"
    if beside == "a session":
        written(person, path).close()
    else:
        path.write_bytes(b"no database at all".ljust(2 * PAGE, b"x"))
    frame = (1).to_bytes(4, "big") + (2).to_bytes(4, "big") + bytes(16) + bytes(PAGE)
    path.with_name("a.session-wal").write_bytes(bytes(opening.WAL_HEADER) + 2 * frame)
    with opening.opened(path) as found:
        assert found.damage == ["the journal is broken: its last 2 commits cannot be read"]
        assert found.notes == []


def begun_again(person: Person, folder: Path, upto: int) -> tuple[Path, Path]:
    """A killed session whose journal was begun again in place: another program read the old one."""
    path = folder / "a.session"
    store = written(person, path, 2)
    for one in commits(person)[2:8]:
        store.commit(*one)
    reader = sqlite3.connect(path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM events").fetchone()
    store.settle()
    reader.close()
    for one in commits(person)[8:upto]:
        store.commit(*one)
    copy = left_by_a_kill(path, folder / "killed")
    store.close()
    return copy, copy.with_name("a.session-wal")


def test_what_is_left_of_a_journal_that_was_begun_again_is_no_damage(
    person: Person, tmp_path: Path
) -> None:
    """Frames of before stay behind the new ones (SQLite file format, 4.1)."""
    path, wal = begun_again(person, tmp_path, 9)
    assert wal.stat().st_size > 6 * PAGE
    found = read(path)
    assert found.notes == []
    assert len(found.events) == sum(len(one[1]) for one in commits(person)[:9])


@pytest.mark.parametrize("at", [8, 9, 15, 16, 30], ids=lambda at: f"byte {at} of a frame")
def test_the_last_frame_before_them_is_told_where_it_is_damaged(
    person: Person, tmp_path: Path, at: int
) -> None:
    """One flipped bit spoils one of its two salts at most: it is of now."""
    path, wal = begun_again(person, tmp_path, 9)
    data = bytearray(wal.read_bytes())
    starts = range(opening.WAL_HEADER, len(data), opening.FRAME_HEADER + PAGE)
    last = max(start for start in starts if data[start + 8 : start + 16] == data[16:24])
    data[last + at] ^= 1
    wal.write_bytes(data)
    found = read(path, salvage=True)
    assert found.damage or found.notes
    assert len(found.events) == sum(len(one[1]) for one in commits(person)[:8])


def test_behind_a_damaged_header_nobody_knows_what_is_of_before(
    person: Person, tmp_path: Path
) -> None:
    path, wal = begun_again(person, tmp_path, 9)
    data = bytearray(wal.read_bytes())
    data[20] ^= 1
    wal.write_bytes(data)
    damage = read(path, salvage=True).damage
    assert damage == ["the journal is broken: its last 6 commits cannot be read"]


def copying(
    monkeypatch: pytest.MonkeyPatch, before: Callable[[Path], object] = lambda _: None
) -> list[str]:
    """Names of the files as they are copied; `before` is called with each."""
    names: list[str] = []
    copyfile = shutil.copyfile

    def noted(source: Path, there: Path) -> object:
        names.append(source.name)
        before(source)
        return copyfile(source, there)

    monkeypatch.setattr(shutil, "copyfile", noted)
    return names


def test_only_what_has_a_journal_is_copied(
    person: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.session"
    store = written(person, path, 3)
    names = copying(monkeypatch)
    read(path)
    assert "a.session" in names
    store.close()
    names.clear()
    read(path)
    assert names == []


def test_a_session_that_is_closed_while_it_is_copied_is_read(
    person: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its journal is there when it is looked for, and gone when it is opened."""
    path = tmp_path / "a.session"
    store = written(person, path, 5)

    def closed(source: Path) -> None:
        if names.count("a.session-wal") == 1 and source.name == "a.session-wal":
            store.close()

    names = copying(monkeypatch, closed)
    found = read(path)
    assert names[:2] == ["a.session", "a.session-wal"]
    assert found.notes == []
    assert len(found.events) == sum(len(one[1]) for one in commits(person)[:5])


def test_a_session_that_never_stands_still_is_read_and_that_is_said(
    person: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.session"
    store = written(person, path, 3)
    later = iter(commits(person)[3:])

    def written_on(source: Path) -> None:
        if source == path:
            store.commit(*next(later))

    copying(monkeypatch, written_on)
    monkeypatch.setattr(opening, "TRIES", 2)
    found = read(path)
    store.close()
    assert [opening.NEVER_STILL in note for note in found.notes] == [True]


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files there")
def test_no_room_for_the_copy_is_no_fault_of_the_session(person: Person, tmp_path: Path) -> None:
    """The system may name the file that is read, though it is the copy that it has no room for."""
    path, _ = a_whole_journal(person, tmp_path)
    with files_of_at_most(PAGE), pytest.raises(OutsideError, match="no room to read"):
        read(path)


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """The system lets no file grow beyond, as where a disk is full."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_no_folder_for_the_copy_is_a_sentence(
    person: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _ = a_whole_journal(person, tmp_path)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(OutsideError, match="no room to read"):
        read(path)


def test_a_kill_while_closing_leaves_nothing_that_cannot_be_read(
    person: Person, tmp_path: Path
) -> None:
    """A hot journal: read-only opening cannot roll it back, so a copy is opened."""
    path = tmp_path / "a.session"
    written(person, path).close()
    whole = read(path)
    whole.inputs = list(whole.inputs)  # before the file is spoiled
    code = (
        "import os, sqlite3, sys; d = sqlite3.connect(sys.argv[1], isolation_level=None);"
        "d.execute('PRAGMA cache_size = 1'); d.execute('BEGIN');"
        "d.execute('UPDATE chunks SET data = zeroblob(3000)'); os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    journal = path.with_name("a.session-journal")
    assert journal.stat().st_size > 0
    before = path.read_bytes()
    for mode in (0o755, 0o555):
        tmp_path.chmod(mode)
        found = read(path)
        tmp_path.chmod(0o755)
        assert (list(found.inputs), found.events) == (whole.inputs, whole.events)
    assert path.read_bytes() == before, "reading changes nothing"
    Store.append(path).close()
    assert not journal.exists()
    found = read(path)
    found.inputs = list(found.inputs)
    assert found == whole


def test_a_session_is_read_while_it_runs_and_its_writer_is_not_held_up(
    person: Person, tmp_path: Path
) -> None:
    path = tmp_path / "a.session"
    store = Store.create(path, person.header)
    for number, one in enumerate(commits(person)[:40]):
        store.commit(*one)
        if number % 10 == 5:
            found = read(path)
            assert found.events == person.events[: len(found.events)]
            assert found.events[-1] == (one[1] or found.events)[-1]
    assert not store.held
    store.close()


def test_a_file_that_another_program_holds_is_said_at_once_and_nothing_is_half_written(
    person: Person, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "a.session"
    store = written(person, path, 3)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with caplog.at_level(logging.WARNING):
        for _ in range(3):
            with pytest.raises(HeldError, match="held by another program"):
                store.commit(*commits(person)[3])
    assert caplog.text.count("held by another program") == 1
    assert store.held
    other.execute("ROLLBACK")
    for one in commits(person)[3:]:
        store.commit(*one)
    other.close()
    store.close()
    assert read(path).events == person.events
    assert not store.held


def test_a_commit_that_the_disk_breaks_off_is_not_there_and_the_next_is(
    person: Person, tmp_path: Path
) -> None:
    path = tmp_path / "a.session"
    store = written(person, path, 3)

    def breaks() -> None:
        raise sqlite3.OperationalError("disk I/O error")

    for _ in range(2):
        with pytest.raises(OutsideError, match="disk I/O error"):
            store.commit(*commits(person)[3], breaks)
    for one in commits(person)[3:]:
        store.commit(*one)
    store.close()
    found = read(path)
    assert (found.events, found.damage) == (person.events, [])


def test_another_thread_may_write_what_one_began(person: Person, tmp_path: Path) -> None:
    store = Store.create(tmp_path / "a.session", person.header)
    with ThreadPoolExecutor(1) as writer:
        for one in commits(person):
            writer.submit(store.commit, *one).result()
    store.close()
    assert read(tmp_path / "a.session").events == person.events


def test_nothing_is_written_after_it_is_closed(person: Person, tmp_path: Path) -> None:
    store = written(person, tmp_path / "a.session", 3)
    store.close()
    with pytest.raises(OutsideError, match="closed"):
        store.commit(*commits(person)[3])


def test_a_reader_that_stays_does_not_make_closing_fail(
    person: Person, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "a.session"
    store = written(person, path, 3)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN")
    other.execute("SELECT count(*) FROM events").fetchone()
    for one in commits(person)[3:]:
        store.commit(*one)
    with caplog.at_level(logging.WARNING):
        store.close()
    assert "complete" in caplog.text
    assert read(path).events == person.events
    other.close()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be deleted there")
@pytest.mark.parametrize("what", ["file", "folder", "replaced"])
def test_a_session_deleted_while_it_runs_is_written_anew_and_said(
    person: Person, tmp_path: Path, what: str, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "jobs" / "a.session"
    path.parent.mkdir()
    store = written(person, path, 5)
    if what == "folder":
        shutil.rmtree(path.parent)
    else:
        path.unlink()
    if what == "replaced":
        path.write_text("somebody's own words")
    with caplog.at_level(logging.WARNING):
        store.commit(*commits(person)[5])
    assert "deleted or replaced" in caplog.text
    for one in commits(person)[6:]:
        store.commit(*one)
    store.close()
    found = read(store.path)
    assert list(found.inputs) == person.inputs
    assert found.events == person.events
    assert (store.path == path) == (what != "replaced")


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be deleted there")
@pytest.mark.parametrize("killed", [False, True], ids=["whole", "with a journal of its own"])
def test_a_session_put_in_place_of_the_one_that_is_recorded_stays_what_it_is(
    person: Person, tmp_path: Path, killed: bool
) -> None:
    """A journal beside a file is taken for that file's, whoever wrote it (SQLite file format, 4)."""
    kept, folder = tmp_path / "kept.session", tmp_path / "killed"
    written(person, kept, 11).close()
    if killed:
        folder.mkdir()
        kept = a_whole_journal(person, folder)[0]
    want = read(kept).events
    path = tmp_path / "a.session"
    store = written(person, path, 4)
    store.commit(*commits(person)[4])
    for file in kept.parent.glob(f"{kept.name}*"):
        file.replace(path.with_name(file.name.replace(kept.name, path.name)))
    for one in commits(person)[5:]:
        store.commit(*one)
    store.close()
    found = read(path)
    assert (found.events, found.notes) == (want, [])
    assert killed or [one.name for one in tmp_path.glob("a.session*")] == ["a.session"]
    assert read(store.path).events == person.events


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be deleted there")
def test_a_session_deleted_after_its_last_commit_is_written_anew_when_it_is_closed(
    person: Person, tmp_path: Path
) -> None:
    path = tmp_path / "a.session"
    store = written(person, path)
    path.unlink()
    store.close()
    assert read(path).events == person.events
    assert "all of it is now in" in store.notices[0]


def test_what_another_program_keeps_in_the_journal_is_said_until_it_lets_go(
    person: Person, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    store = written(person, tmp_path / "a.session", 3)
    other = sqlite3.connect(store.path, isolation_level=None)
    other.execute("BEGIN")
    other.execute("SELECT count(*) FROM events").fetchone()
    store.settle()
    assert list(store.notices) == [], "it reads what is in the file"
    for one in commits(person)[3:5]:
        store.commit(*one)
        store.settle()
        assert ["stays in its journal: another" in note for note in store.notices] == [True]
    assert caplog.text.count("stays in its journal") == 1
    other.execute("ROLLBACK")
    store.settle()
    assert list(store.notices) == []
    other.close()
    store.close()


@pytest.mark.parametrize("pages", [1, 2])
def test_a_file_short_by_a_page_gives_everything_else(
    person: Person, tmp_path: Path, pages: int
) -> None:
    path = tmp_path / "a.session"
    written(person, path).close()
    whole = read(path)
    whole.inputs = list(whole.inputs)  # before the file is spoiled
    path.write_bytes(path.read_bytes()[: -4096 * pages])
    with pytest.raises(BadInputError, match="ends short"):
        read(path)
    found = read(path, salvage=True)
    have = len(found.inputs) + len(found.events)
    assert have > 0.6 * (len(whole.inputs) + len(whole.events))


@pytest.mark.parametrize("at", [0, 3, 16, 18, 28, 56, 60, 68, 100, 105, 1000, 3900, 4095])
def test_a_spoiled_first_page_costs_nothing(person: Person, tmp_path: Path, at: int) -> None:
    path = tmp_path / "a.session"
    written(person, path).close()
    whole = read(path)
    whole.inputs = list(whole.inputs)  # before the file is spoiled
    data = path.read_bytes()
    path.write_bytes(data[:at] + bytes([data[at] ^ 0x41]) + data[at + 1 :])
    found = read(path, salvage=True)
    assert (found.header, list(found.inputs), found.events) == (
        whole.header,
        whole.inputs,
        whole.events,
    )


def test_a_session_that_is_gone_on_with_holds_all_that_it_says(
    person: Person, tmp_path: Path
) -> None:
    path = tmp_path / "a.session"
    written(person, path, 8).close()
    store = Store.append(path)
    for one in commits(person)[8:]:
        store.commit(*one)
    store.close()
    found = read(path)  # raises where the seal tells of other counts than there are
    assert not found.damage
    assert found.events == person.events


def test_a_file_without_a_seal_is_read_and_gone_on_with(person: Person, tmp_path: Path) -> None:
    """Sessions written before there were seals stay what they were."""
    from daemon.session.tables import OLDEST, crc_of, statements

    path = tmp_path / "a.session"
    made = written(person, path, 8)
    made.close()
    with sqlite3.connect(path) as database:
        database.execute("DROP TABLE seal")
        database.execute("DELETE FROM header WHERE rowid = 2")
    database.close()
    assert set(statements(OLDEST)) == {"header", "chunks", "inputs", "events", "reach"}
    assert crc_of("") == 0
    old = read(path)
    assert not old.damage
    store = Store.append(path)
    for one in commits(person)[8:]:
        store.commit(*one)
    store.close()
    assert read(path).events == person.events


def test_an_event_that_is_missing_from_a_file_without_a_seal_is_damage(
    person: Person, tmp_path: Path
) -> None:
    path = tmp_path / "a.session"
    written(person, path, 8).close()
    with sqlite3.connect(path) as database:
        database.execute("DROP TABLE seal")
        database.execute("DELETE FROM header WHERE rowid = 2")
        database.execute("DELETE FROM events WHERE n = 2")
    database.close()
    assert read(path, salvage=True).damage == ["event 2 is missing"]


@pytest.mark.parametrize("more", [0, 1])
def test_a_file_larger_than_any_session_is_refused_before_it_is_copied(
    person: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: int
) -> None:
    path, _ = a_whole_journal(person, tmp_path)
    names = copying(monkeypatch)
    monkeypatch.setattr(opening, "LARGEST_FILE", path.stat().st_size - more)
    if not more:
        assert read(path).events
        return
    with pytest.raises(BadInputError, match="larger than any session"):
        read(path)
    assert names == []
