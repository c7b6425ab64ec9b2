"""What a new session is told of its hub: when it was set, what its bolts did, which parts moved."""

from dataclasses import replace
from pathlib import Path

import pytest

from daemon.cli.before import before, pulled_alike
from daemon.core.engine import Engine
from daemon.session.begin import begin
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
                    "the job names no serial numbers; 2031-04-02 the sockets had 1: Q-101, "
                    "2: Q-102, 3: Q-103"
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
                "hub halves: M-1, M-9; 2031-04-02 they were M-1, M-2",
                "the job names no shims; 2031-04-02 they were none, none, 0.1 mm",
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
