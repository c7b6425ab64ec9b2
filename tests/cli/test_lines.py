"""Lines in and lines out: bytes from strangers are named and do nothing, and intake goes on."""

import asyncio
import io
import json
import logging
import threading
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.cli import lines as module
from daemon.cli.lines import Printer, headless
from daemon.core.engine import Engine
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from shared.errors import OutsideError
from shared.events import Answered, Event, Noted, Summary
from shared.inputs import Command
from shared.messages import command_from_line, input_from_dict
from shared.plain import plain, plain_json, plain_lines
from tests.daemon.bench import Person, header

STRANGE = {
    "1e999 for a blade": b'{"kind": "name", "args": {"blade": 1e999}}',
    "-1e999 for a reading": b'{"kind": "withdraw", "args": {"id": -1e999}}',
    "deep": b"[" * 60_000,
    "deep in an object": b'{"kind": "note", "args": ' + b"[" * 50_000,
    "longer than a line": b"[" * 200_000,
    "a byte that is no UTF-8": b'{"kind": "note", "args": {"text": "\xff"}}',
    "zero bytes": bytes(50),
    "half a character": rb'{"kind": "note", "args": {"text": "\ud800"}}',
    "half a character in a key": rb'{"kind": "note", "args": {"\udc80": "x"}}',
    "NaN": b'{"kind": "name", "args": {"blade": NaN}}',
    "a number of 10,000 digits": b'{"kind": "name", "args": {"blade": 1' + b"0" * 10_000 + b"}}",
    "part of a blade": b'{"kind": "set", "args": {"blade": 2.7}}',
    "part of a reading": b'{"kind": "withdraw", "args": {"id": 3.5}}',
    "no object": b"7",
    "nothing for a blade": b'{"kind": "name", "args": {"blade": null}}',
    "an unknown kind": b'{"kind": "\\u001b[31m"}',
}


@pytest.mark.parametrize("line", STRANGE.values(), ids=STRANGE.keys())
def test_a_strange_line_is_refused_in_a_short_sentence(line: bytes) -> None:
    with pytest.raises(ValueError, match=r".") as caught:
        command_from_line(line, 3, "stdin")
    assert len(str(caught.value)) < 600
    for of_the_language in ("codec", "char 0", "b'", "sys.", ".str"):
        assert of_the_language not in str(caught.value)


def test_a_blade_is_a_whole_number_however_it_is_written() -> None:
    """Blade 2.7 was taken for blade 2, and set again."""
    line = b'{"kind": "set", "args": {"blade": %s}}'
    with pytest.raises(ValueError, match=r"args\.blade: 2\.7 is no whole number"):
        command_from_line(line % b"2.7", 3, "stdin")
    given = [command_from_line(line % one, 3, "stdin").args["blade"] for one in (b"2", b"2.0")]
    assert given == [2, 2]


@pytest.mark.parametrize("line", STRANGE.values(), ids=STRANGE.keys())
async def test_intake_goes_on_after_a_strange_line(
    line: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    inbox, desk = a_desk()
    stream = io.BytesIO(line + b'\n{"kind": "note", "args": {"text": "still here"}}\n')
    with caplog.at_level(logging.ERROR):
        await asyncio.to_thread(module._read_commands, stream, desk, asyncio.get_running_loop())
        await asyncio.sleep(0)
    items = await inbox.take(1.0)
    assert [item.args["text"] for item in items if isinstance(item, Command)] == ["still here"]
    assert "standard input" in caplog.text


def a_desk() -> tuple[Inbox, Counter]:
    """Return a Desk in front of an engine that nobody runs."""
    box = Inbox(lambda: 0)
    return box, Counter(box, [], Engine(header()).view())


async def test_ten_thousand_commands_wait_their_turn() -> None:
    inbox, desk = a_desk()
    stream = io.BytesIO(b'{"kind": "take"}\n' * 10_000)
    here = asyncio.get_running_loop()
    reader = threading.Thread(target=module._read_commands, args=(stream, desk, here))
    reader.start()
    asked = 0
    while asked < 10_000:
        items = await inbox.take(5.0)
        assert len(items) <= module.MOST_WAITING
        asked += len(items)
        answers = [
            Event(n, n, Answered(item.id, "stdin", "done"))
            for n, item in enumerate(items)
            if isinstance(item, Command)
        ]
        await desk.tell(answers, desk.view)
    await asyncio.to_thread(reader.join)
    assert asked == 10_000


def test_an_infinite_number_is_refused_in_a_recording_too() -> None:
    line = '{"input": "command", "t_ns": 5, "id": "a", "client": "b", "seen": 1, "kind": "name", "args": {"blade": 1e999}}'
    with pytest.raises(ValueError, match="not inf"):
        input_from_dict(json.loads(line))


class Full(io.StringIO):
    """A disk without room."""

    def flush(self) -> None:
        raise OSError(28, "No space left on device")


def test_a_stream_that_takes_nothing_more_is_a_sentence() -> None:
    event = Event(1, 0, Noted("note", "hello"))
    with pytest.raises(OutsideError, match="No space left"):
        Printer(Full(), as_json=True).tell(event)


async def test_a_face_without_its_stream_ends_with_that_sentence() -> None:
    person = Person(header())
    inbox = Inbox(lambda: 0)
    desk = Counter(inbox, person.events, person.engine.view())
    with pytest.raises(OutsideError):
        await headless(desk, Printer(Full(), as_json=False))


@pytest.mark.parametrize("as_json", [True, False])
def test_escape_characters_of_a_note_never_reach_a_terminal(as_json: bool) -> None:
    out = io.StringIO()
    note = "\x1b[2J\x9b31m\u202eevil\ud800\r\n" + chr(127)
    Printer(out, as_json=as_json).tell(Event(1, 0, Noted("note", note)))
    (line,) = out.getvalue().splitlines()
    assert line.isprintable()
    line.encode()


@given(text=st.text(st.characters(codec=None)))
def test_what_is_plain_can_be_printed_and_written(text: str) -> None:
    assert plain(text).isprintable()
    plain(text).encode()
    assert all(line.isprintable() for line in plain_lines(text).replace("\t", "").split("\n"))


@given(text=st.text(st.characters(codec=None)))
def test_plain_json_means_the_same(text: str) -> None:
    made = plain_json(json.dumps(text, ensure_ascii=False))
    assert json.loads(made) == text
    assert made.isprintable()


SUMMARY = Summary(
    "finished", [], 0.26, None, 3.14, 0.0, [], [], 40, result="too close to say",
    say="too close to say: blade 3, blue too close to say: 0.14 too coarse ± 0.06 of 0.20",
)  # fmt: skip
TRUTH = {"true_deg": [20.988269, 21.11612], "largest_error_deg": 0.0273, "truth_moved": [1, 2]}


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_what_only_the_simulator_knows_is_said_in_words() -> None:
    out = io.StringIO()
    Printer(out, as_json=False).tell(Event(1, 0, SUMMARY), TRUTH)
    said = out.getvalue().splitlines()[-1].strip()
    assert said == (
        "the truth, which only the simulator knows: blades at 20.99, 21.12; "
        "largest error 0.03; moved on the way: blade 1 and blade 2"
    )
    Printer(out, as_json=False).tell(Event(1, 0, SUMMARY), {**TRUTH, "truth_moved": []})
    assert out.getvalue().endswith("moved on the way: none\n")


def test_a_terminal_gets_whole_words_and_a_pipe_whole_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The result broke in the middle of a number: "± 0.0" and "6" below it."""
    monkeypatch.setenv("COLUMNS", "80")
    pipe, terminal = io.StringIO(), Terminal()
    for out in (pipe, terminal):
        Printer(out, as_json=False).tell(Event(1, 0, SUMMARY), TRUTH)
    assert terminal.getvalue().split() == pipe.getvalue().split()
    assert max(map(len, terminal.getvalue().splitlines())) < 80
    assert len(terminal.getvalue().splitlines()) > len(pipe.getvalue().splitlines()) == 2
    words = Terminal()
    Printer(words, as_json=True).tell(Event(1, 0, SUMMARY))
    assert len(words.getvalue().splitlines()) == 1


def test_a_job_that_was_given_up_says_so_once() -> None:
    out = io.StringIO()
    given_up = replace(
        SUMMARY, state="abandoned, do not fly", result="abandoned", say="abandoned: do not fly",
        readings=1,
    )  # fmt: skip
    Printer(out, as_json=False).tell(Event(1, 0, given_up))
    assert out.getvalue().split(maxsplit=1)[1] == "abandoned: do not fly (1 reading)\n"
