"""Every field of the view, at every step of seven jobs, is what is on record.

Written anew with `python -m tests.workflow.view_record`; then look at what has changed.
"""

import dataclasses

import pytest

from shared.view import Aiming, AlarmView, BladeView, LevelView, Live, Question, View
from tests.workflow.view_record import FOLDER, SOURCES, record, source

NAMES = sorted(path.stem for path in FOLDER.glob("*.jsonl"))


@pytest.mark.parametrize("name", NAMES)
def test_the_view_is_as_recorded(name: str) -> None:
    written = (FOLDER / f"{name}.jsonl").read_text("utf-8").splitlines()
    for number, line in enumerate(record(*source(name))):
        assert line == written[number], f"line {number + 1}"
    assert number + 1 == len(written)


def test_every_job_is_on_record() -> None:
    assert sorted(SOURCES) == NAMES


def test_every_field_is_on_record() -> None:
    text = "".join(path.read_text("utf-8") for path in FOLDER.glob("*.jsonl"))
    owners = {"": View, "live.": Live, "question.": Question}
    owners |= {"blades.1.": BladeView, "alarms.0.": AlarmView, "levels.0.": LevelView}
    owners |= {"aims.0.": Aiming}
    parts = {"live", "blades", "alarms", "levels", "aims", "t_ns", "seen"}
    for path, owner in owners.items():
        for one in dataclasses.fields(owner):
            if path or one.name not in parts:
                assert f'"{path}{one.name}": ' in text, path + one.name
