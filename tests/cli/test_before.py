"""What a new session is told of its hub: when it was set, what its bolts did, which parts moved."""

from dataclasses import replace
from pathlib import Path

import pytest

from daemon.cli.before import before, pulled_alike
from daemon.core.engine import Engine
from daemon.session.begin import begin
from daemon.session.recording import Recording, read
from daemon.sheet.content import sheet_of
from daemon.sheet.entry import entry
from daemon.sheet.markup import html
from shared.inputs import Link
from shared.job import Job
from tests.sheet.test_history import session, setting, stored


def job(**propeller: object) -> Job:
    """The job of the golden session once more, on hub H-77 where nothing else is said."""
    found = session(0).header.job
    return found.model_copy(
        update={"propeller": found.propeller.model_copy(update={"hub": "H-77", **propeller})}
    )


def test_nothing_is_known_of_a_hub_that_is_not_named_or_was_never_set_here(tmp_path: Path) -> None:
    stored(tmp_path, session(0))
    assert before(tmp_path / "job.toml", job(hub="")).earlier == ""
    assert before(tmp_path / "job.toml", job(hub="H-1")).earlier == ""
    assert before(tmp_path / "none" / "job.toml", job()).earlier == ""


def test_when_it_was_set_and_what_that_came_to_is_told(tmp_path: Path) -> None:
    stored(tmp_path, session(0), session(1))
    assert before(tmp_path / "job.toml", job()).earlier.startswith("2031-09-20, ")


@pytest.mark.parametrize(
    ("serials", "said"),
    [
        (["Q-101", "Q-102", "Q-103"], []),
        (
            ["Q-102", "Q-101", "Q-103"],
            [
                "blade Q-102 is in socket 1, and was in socket 2 on 2031-04-02",
                "blade Q-101 is in socket 2, and was in socket 1 on 2031-04-02",
            ],
        ),
        (
            ["Q-101", "Q-102", "Q-900"],
            ["blade Q-900 in socket 3 was not on this hub on 2031-04-02"],
        ),
        (
            [],
            [
                (
                    "not in the job and taken over from 2031-04-02: serial numbers of the blades Q-101, "
                    "Q-102, Q-103: look whether they are so"
                )
            ],
        ),
    ],
)
def test_a_blade_in_another_socket_than_last_time_is_said(
    tmp_path: Path, serials: list[str], said: list[str]
) -> None:
    stored(tmp_path, session(0))
    assert list(before(tmp_path / "job.toml", job(serials=serials)).remarks) == said


@pytest.mark.parametrize(
    ("now", "said"),
    [
        ({"halves": ["M-1", "M-2"], "shims": ["none", "none", "0.1 mm"]}, []),
        (
            {"halves": ["M-1", "M-9"]},
            [
                (
                    "not in the job and taken over from 2031-04-02: shims none, none, 0.1 mm: look "
                    "whether they are so"
                ),
                "hub halves: M-1, M-9; on 2031-04-02 they were M-1, M-2",
            ],
        ),
    ],
)
def test_other_parts_than_last_time_are_said(
    tmp_path: Path, now: dict[str, list[str]], said: list[str]
) -> None:
    then = session(0)
    parts = {"halves": ["M-1", "M-2"], "shims": ["none", "none", "0.1 mm"]}
    propeller = then.header.job.propeller.model_copy(update=parts)
    header = then.header.model_copy(
        update={"job": then.header.job.model_copy(update={"propeller": propeller})}
    )
    stored(tmp_path, replace(then, header=header))
    assert list(before(tmp_path / "job.toml", job(**now)).remarks) == said


def test_only_bolts_that_turned_all_blades_alike_are_told_of() -> None:
    one = setting(0)
    alike = replace(
        one, pulls={"snug": {1: 9.0, 2: 9.0, 3: 9.0}, "torque": {1: 0.5, 2: 0.51, 3: 0.49}}
    )
    assert pulled_alike([alike]) == pytest.approx(0.5)
    assert pulled_alike([replace(one, pulls={"torque": {1: 0.5, 2: -0.5, 3: 0.0}})]) is None
    assert pulled_alike([replace(one, pulls={})]) is None


def test_the_session_is_told_when_it_opens(tmp_path: Path) -> None:
    stored(tmp_path, session(0))
    told = job(serials=["Q-102", "Q-101", "Q-103"])
    path = tmp_path / "job.toml"
    begun = begin(path, told, "2033-01-01T10:00:00+00:00", before=lambda: before(path, told))
    events = begun.engine.feed(Link("chord", "up", t_ns=0))
    begun.store.close()
    assert isinstance(begun.engine, Engine)
    said = [getattr(event.body, "say", "") for event in events]
    assert "blade Q-102 is in socket 1, and was in socket 2 on 2031-04-02" in said
    assert any("This hub was set before (2031-04-02" in say for say in said)


# --- asked for once -------------------------------------------------------------------------------

PARTS = {
    "labels": ["red", "white", "blue"],
    "serials": ["Q-101", "Q-102", "Q-103"],
    "halves": ["M-1", "M-2"],
    "match_marks": ["one dot", "two dots", "three dots"],
    "shims": ["none", "none", "0.1 mm, brass"],
}
NAMED_NONE: dict[str, list[str]] = {key: [] for key in PARTS}


def with_parts(number: int, **propeller: object) -> Recording:
    """A session of the hub with such parts."""
    then = session(number)
    changed = then.header.job.propeller.model_copy(update=propeller)
    job_ = then.header.job.model_copy(update={"propeller": changed})
    return replace(then, header=then.header.model_copy(update={"job": job_}))


def test_parts_that_a_job_leaves_out_are_those_of_the_last_session_from_its_header_on(
    tmp_path: Path,
) -> None:
    stored(tmp_path, with_parts(0, **PARTS))
    path, told = tmp_path / "job.toml", job(**NAMED_NONE)
    begun = begin(path, told, "2033-01-01T10:00:00+00:00", before=lambda: before(path, told))
    begun.store.close()
    kept = read(begun.path).header
    found = kept.job.propeller
    assert {key: getattr(found, key) for key in PARTS} == PARTS
    assert any("0.1 mm, brass: look whether they are so" in words for words in kept.remarks)


def test_what_an_earlier_session_named_is_not_forgotten_by_one_that_left_it_out(
    tmp_path: Path,
) -> None:
    stored(tmp_path, with_parts(0, **PARTS), with_parts(1, **NAMED_NONE))
    known = before(tmp_path / "job.toml", job(**NAMED_NONE)).parts
    assert known is not None
    assert known.shims == PARTS["shims"]


def test_a_job_whose_parts_were_filled_in_is_taken_up_again(tmp_path: Path) -> None:
    stored(tmp_path, with_parts(0, **PARTS))
    path, told = tmp_path / "job.toml", job(**NAMED_NONE)
    begun = begin(path, told, "2033-01-01T10:00:00+00:00", before=lambda: before(path, told))
    heard = Link("chord", "up", t_ns=0)
    begun.store.commit([heard], begun.engine.feed(heard), 0)
    begun.store.close()
    again = begin(path, told, "2033-01-01T11:00:00+00:00", before=lambda: before(path, told))
    again.store.close()
    assert again.path == begun.path
    other = job(**NAMED_NONE | {"shims": ["none", "none", "none"]})
    fresh = begin(path, other, "2033-01-01T12:00:00+00:00", before=lambda: before(path, other))
    fresh.store.close()
    assert fresh.path != begun.path


def test_damage_that_was_looked_for_then_is_told_and_never_stands_for_today(tmp_path: Path) -> None:
    stored(tmp_path, with_parts(0, damage="a nick in blade 2, dressed"))
    path, told = tmp_path / "job.toml", job(damage="")
    begun = begin(path, told, "2033-01-01T10:00:00+00:00", before=lambda: before(path, told))
    begun.store.close()
    assert begun.engine.header.job.propeller.damage == ""
    assert begun.engine.header.remarks[-1] == (
        "damage looked for on 2031-04-02: a nick in blade 2, dressed; the job says nothing of today"
    )


def test_another_hand_of_rotation_is_said_on_the_sheet_and_in_the_entry_too(tmp_path: Path) -> None:
    stored(tmp_path, session(0))
    path, told = tmp_path / "job.toml", job(rotation="anticlockwise")
    words = "hand of rotation: anticlockwise; on 2031-04-02 it was clockwise"
    known = before(path, told)
    assert known.remarks == (words,)
    begun = begin(path, told, "2033-01-01T10:00:00+00:00", before=lambda: known)
    begun.store.close()
    sheet = sheet_of(Recording(begun.engine.header))
    assert sheet.otherwise == [words]
    assert f"Against last time: {words}." in entry(sheet)
    assert f"<dt>Against last time</dt><dd>{words}</dd>" in html(sheet)


def test_of_another_number_of_blades_nothing_is_taken_over(tmp_path: Path) -> None:
    stored(tmp_path, session(0))
    known = before(tmp_path / "job.toml", job(blades=2, serials=[], labels=[]))
    assert "number of blades: 2; on 2031-04-02 it was 3" in known.remarks
    assert not any("taken over" in words for words in known.remarks)
