"""The session file: recorded, replayed, put into words when damaged, and never lost."""

import dataclasses
import json
import random
import sqlite3
import zlib
from pathlib import Path
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.session import reader
from daemon.session.begin import sessions_of
from daemon.session.chunks import Packet, _crc, pack, unpack
from daemon.session.recording import Recording, read
from daemon.session.replay import replay, verify
from daemon.session.store import Store
from daemon.session.text import lines
from shared.errors import BadInputError
from shared.events import Body, Captured, Event, Learned, Unknown
from shared.inputs import Bytes, Clock, Command, End, Input, Link
from shared.messages import (
    body_from_dict,
    event_from_dict,
    event_line,
    event_to_dict,
    input_from_dict,
    input_to_dict,
)
from tests.daemon.bench import Person, header, sentence


@pytest.fixture(scope="module")
def person() -> Person:
    person = Person(header())
    person.up_to_round()
    person.round({"reference": -3.0, 1: 17.9, 2: 17.05})
    person.press("note", text="ruled a line — and a “quote”")
    person.put(Clock("2031-05-04T10:00:00+00:00", "boot", t_ns=person.t_ns + 5))
    person.end()
    return person


def stored(person: Person, path: Path) -> Path:
    """Write a session as the service does: commit by commit, each event with its inputs."""
    store = Store.create(path, person.header)
    events = iter([*person.events, None])
    event, waiting = next(events), []
    for item in person.inputs:
        waiting.append(item)
        due = []
        while event is not None and event.t_ns <= item.t_ns:
            due.append(event)
            event = next(events)
        if due:
            store.commit(waiting, due, item.t_ns)
            waiting = []
    store.commit(waiting, [], person.t_ns)
    store.close()
    return path


def texted(recording: Recording, path: Path) -> Path:
    path.write_text("\n".join(lines(recording)) + "\n", "utf-8")
    return path


def test_record_and_replay_are_identical(person: Person, tmp_path: Path) -> None:
    recording = read(stored(person, tmp_path / "a.session"))
    assert list(recording.inputs) == person.inputs
    assert recording.events == person.events
    assert replay(recording) == person.events
    assert verify(recording, replay(recording)).agrees
    assert recording.finished


def test_record_text_and_replay_are_identical(person: Person, tmp_path: Path) -> None:
    first = read(stored(person, tmp_path / "a.session"))
    second = read(texted(first, tmp_path / "a.jsonl"))
    assert second == dataclasses.replace(first, inputs=list(first.inputs))
    assert replay(second) == person.events
    assert list(lines(second)) == list(lines(first))


def test_one_plain_file_is_left(person: Person, tmp_path: Path) -> None:
    stored(person, tmp_path / "a.session")
    assert [path.name for path in tmp_path.iterdir()] == ["a.session"]


def test_a_verdict_that_was_altered_is_noticed(person: Person, tmp_path: Path) -> None:
    recording = read(stored(person, tmp_path / "a.session"))
    place = next(i for i, e in enumerate(recording.events) if isinstance(e.body, Captured))
    event = recording.events[place]
    altered = event_to_dict(event) | {"angle_deg": 12.5}
    recording.events[place] = event_from_dict(altered)
    found = verify(recording, replay(recording))
    assert not found.agrees
    assert f"event {event.n}" in found.say
    assert "angle_deg" in found.say


def test_other_rules_compare_angles_and_verdicts_only(person: Person, tmp_path: Path) -> None:
    recording = read(stored(person, tmp_path / "a.session"))
    recording.header = recording.header.model_copy(update={"rules": 999})
    found = verify(recording, replay(recording))
    assert found.agrees
    assert "rules 999" in found.say
    place = next(i for i, e in enumerate(recording.events) if e.body.event == "verdict")
    recording.events[place] = event_from_dict(
        event_to_dict(recording.events[place]) | {"state": "not known"}
    )
    assert not verify(recording, replay(recording)).agrees


def test_a_session_written_with_an_editor(tmp_path: Path) -> None:
    job = header().job.model_dump(mode="json")
    body = "IIXDR,A,5.00,D,BLADE"
    rows = [
        {"job": job},
        {"input": "link", "t_s": 0, "level": "chord", "state": "up"},
        {"input": "bytes", "t_s": 0.5, "level": "chord", "text": f"${body}*00\r\n"},
        {"input": "command", "t_s": 1, "id": "a", "client": "me", "seen": 2, "kind": "done"},
        {"input": "end", "t_s": 2.25},
    ]
    path = tmp_path / "by-hand.jsonl"
    path.write_text("\n".join(json.dumps(row) for row in rows), "utf-8")
    recording = read(path)
    kinds = [event.body.event for event in replay(recording)]
    assert kinds == ["opened", "step", "link", "refused", "step", "noted", "answered", "summary"]
    assert not verify(recording, replay(recording)).agrees, "nothing is recorded to compare with"


def by_hand(path: Path, *rows: dict[str, Any]) -> Path:
    """Write a session as with an editor, its header left out."""
    head = {"job": header().job.model_dump(mode="json")}
    path.write_text("\n".join(json.dumps(row) for row in (head, *rows)), "utf-8")
    return path


DONE: dict[str, Any] = {"input": "command", "t_s": 1.5, "id": "a", "client": "me", "kind": "done"}
ENDED: dict[str, Any] = {"input": "end", "t_s": 2.25}


def test_a_command_by_hand_need_not_say_what_was_seen(tmp_path: Path) -> None:
    path = by_hand(tmp_path / "a.jsonl", DONE, ENDED)
    answers = [e.body for e in replay(read(path)) if e.body.event == "answered"]
    assert [answer.result for answer in answers] == ["done"]  # type: ignore[union-attr]
    again = texted(read(path), tmp_path / "b.jsonl")
    assert list(read(again).inputs) == list(read(path).inputs)


@pytest.mark.parametrize("t_s", [1.5, 1.25])
def test_a_time_that_does_not_grow_is_refused_with_its_line(tmp_path: Path, t_s: float) -> None:
    link = {"input": "link", "t_s": t_s, "level": "chord", "state": "up"}
    path = by_hand(tmp_path / "a.jsonl", DONE, link, ENDED)
    with pytest.raises(BadInputError, match=rf"line 3: its time, {t_s:g} s.*1\.5 s of line 2"):
        read(path)
    kept = read(path, salvage=True)
    assert [type(item).__name__ for item in kept.inputs] == ["Command", "End"]


def test_a_missing_end_is_said_unless_the_time_reached_is_there(tmp_path: Path) -> None:
    path = by_hand(tmp_path / "a.jsonl", DONE)
    with pytest.raises(BadInputError, match=r'neither an input "end" nor reach_ns'):
        read(path)
    assert read(path, salvage=True).reach_ns == 1_500_000_000
    stopped = read(by_hand(tmp_path / "b.jsonl", DONE, {"reach_ns": 9_000_000_000}))
    assert stopped.reach_ns == 9_000_000_000


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("hello\n", "line 1"),
        ("[1]\n", "no header"),
        ('{"job": {}}\n', "line 1"),
        ('{"no": 1}\n', "no header"),
    ],
)
def test_a_file_that_is_no_session_is_refused_in_words(
    tmp_path: Path, text: str, words: str
) -> None:
    path = tmp_path / "wrong.jsonl"
    path.write_text(text, "utf-8")
    with pytest.raises(BadInputError, match=words):
        read(path)


def test_a_missing_file_and_a_foreign_database(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="cannot be read"):
        read(tmp_path / "absent")
    foreign = tmp_path / "foreign.session"
    sqlite3.connect(foreign).execute("CREATE TABLE t (x)").connection.close()
    with pytest.raises(BadInputError, match="not a session"):
        read(foreign)


def test_wrong_lines_are_named_and_the_rest_is_kept(person: Person, tmp_path: Path) -> None:
    good = read(stored(person, tmp_path / "a.session"))
    path = texted(good, tmp_path / "a.jsonl")
    rows = path.read_text("utf-8").splitlines()
    rows[5] = rows[5][:-4]
    rows[9] = '{"input": "shout", "t_ns": 5}'
    path.write_text("\n".join(rows), "utf-8")
    with pytest.raises(BadInputError, match=r"damaged.*line 6.*line 10"):
        read(path)
    saved = read(path, salvage=True)
    assert len(saved.inputs) == len(good.inputs) - 2
    assert saved.events == good.events


def test_a_flipped_bit_in_raw_data_is_named_and_the_rest_is_saved(
    person: Person, tmp_path: Path
) -> None:
    path = stored(person, tmp_path / "a.session")
    good = read(path)
    with sqlite3.connect(path) as database:
        key, data = database.execute("SELECT id, data FROM chunks ORDER BY id").fetchall()[3]
        flipped = bytes([*data[:9], data[9] ^ 4, *data[10:]])
        database.execute("UPDATE chunks SET data = ? WHERE id = ?", (flipped, key))
        database.execute("UPDATE events SET json = replace(json, 'held', 'hold') WHERE n = 20")
    database.close()
    with pytest.raises(BadInputError, match=r"raw data of chord.*checksum"):
        read(path)
    saved = read(path, salvage=True)
    assert 0 < len(saved.inputs) < len(good.inputs)
    assert len(saved.events) >= len(good.events) - 1


def test_a_file_cut_short_is_refused_and_what_is_there_is_saved(
    person: Person, tmp_path: Path
) -> None:
    path = stored(person, tmp_path / "a.session")
    data = path.read_bytes()
    for part in (0.95, 0.7, 0.4):
        path.write_bytes(data[: int(len(data) * part)])
        with pytest.raises(BadInputError, match="damaged"):
            read(path)
    path.write_bytes(data[: int(len(data) * 0.95)])
    saved = read(path, salvage=True)
    assert saved.inputs or saved.events
    assert saved.damage


@pytest.mark.parametrize("part", range(20, 100, 5))
def test_what_a_cut_file_lost_is_said_in_words(sound: bytes, tmp_path: Path, part: int) -> None:
    """SQLite may read a page that is not there as rows of nothing: nobody has a level named None."""
    path = tmp_path / "a.session"
    path.write_bytes(sound[: len(sound) * part // 100])
    try:
        damage = read(path, salvage=True).damage
    except BadInputError as error:
        damage = [str(error)]
    assert damage
    assert not [one for one in damage if "None" in one or "after -1" in one]


def test_what_is_no_session_at_all_is_said_without_the_parser(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear Sir\n", "utf-8")
    with pytest.raises(BadInputError) as caught:
        read(path)
    where = "its first line is not JSON (character 1)"
    assert str(caught.value) == f"{path}: line 1: not a session: {where}"


@pytest.fixture(scope="module")
def sound(person: Person, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a sound session file."""
    return stored(person, tmp_path_factory.mktemp("sound") / "a.session").read_bytes()


def read_whatever_is_there(data: bytes, path: Path) -> None:
    """Damage is refused in words or left out: no other error, and nothing hangs."""
    path.write_bytes(data)
    try:
        recording = read(path, salvage=True)
    except BadInputError:
        return
    assert len(list(lines(recording))) >= 2


@given(cuts=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=8))
@settings(max_examples=100, deadline=None)
def test_no_damage_escapes_as_another_error(
    sound: bytes, tmp_path_factory: pytest.TempPathFactory, cuts: list[tuple[int, int]]
) -> None:
    data = bytearray(sound)
    for place, value in cuts:
        data[place % len(data)] = value
    read_whatever_is_there(bytes(data), tmp_path_factory.getbasetemp() / "damaged.session")


@pytest.mark.long
def test_three_thousand_damaged_files(sound: bytes, tmp_path: Path) -> None:
    draw = random.Random(7)
    for _ in range(3000):
        data = bytearray(sound)
        for _ in range(draw.randint(1, 12)):
            place = draw.randrange(len(data)) if draw.random() < 0.7 else draw.randrange(400)
            data[place] = draw.randrange(256)
        keep = len(data) if draw.random() < 0.7 else draw.randrange(1, len(data))
        read_whatever_is_there(bytes(data[:keep]), tmp_path / "damaged.session")


CHUNKS = st.lists(
    st.tuples(st.integers(1, 10**10), st.integers(0, 255), st.binary(max_size=300)),
    min_size=1,
    max_size=30,
)


@given(rows=CHUNKS)
def test_packets_keep_chunks_as_they_were(rows: list[tuple[int, int, bytes]]) -> None:
    t_ns, chunks = 0, []
    for step, channel, data in rows:
        t_ns += step
        chunks.append(Bytes("chord", channel, data, t_ns))
    assert unpack(pack(chunks)) == chunks


def test_a_packet_that_would_fill_memory_is_refused() -> None:
    bomb = zlib.compress(bytes(40 * 1024 * 1024))
    crc = zlib.crc32(bomb, zlib.crc32(b"chord 0 1 "))
    with pytest.raises(ValueError, match="larger than any second"):
        unpack(Packet("chord", 0, 1, crc, bomb))


ARGS = st.dictionaries(st.text(max_size=5), st.integers() | st.text(max_size=9), max_size=3)
INPUTS = st.one_of(
    st.builds(Bytes, st.just("a"), st.integers(0, 9), st.binary(max_size=40), st.integers(0, 9)),
    st.builds(
        Link, st.just("a"), st.sampled_from(["up", "down"]), st.text(), st.text(), st.just(3)
    ),
    st.builds(
        Command,
        st.text(),
        st.text(),
        st.integers(0),
        st.sampled_from(["take", "note"]),
        ARGS,
        st.none() | st.integers(0),
        st.just(4),
    ),
    st.builds(Clock, st.text(), st.text(), st.just("suspend"), st.just(7)),
    st.builds(End, st.text(), st.just(8)),
)


@given(item=INPUTS)
def test_inputs_survive_the_text_form(item: Input) -> None:
    assert input_from_dict(json.loads(json.dumps(input_to_dict(item)))) == item


def test_events_survive_and_unknown_ones_are_kept(person: Person) -> None:
    for event in person.events:
        assert event_from_dict(json.loads(json.dumps(event_to_dict(event)))) == event
    later = {"n": 3, "t_ns": 5, "event": "of a later version", "x": [1, {"y": 2}]}
    kept = event_from_dict(later)
    assert kept == Event(3, 5, Unknown("of a later version", {"x": [1, {"y": 2}]}))
    assert event_to_dict(kept) == later
    body = body_from_dict({"event": "noted", "kind": "note", "say": "hi", "colour": "new field"})
    assert body == body_from_dict({"event": "noted", "kind": "note", "say": "hi"})


def test_an_existing_file_is_never_overwritten(person: Person, tmp_path: Path) -> None:
    path = stored(person, tmp_path / "a.session")
    before = path.read_bytes()
    with pytest.raises(BadInputError, match="already exists"):
        Store.create(path, person.header)
    assert path.read_bytes() == before


def filled(cls: type, number: int) -> Body:
    """Return an event of this kind with something of its type in every field."""
    hints = get_type_hints(cls)
    values = {
        field.name: something(hints[field.name], number)
        for field in dataclasses.fields(cls)
        if field.name != "event"
    }
    body: Body = cls(**values)
    return body


def something(hint: Any, number: int) -> Any:
    origin, args = get_origin(hint), get_args(hint)
    if origin is Literal:
        return args[-1]
    if origin in {Union, UnionType}:
        return something(args[0], number)
    if origin is tuple:
        return (something(args[0], number),)
    if origin in {list, dict}:
        inside = [] if Any in args else [something(one, number) for one in args]
        return ([*inside] if origin is list else dict([inside])) if inside else origin()
    return {int: number, float: number + 0.25, str: f"words {number}", bool: True}[hint]


def test_every_kind_of_event_survives_the_record_with_its_number() -> None:
    """No field of an event may be called as the number or the time of the event is."""
    for number, cls in enumerate(Event.BODIES, 3):
        event = Event(number, 5 * number, filled(cls, number))
        assert event_from_dict(json.loads(json.dumps(event_to_dict(event)))) == event
        line = json.loads(event_line(event))
        assert (line["n"], line["event"]) == (number, event.body.event)


def test_a_level_faster_than_its_profile_is_learned_and_replays(tmp_path: Path) -> None:
    person = Person(header())
    for step in range(400):
        person.t_ns += 40_000_000
        person.put(Bytes("chord", 0, sentence(10.0 + 0.01 * (step % 3)), person.t_ns))
    learned = person.said(Learned)[-1]
    assert learned.value == pytest.approx(25.0, rel=0.02)
    person.end()
    recording = read(stored(person, tmp_path / "a.session"))
    assert verify(recording, replay(recording)).agrees


def test_another_jobs_session_is_not_taken_for_ones_own(tmp_path: Path) -> None:
    for name in (
        "prop-two-20310504-101010",
        "prop-watch-20310504-101011",
        "prop-2-20310101-000000",
    ):
        (tmp_path / f"{name}.session").touch()
    assert sessions_of(tmp_path / "prop.toml") == []
    (tmp_path / "prop-20310504-090000.session").touch()
    (tmp_path / "prop-20310504-090001.session").touch()
    (tmp_path / "prop-20310504-080000-1.session").touch()
    found = [path.name for path in sessions_of(tmp_path / "prop.toml")]
    assert found == [
        "prop-20310504-080000-1.session",
        "prop-20310504-090001.session",
        "prop-20310504-090000.session",
    ]


def _packet(body: bytes, count: int = 1) -> Packet:
    data = zlib.compress(body)
    return Packet("chord", 0, count, _crc("chord", 0, count, data), data)


def test_a_packet_that_ends_in_the_middle_of_a_chunk_says_so() -> None:
    whole = zlib.decompress(pack([Bytes("chord", 0, b"12.5\r\n", 5)]).data)
    assert unpack(_packet(whole))[0].data == b"12.5\r\n"
    for end in range(1, len(whole) - 6):
        with pytest.raises(ValueError, match=r"middle of a chunk|chunks were written"):
            unpack(_packet(whole[:end]))


@pytest.mark.parametrize(("over", "refused"), [(0, False), (1, True)])
def test_no_second_of_a_level_unpacks_to_more_than_sixteen_mebibytes(
    over: int, refused: bool
) -> None:
    body = bytes(16 * 1024 * 1024 + over)
    with pytest.raises(ValueError, match="larger than any second" if refused else "were written"):
        unpack(_packet(body))


def test_a_broken_table_is_taken_up_behind_the_break(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is the first key after the break that reads, it is found; before it all of them do."""
    asked: list[int] = []
    for first in [*range(12, 60), 1000, 12345, 2**40]:

        def reads(*given: Any, first: int = first) -> bool:
            asked.append(given[-1])
            return not 10 < given[-1] < first

        monkeypatch.setattr(reader, "_reads", reads)
        asked.clear()
        assert reader._next_that_reads(None, "t", "n", 10) == first  # type: ignore[arg-type]
        assert len(asked) <= 2 * first.bit_length() + 4
    monkeypatch.setattr(reader, "_reads", lambda *given: given[-1] <= 10)
    assert reader._next_that_reads(None, "t", "n", 10) is None  # type: ignore[arg-type]
