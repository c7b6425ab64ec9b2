"""Which session is taken up: nothing of a start that was cut short may poison the job."""

import logging
import sqlite3
import tracemalloc
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from daemon.core.engine import Engine
from daemon.session import replay as replays
from daemon.session.begin import Begun, begin, only_one, sessions_of
from daemon.session.jobs import load_job
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from daemon.session.tables import crc_of
from shared.errors import BadInputError, OutsideError
from shared.events import Event, Held, Opened, Watched
from shared.inputs import Bytes, Clock, Input, Link
from tests.daemon.bench import Person
from tests.whole.program import JOB


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "bench.toml"
    path.write_text(
        JOB.replace("PORT", "/dev/null").replace("rate_hz = 50", "rate_hz = 10"), "utf-8"
    )
    return path


def begun(job: Path, started: str = "2031-05-04T09:00:00+00:00", **ways: Any) -> Begun:
    return begin(job, load_job(job), started, **ways)


class Sitting(Person):
    """A person at a session as `begin` gave it; every event is committed at once."""

    def __init__(self, begun: Begun) -> None:
        self._begun = begun
        self._fresh = not begun.before
        self._waiting: list[Input] = []
        super().__init__(begun.engine.header)

    def put(self, item: Input) -> list[Event]:
        self.engine = self._begun.engine
        if not self._fresh:
            self._fresh, self.t_ns = True, self._begun.reach_ns + 5_000_000_000
            item = Clock("2031-05-04T10:00:00+00:00", "boot", "resume", t_ns=self.t_ns)
        events = super().put(item)
        self._waiting.append(item)
        if events or len(self._waiting) > 100:
            self.settle(events)
        return events

    def settle(self, events: Sequence[Event] = ()) -> None:
        """Commit what waits."""
        self._begun.store.commit(self._waiting, events, self.t_ns)
        self._waiting.clear()


def worked(begun: Begun) -> Sitting:
    """Make safe, read the reference, set blade 1 and 2; the session stays unfinished."""
    person = Sitting(begun)
    person.up_to_round()
    person.settle()
    return person


def test_stopped_before_its_first_commit_it_is_a_new_session(job: Path) -> None:
    first = begun(job)
    first.store.close()
    again = begun(job)
    assert again.path == first.path
    assert again.before == [], "nothing was announced, so nothing is on record"
    person = worked(again)
    person.end()
    again.store.close()
    recording = read(again.path)
    assert [event.n for event in recording.events] == list(range(1, len(recording.events) + 1))
    assert isinstance(recording.events[0].body, Opened)
    assert verify(recording, replay(recording)).agrees


def test_a_session_has_its_name_only_when_it_is_whole(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever is cut off while it is made, a file that is called a session has its header."""
    seen: list[list[str]] = []
    rename = Path.rename

    def noted(path: Path, target: Path) -> Path:
        seen.append([one.name for one in job.parent.glob("bench-*")])
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", noted)
    made = begun(job)
    made.store.close()
    assert seen == [[]]
    assert read(made.path).header == made.engine.header


@pytest.mark.parametrize(
    "data", [b"", bytes(4096), "no tables"], ids=["no bytes", "zeros", "no tables"]
)
def test_what_a_start_left_behind_is_said_and_passed_over(
    job: Path, data: bytes | str, caplog: pytest.LogCaptureFixture
) -> None:
    kept = begun(job)
    worked(kept)
    kept.store.close()
    leftover = job.with_name("bench-29990101-000000-2.session")
    if isinstance(data, bytes):
        leftover.write_bytes(data)
    else:
        database = sqlite3.connect(leftover)
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA user_version = 1")
        database.close()
    with caplog.at_level(logging.WARNING):
        again = begun(job)
    again.store.close()
    assert again.path == kept.path
    assert leftover.name in caplog.text
    assert "passed over" in caplog.text


def test_a_session_without_a_readable_header_is_named_with_the_way_on(job: Path) -> None:
    first = begun(job)
    worked(first)
    first.store.close()
    data = bytearray(first.path.read_bytes())
    data[4096 : 2 * 4096] = bytes(4096)
    first.path.write_bytes(data)
    with pytest.raises(BadInputError, match="header") as caught:
        begun(job)
    assert first.path.name in str(caught.value)
    assert "--new" in str(caught.value)
    again = begun(job, new=True)
    again.store.close()
    assert first.path.read_bytes() == data


def test_a_clock_set_back_makes_no_new_session(job: Path) -> None:
    first = begun(job, "2031-05-04T12:00:00+00:00")
    worked(first).end()
    first.store.close()
    second = begun(job, "2031-05-04T09:00:00+00:00")
    worked(second)
    second.store.close()
    assert second.path != first.path
    for _ in range(3):
        again = begun(job, "2031-05-04T08:00:00+00:00")
        again.store.close()
        assert again.path == second.path


def test_two_starts_within_a_second_get_two_names(job: Path) -> None:
    made = [begun(job, new=True) for _ in range(11)]
    for one in made:
        one.store.close()
    assert sessions_of(job) == [one.path for one in reversed(made)]


def test_one_works_on_a_job_at_a_time_and_on_another_kind_of_it_meanwhile(job: Path) -> None:
    with only_one(job):
        with pytest.raises(BadInputError, match="another stillblade works on this job"):
            only_one(job).__enter__()
        with only_one(job, "read"):
            pass
    with only_one(job):
        pass


def test_a_folder_that_cannot_be_written_to_is_named(job: Path) -> None:
    beside = job / "bench.toml"
    with pytest.raises(OutsideError, match=f"cannot write beside {beside}"):
        only_one(beside).__enter__()


def test_a_session_named_by_an_older_version_comes_before(job: Path) -> None:
    made = begun(job)
    worked(made)
    made.store.close()
    old = job.with_name("bench-29310504-120000.session")
    made.path.rename(old)
    again = begun(job)
    again.store.close()
    assert again.path == old
    new = begun(job, new=True)
    new.store.close()
    assert sessions_of(job) == [new.path, old]


@pytest.mark.parametrize(("theirs", "ours"), [("read", "set"), ("set", "read")])
def test_a_session_of_another_kind_is_not_taken_up_whatever_the_files_are_called(
    job: Path, theirs: Any, ours: Any
) -> None:
    """Readings of bench.toml alone and the job bench-read.toml are called alike."""
    other = job.with_name("bench-read.toml")
    other.write_text(job.read_text("utf-8"), "utf-8")
    path = {"set": other, "read": job}
    first = begun(path[theirs], procedure=theirs)
    Sitting(first).carry(1)
    first.store.close()
    again = begun(path[ours], procedure=ours)
    again.store.close()
    assert again.path != first.path
    assert again.engine.header.procedure == ours
    assert not again.engine.header.continues


def test_nothing_is_taken_over_from_blades_that_were_set_to_another_angle(job: Path) -> None:
    first = begun(job)
    assert worked(first).said(Held)
    first.store.close()
    text = job.read_text("utf-8")
    assert "angle_deg = 20.0" in text
    job.write_text(text.replace("angle_deg = 20.0", "angle_deg = 21.0"), "utf-8")
    again = begun(job)
    again.store.close()
    assert again.path != first.path
    assert again.say == "new session"
    assert (again.engine.header.continues, again.engine.header.carried) == ("", {})


def test_what_is_held_goes_on_over_two_sessions_that_cannot_be_taken_up(job: Path) -> None:
    first = begun(job)
    worked(first)
    first.store.close()
    text, found = job.read_text("utf-8"), []
    for name in ("Called otherwise", "And otherwise again"):
        job.write_text(text.replace("Two blades on the bench", name), "utf-8")
        again = begun(job)
        Sitting(again).carry(1)
        again.store.close()
        found.append(again.engine.header)
    assert found[1].continues == found[0].session
    assert found[0].carried["blades"].keys() == {"1", "2"}
    assert found[1].carried == found[0].carried


def test_a_damaged_session_is_continued_with_what_is_sound(
    job: Path, caplog: pytest.LogCaptureFixture
) -> None:
    first = begun(job)
    person = worked(first)
    first.store.close()
    first.path.write_bytes(first.path.read_bytes()[:-4096])
    again = begun(job)
    again.store.close()
    header = again.engine.header
    assert header.continues == first.engine.header.session
    held = {str(body.blade): body.angle_deg for body in person.said(Held)}
    there = {number: blade["angle_deg"] for number, blade in header.carried["blades"].items()}
    assert there.items() <= held.items()
    assert there
    assert "damaged" in caplog.text


def test_an_unknown_key_in_a_header_is_a_sentence(job: Path) -> None:
    first = begun(job)
    first.store.close()
    with sqlite3.connect(first.path) as database:
        (text,) = database.execute("SELECT json FROM header").fetchone()
        text = '{"weather": "fair",' + text[1:]
        database.execute("UPDATE header SET json = ?, crc = ?", (text, crc_of(text)))
    database.close()
    with pytest.raises(BadInputError, match="weather"):
        read(first.path)


def test_a_watch_is_taken_up_again_and_knows_where_the_blade_stood(job: Path) -> None:
    """A blade moved by 1.5 between a kill and the next start does not go unsaid."""
    text = job.read_text("utf-8")
    job.write_text(text.replace('name = "chord"', 'name = "chord"\nrole = "watch"\nwatches = 1'))
    first = begun(job, procedure="watch")
    person = Sitting(first)
    person.lay(17.0, 900)
    person.settle()
    assert [w.state for w in person.said(Watched)] == ["quiet"]
    first.store.close()

    again = begun(job, procedure="watch")
    assert again.path == first.path
    later = Sitting(again)
    later.put(Link("chord", "up", "", "bench", t_ns=later.t_ns + 1))
    later.lay(18.5, 900)
    again.store.close()
    told = [w for w in later.said(Watched) if w.state == "changed"]
    assert [w.change_deg for w in told] == [pytest.approx(1.5, abs=0.05)]


def test_a_session_is_taken_up_with_one_pass_of_its_inputs_and_says_how_far_it_is(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sitting = Sitting(begun(job))
    sitting.carry(5)
    sitting.settle()
    sitting._begun.store.close()
    fed, told, feed = 0, [], Engine.feed

    def counted(engine: Engine, item: Input) -> list[Event]:
        nonlocal fed
        fed += 1
        return feed(engine, item)

    monkeypatch.setattr(Engine, "feed", counted)
    monkeypatch.setattr(replays, "TOLD_EVERY", 1)
    again = begun(job, told=lambda at_ns, to_ns: told.append((at_ns, to_ns)))
    again.store.close()
    recording = read(again.path)
    assert fed == len(recording.inputs) == len(told)
    assert told[-1] == (max(item.t_ns for item in recording.inputs), recording.reach_ns)


def test_what_is_read_of_a_session_keeps_no_raw_data_in_memory(job: Path) -> None:
    new = begun(job)
    chunks: list[Input] = [Bytes("chord", 0, b"%06d\r\n" % i, i * 10**8 + 1) for i in range(20_000)]
    new.store.commit(chunks, [], chunks[-1].t_ns)
    new.store.close()
    tracemalloc.start()
    recording = read(new.path)
    kept = tracemalloc.get_traced_memory()[0]
    held = list(recording.inputs)
    both = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert held == chunks
    assert kept < (both - kept) / 10


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"stillblade_job = 1\n[propeller\n", "not TOML"),
        (b"name = \xff", "not a text file in UTF-8"),
        (b"stillblade_job = 2", "stillblade_job"),
    ],
)
def test_a_job_file_that_cannot_be_used(tmp_path: Path, text: bytes, says: str) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(text)
    with pytest.raises(BadInputError, match=says):
        load_job(path)
