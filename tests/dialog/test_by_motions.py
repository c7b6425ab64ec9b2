"""A level that no profile describes, met in the middle of the dialog: learned there, or asked again."""

from pathlib import Path

import pytest

from daemon.dialog import by_motions
from daemon.dialog.asking import Question, TakenBackError, Talk
from daemon.levels.guided import Dialog
from drivers import profiles
from shared.job import LevelEntry
from tests.dialog.person import Person
from tests.drivers.sinks import QUICK
from tests.learn.truth import shown_wrong
from tests.levels.stage import Stage, a_level


class Mover(Person):
    """Makes the motions that are asked for, on the stage, and answers the questions."""

    def __init__(self, motions: list[str], answers: list[str]) -> None:
        super().__init__(answers)
        self.motions = motions

    async def quiet_line(self) -> str:
        """Say that a motion may begin."""
        if not self.motions:
            raise EOFError
        return self.motions.pop(0)


async def learned(
    stage: Stage, person: Mover, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> str:
    monkeypatch.chdir(tmp_path)

    def dialog(*words: object) -> Dialog:
        stage.dialog = Dialog(*words)  # type: ignore[arg-type]
        return stage.dialog

    monkeypatch.setattr(by_motions, "Dialog", dialog)
    stage.out = person.out
    talk = Talk(person)
    await talk.ask(Question("profile it", "profile", "Which profile?", str))
    return await by_motions.learned(talk, person, stage.port, QUICK, stage)


async def test_what_was_learned_is_the_profile_once_it_is_believed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    level = a_level("text", baud=19200)
    stage = Stage(level, [])
    person = Mover(["", "", "", "", "", "90", "", ""], ["learn", "no", "yes"])
    (tmp_path / "learned.svg").touch()
    path = Path(await learned(stage, person, monkeypatch, tmp_path))
    stage.line.close()
    assert path == tmp_path / "learned-2.toml"
    assert shown_wrong(level, text_of(path)) == ""
    found = profiles.for_level(LevelEntry(name="level", profile=str(path)), Path())
    assert found.kind == "learned"
    assert "type back" in person.out.getvalue()


async def test_where_nothing_was_found_the_profile_is_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    stage = Stage(a_level("text", baud=9600), [])
    person = Mover([""], ["learn"])
    with pytest.raises(TakenBackError):
        await learned(stage, person, monkeypatch, tmp_path)
    stage.line.close()
    assert "what was heard is kept" in person.out.getvalue()
    assert in_folder(tmp_path) == ["learned.log", "learned.marks"]


def text_of(path: Path) -> str:
    return path.read_text("utf-8")


def in_folder(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())
