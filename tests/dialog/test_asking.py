"""Questions, hostile answers, and answers taken back; a whole conversation broken off anywhere."""

import asyncio
import sys
import tomllib
from collections.abc import Iterator
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.dialog import understood
from daemon.dialog.asking import Question, Talk
from daemon.dialog.conversation import new_job
from daemon.dialog.finding import Surroundings
from daemon.dialog.heard import heard
from daemon.dialog.propeller import Tables, propeller
from daemon.dialog.written import job_text
from daemon.levels import ear
from daemon.session.jobs import load_job
from drivers.links.look import Found
from drivers.recordings import Chunk, Recording, to_text
from shared.job import Propeller, Target
from shared.plan import Plan
from simulator.line import Line
from tests.daemon.bench import sentence
from tests.dialog.person import Person
from tests.drivers.sinks import QUICK
from tests.whole.program import Level

ANSWERS = [
    "Three blades", "", "", "3", "pusher", "anticlockwise", "at the mark", "", "",
    "", "21", "0.2", "0.2", "none", "1 2, 3", "together", "yes", "hub", "6", "12 Nm", "50 100",
    "yes", "rim", "4", "40 in-lb", "100", "no",
]  # fmt: skip


def asked(answers: list[str]) -> tuple[Tables, Person]:
    person = Person(answers)
    return asyncio.run(Talk(person).run(propeller)), person


def test_a_propeller_is_asked_for_and_is_one_of_a_job() -> None:
    tables, _ = asked(ANSWERS)
    assert Propeller.model_validate(tables["propeller"]).layout == "pusher"
    assert Target.model_validate(tables["target"]).spread_deg == 0.2
    plan = Plan.model_validate(tables["plan"])
    assert [(one.name, one.count, one.unit) for one in plan.bolts] == [
        ("hub", 6, "N.m"),
        ("rim", 4, "lbf.in"),
    ]
    assert plan.clamps == [[1, 2], [3]]


@pytest.mark.parametrize("at", range(1, len(ANSWERS)))
def test_any_answer_taken_back_is_asked_again_and_nothing_else_is(at: int) -> None:
    straight, first = asked(ANSWERS)
    again, second = asked([*ANSWERS[:at], "back", ANSWERS[at - 1], *ANSWERS[at:]])
    assert again == straight
    assert len(second.asked) == len(first.asked) + 2


@pytest.mark.parametrize("at", range(len(ANSWERS)))
def test_any_question_explains_itself_and_is_put_again(at: int) -> None:
    straight, _ = asked(ANSWERS)
    again, person = asked([*ANSWERS[:at], "?", *ANSWERS[at:]])
    assert again == straight
    assert person.asked[at] == person.asked[at + 1]


def test_nothing_of_the_manual_has_a_default() -> None:
    """An empty line is no answer to any of them."""
    _, straight = asked(ANSWERS)
    free = [k for k, one in enumerate(straight.asked) if "[Enter:" in one]
    said = " ".join(straight.asked[k] for k in free)
    for word in (
        "blades has",
        "tractor",
        "clockwise",
        "station",
        "angle",
        "differ",
        "torque",
        "passes",
    ):
        assert word not in said
    for at in set(range(len(ANSWERS))) - set(free):
        again, _ = asked([*ANSWERS[:at], "", *ANSWERS[at:]])
        assert again["name"] == "Three blades"


def test_hours_are_asked_for_where_an_aircraft_is_named_and_stand_in_the_file() -> None:
    """A hub's history tells hours between sessions: by what the jobs say of them."""
    tables, person = asked([ANSWERS[0], "Curlew", "140,5", *ANSWERS[2:]])
    assert tables["hours"] == "140,5"
    assert any("hours" in words for words in person.asked)
    level = {"name": "chord", "profile": "nmea-xdr", "port": "", "settings": {}}
    written = tomllib.loads(job_text(tables, level, [], "2031-05-06"))
    assert (written["aircraft"], written["hours"]) == ("Curlew", "140,5")
    nobody, other = asked(ANSWERS)
    assert not any("hours" in words for words in other.asked)
    assert "hours" not in tomllib.loads(job_text(nobody, level, [], "2031-05-06"))


HOSTILE = st.text(max_size=30).map(str.strip) | st.sampled_from(
    ["back", "?", "", "-1", "nan", "1e999", "\x1b[2J", "x" * 5000, "1,2,3", "all", "yes", "'; --"]
)


@given(st.lists(HOSTILE, max_size=40))
@settings(max_examples=60)
def test_whatever_is_typed_the_conversation_ends_in_a_job_or_goes_on(typed: list[str]) -> None:
    person = Person(typed)
    try:
        tables = asyncio.run(Talk(person).run(propeller))
    except EOFError:
        assert "\x1b" not in person.out.getvalue()
        return
    Propeller.model_validate(tables["propeller"])


def test_an_answer_that_no_longer_fits_is_said_to_and_asked_again() -> None:
    async def conversation(talk: Talk) -> list[str]:
        blades = await talk.ask(
            Question("n", "blades", "how many", lambda t: understood.whole(t, 2, 6))
        )
        return await talk.ask(
            Question("l", "names", "names", lambda t: understood.labels(t, blades))
        )

    async def twice(talk: Talk) -> list[str]:
        found = await conversation(talk)
        if talk.path[0].shown == "2":
            talk.forget("n")
        return found

    person = Person(["2", "a, b", "3", "a, b, c"])
    assert asyncio.run(Talk(person).run(twice)) == ["a", "b", "c"]
    assert "names was 'a, b', which no longer fits" in person.out.getvalue()


# --- the whole conversation, in one process ---------------------------------------------

if sys.platform != "win32":
    WHOLE = [
        "1",
        "",
        "yes",
        "stays",
        "0.01",
        "",
        "skip",
        "skip",
        "skip",
        *ANSWERS,
        "job.toml",
        "write",
    ]

    @pytest.fixture
    def around() -> Iterator[Surroundings]:
        line = Line("chord")
        path = line.open()
        level = Level(line)
        level.lay(3.0)
        yield Surroundings(QUICK, 0.0, [Found(path, "", guess="nmea-xdr")])
        level.stop()
        line.close()

    async def test_the_whole_conversation_writes_its_job(
        around: Surroundings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        path = await new_job(Person(WHOLE), around, None, "2031-05-06")
        assert load_job(path).propeller.blades == 3

    async def test_a_late_answer_taken_back_does_not_open_the_level_again(
        around: Surroundings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """It was waited for once more, and who had switched it off meanwhile was asked anew."""
        monkeypatch.chdir(tmp_path)
        opened = []

        async def counted(level: ear.Target, *more: Any) -> Any:
            opened.append(level.entry.port)
            return await heard(level, *more)

        monkeypatch.setattr("daemon.dialog.finding.heard", counted)
        at = WHOLE.index("pusher")
        person = Person([*WHOLE[:at], "tractor", "back", *WHOLE[at:]])
        path = await new_job(person, around, None, "2031-05-06")
        assert load_job(path).propeller.layout == "pusher"
        assert len(opened) == 2
        opened.clear()
        again = Person([*WHOLE[:4], "0.02", "back", *WHOLE[4:-2], "again.toml", "write"])
        made = await new_job(again, around, None, "2031-05-06")
        assert load_job(made).level[0].settings == load_job(path).level[0].settings
        assert len(opened) == 4, "an answer about the level itself asks it again"

    def test_broken_off_at_any_question_nothing_is_written(
        around: Surroundings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        for at in range(len(WHOLE)):
            with pytest.raises(EOFError):
                asyncio.run(new_job(Person(WHOLE[:at]), around, None, "2031-05-06"))
            assert list(tmp_path.iterdir()) == [], f"after {at} answers"

    async def test_a_file_that_appeared_meanwhile_is_not_written_over(
        around: Surroundings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        (tmp_path / "job.toml").write_text("mine")
        person = Person([*WHOLE[:-1], "other.toml", "write"])
        assert await new_job(person, around, None, "2031-05-06") == Path("other.toml")
        assert (tmp_path / "job.toml").read_text() == "mine"
        assert "job.toml is there already" in person.out.getvalue()

    class SeveralAngles(Level):
        """Sends a heading beside its angle."""

        def written(self, angle_deg: float) -> bytes:
            body = f"IIXDR,A,{angle_deg:.2f},D,TILT,A,211.0,D,HDG".encode()
            return b"$%s*%02X\r\n" % (body, reduce(xor, body))

    async def test_of_several_angles_the_level_s_own_is_asked_for(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        line = Line("chord")
        path = line.open()
        level = SeveralAngles(line)
        level.lay(3.0)
        around = Surroundings(QUICK, 0.0, [Found(path, "", guess="nmea-xdr")])
        person = Person([*WHOLE[:2], "HEAD", "tilt", *WHOLE[2:]])
        try:
            made = await new_job(person, around, None, "2031-05-06")
        finally:
            level.stop()
            line.close()
        assert load_job(made).level[0].settings == {"fields": {"angle": {"source": "TILT"}}}
        assert "'HEAD' is none of these" in person.out.getvalue()

    async def test_a_recording_names_the_profile_and_the_level_is_asked_for(
        around: Surroundings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        heard = [Chunk(n / 10.0, 0, sentence(3.0)) for n in range(20)]
        settings = {"fields": {"angle": {"source": "BLADE"}}}
        (tmp_path / "mine.log").write_text(
            to_text(Recording("nmea-xdr", "a test", settings, heard))
        )
        (tmp_path / "no.log").write_text("nonsense")
        person = Person(["no.log", "mine.log", "1", *WHOLE[2:]])
        made = await new_job(person, around, None, "2031-05-06")
        level = load_job(made).level[0]
        assert (level.profile, level.settings) == ("nmea-xdr", settings)
        assert "not a recording" in person.out.getvalue()
