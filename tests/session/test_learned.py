"""What sessions teach about their levels: said at the end, kept beside the jobs, used next."""

import math
import os
from pathlib import Path
from typing import Any

import pytest

from daemon.session.headers import make_header
from daemon.session.learned import (
    NAME,
    believed,
    known,
    remember,
    remember_noise,
    remember_seating,
    remember_zero,
)
from shared.errors import BadInputError
from shared.events import Body, Event, Learned
from shared.inputs import End
from shared.job import Header
from shared.profile import Noise, Seating
from tests.daemon.bench import LEVEL, Person, job

UNMEASURED = {**LEVEL, "settings": {"fields": {"angle": {"source": "BLADE"}}}}


def said(*bodies: Body) -> list[Event]:
    return [Event(n, n, body) for n, body in enumerate(bodies, 1)]


def fresh(folder: Path, level: object = None) -> Header:
    made = job(level=[level or UNMEASURED])
    return make_header(made, folder, started="2031-05-06T07:08:09", levels=known(folder))


def noise(sd: float, samples: int, lag1: float = 0.0) -> Learned:
    return Learned("chord", "noise", sd, lag1, samples)


def seating(u: float, samples: int) -> Learned:
    return Learned("chord", "seating", u, 0.0, samples)


def test_a_session_says_what_it_learned_before_its_summary(tmp_path: Path) -> None:
    person = Person(fresh(tmp_path))
    person.press("done")
    for angle in (-3.0, -3.02, 17.0, 17.01, 17.0, 17.0, 17.02, 17.0):
        person.read(angle)
        person.lay(angle, 30)
    person.put(End("tools away", person.t_ns + 1))
    learned = {body.what: body for body in person.said(Learned)}
    assert learned["noise"].value == pytest.approx(0.02, rel=0.25)
    assert learned["noise"].samples > 60
    assert learned["seating"].samples == 4, "one degree of freedom each, and one"
    assert [e.body.event for e in person.events[-3:]] == ["learned", "learned", "summary"]


def test_the_next_header_carries_it(tmp_path: Path) -> None:
    first = fresh(tmp_path)
    assert first.profiles["chord"].noise.n == 0
    remember(tmp_path, first, said(noise(0.05, 300, 0.2), seating(0.04, 7)))
    profile = fresh(tmp_path).profiles["chord"]
    assert (profile.noise.sd_deg, profile.noise.lag1, profile.noise.n) == (0.05, 0.2, 300)
    assert (profile.seating.u_deg, profile.seating.n) == (0.04, 7)
    assert profile.noise.date == "2031-05-06"


def test_sessions_are_pooled_by_their_numbers(tmp_path: Path) -> None:
    header = fresh(tmp_path)
    remember(tmp_path, header, said(noise(0.03, 100), seating(0.03, 4)))
    assert fresh(tmp_path).profiles["chord"].seating.n == 0, "four placements are too few"
    remember(tmp_path, header, said(noise(0.04, 300, 0.4), seating(0.04, 4)))
    profile = fresh(tmp_path).profiles["chord"]
    # root mean square by hand: sqrt((100 * 9 + 300 * 16) / 400) hundredths
    assert profile.noise.sd_deg == pytest.approx(0.037749, abs=1e-6)
    assert profile.noise.lag1 == pytest.approx(0.3)
    assert profile.seating.u_deg == pytest.approx(0.035355, abs=1e-6)
    assert profile.seating.n == 7, "three degrees of freedom and three, and one"


def test_what_is_kept_is_stated_to_a_millionth(tmp_path: Path) -> None:
    header = fresh(tmp_path)
    remember(tmp_path, header, said(noise(0.03, 300, 0.0), seating(0.03, 5)))
    remember(tmp_path, header, said(noise(0.04, 600, 0.5), seating(0.04, 9)))
    profile = fresh(tmp_path).profiles["chord"]
    # sqrt((300 * 9 + 600 * 16) / 900) and sqrt((4 * 9 + 8 * 16) / 12) hundredths, and a third
    assert (profile.noise.sd_deg, profile.noise.lag1) == (0.036968, 0.333333)
    assert profile.seating.u_deg == 0.036968


def test_what_someone_measured_is_never_replaced(tmp_path: Path) -> None:
    header = fresh(tmp_path, LEVEL)
    remember(tmp_path, header, said(noise(0.5, 3000), seating(0.4, 30)))
    profile = fresh(tmp_path, LEVEL).profiles["chord"]
    assert (profile.noise.sd_deg, profile.seating.u_deg) == (0.02, 0.02)


def test_another_port_is_another_level(tmp_path: Path) -> None:
    remember(tmp_path, fresh(tmp_path), said(noise(0.05, 300)))
    elsewhere = {**UNMEASURED, "port": "/dev/other"}
    assert fresh(tmp_path, elsewhere).profiles["chord"].noise.n == 0


def test_a_session_that_taught_nothing_leaves_no_file(tmp_path: Path) -> None:
    remember(tmp_path, fresh(tmp_path), said(Learned("chord", "rate", 12.0, 0.0, 60)))
    assert not (tmp_path / NAME).exists()


def test_a_damaged_file_is_bad_input_and_is_not_overwritten(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    header = fresh(tmp_path)
    (tmp_path / NAME).write_text('{"levels": {"x": {"noise": {"sd_deg": -1}}}}')
    with pytest.raises(BadInputError, match="delete it"):
        known(tmp_path)
    remember(tmp_path, header, said(noise(0.05, 300)))
    assert "not kept" in caplog.text
    assert "-1" in (tmp_path / NAME).read_text()


def not_readable(monkeypatch: pytest.MonkeyPatch) -> None:
    """The file is another user's, who lets nobody read it."""
    read_text = Path.read_text

    def refused(path: Path, *words: str, **ways: str) -> str:
        if path.name == NAME:
            raise PermissionError(13, "Permission denied", str(path))
        return read_text(path, *words, **ways)

    monkeypatch.setattr(Path, "read_text", refused)


def test_what_is_found_on_purpose_replaces_no_file_of_another_user(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    header = fresh(tmp_path)
    remember(tmp_path, header, said(noise(0.05, 300)))
    before, entry = (tmp_path / NAME).read_bytes(), header.job.level[0]
    not_readable(monkeypatch)
    with pytest.raises(PermissionError):
        remember_seating(tmp_path, entry, Seating(u_deg=0.05, n=9))
    with pytest.raises(PermissionError):
        remember_zero(tmp_path, entry, "2031-05-06")
    with pytest.raises(PermissionError):
        remember_noise(tmp_path, entry, Noise(sd_deg=0.05, n=900))
    assert (tmp_path / NAME).read_bytes() == before


def test_a_file_of_another_user_stops_no_job_and_is_not_replaced(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    header = fresh(tmp_path)
    remember(tmp_path, header, said(noise(0.05, 300)))
    before = (tmp_path / NAME).read_bytes()
    not_readable(monkeypatch)
    assert fresh(tmp_path).profiles["chord"].noise.n == 0
    assert "Permission denied" in caplog.text
    remember(tmp_path, header, said(noise(0.01, 900)))
    assert (tmp_path / NAME).read_bytes() == before
    assert "not kept" in caplog.text


@pytest.mark.skipif(os.name == "nt", reason="no modes there")
def test_the_file_may_be_read_by_whom_the_umask_says(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        remember(tmp_path, fresh(tmp_path), said(noise(0.05, 300)))
    finally:
        os.umask(before)
    assert (tmp_path / NAME).stat().st_mode & 0o777 == 0o644


def about(sd_deg: float, *, n: int, abs: float = 1e-9) -> Any:  # noqa: A002 - as in pytest
    """A noise of about so much, from so many samples."""
    return (pytest.approx(sd_deg, abs=abs), n)


def knows(folder: Path) -> tuple[float, int]:
    """Noise that the next header has, and of how many samples."""
    now = fresh(folder).profiles["chord"].noise
    return now.sd_deg, now.n


def test_one_bad_session_is_forgotten_after_two_that_contradict_it(tmp_path: Path) -> None:
    header, assumed = fresh(tmp_path), knows(tmp_path)
    remember(tmp_path, header, said(noise(0.536, 400, 0.97)))
    assert knows(tmp_path)[0] == pytest.approx(0.09), "alone it is bounded: assumed is 0.03"
    remember(tmp_path, header, said(noise(0.031, 300)))
    assert knows(tmp_path) == assumed, "they contradict: nothing is known"
    remember(tmp_path, header, said(noise(0.029, 300)))
    assert knows(tmp_path) == about(0.030017, abs=1e-6, n=600)
    remember(tmp_path, header, said(noise(0.5, 5000)))
    assert knows(tmp_path)[0] == pytest.approx(0.030017, abs=1e-6), "a bad one changes nothing"


def test_a_level_that_has_become_noisier_is_believed_the_second_time(tmp_path: Path) -> None:
    header = fresh(tmp_path)
    for sd in (0.03, 0.03, 0.03, 0.08, 0.085):
        remember(tmp_path, header, said(noise(sd, 300)))
    assert knows(tmp_path) == about(0.0825, abs=1e-4, n=600)


def test_one_session_teaches_no_more_than_its_share(tmp_path: Path) -> None:
    header = fresh(tmp_path)
    remember(tmp_path, header, said(noise(0.04, 50_000)))
    remember(tmp_path, header, said(noise(0.03, 600)))
    assert knows(tmp_path) == about(0.035355, abs=1e-6, n=1200)


@pytest.mark.parametrize(("samples", "used"), [(119, 0), (120, 120)])
def test_a_noise_is_used_from_120_samples_on(tmp_path: Path, samples: int, used: int) -> None:
    remember(tmp_path, fresh(tmp_path), said(noise(0.05, samples)))
    assert fresh(tmp_path).profiles["chord"].noise.n == used


@pytest.mark.parametrize(("placements", "used"), [(5, 0), (6, 6)])
def test_a_seating_is_used_from_five_degrees_of_freedom_on(
    tmp_path: Path, placements: int, used: int
) -> None:
    remember(tmp_path, fresh(tmp_path), said(seating(0.05, placements)))
    assert fresh(tmp_path).profiles["chord"].seating.n == used


def test_the_last_five_sessions_are_kept(tmp_path: Path) -> None:
    for _ in range(7):
        remember(tmp_path, fresh(tmp_path), said(noise(0.05, 200), seating(0.03, 3)))
    (level,) = known(tmp_path).levels.values()
    assert (len(level.noises), len(level.seatings)) == (5, 5)
    assert knows(tmp_path) == about(0.05, n=1000)
    assert fresh(tmp_path).profiles["chord"].seating.n == 1 + 5 * 2


def test_a_seating_of_one_session_alone_is_bounded(tmp_path: Path) -> None:
    assumed = fresh(tmp_path).profiles["chord"].seating.u_deg
    remember(tmp_path, fresh(tmp_path), said(seating(0.6, 12)))
    assert fresh(tmp_path).profiles["chord"].seating.u_deg == pytest.approx(3.0 * assumed)


def test_a_bound_is_stated_to_a_millionth_too(tmp_path: Path) -> None:
    assumed = {**UNMEASURED["settings"], "seating": {"u_deg": 0.0123456789}}
    level = {**UNMEASURED, "settings": assumed}
    remember(tmp_path, fresh(tmp_path, level), said(seating(0.6, 12)))
    assert fresh(tmp_path, level).profiles["chord"].seating.u_deg == 0.037037


def test_what_is_kept_is_whole_on_the_disk_before_it_is_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a power cut leaves an empty file under the name (fsync(2), rename(2))."""
    seen: list[tuple[int, bool]] = []
    fsync = os.fsync

    def noted(descriptor: int) -> None:
        seen.append((os.fstat(descriptor).st_size, (tmp_path / NAME).exists()))
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", noted)
    remember(tmp_path, fresh(tmp_path), said(noise(0.05, 300)))
    assert seen == [((tmp_path / NAME).stat().st_size, False)]


def test_a_file_of_before_is_one_session(tmp_path: Path) -> None:
    header = fresh(tmp_path)
    remember(tmp_path, header, said(noise(0.5, 300)))
    key = next(iter(known(tmp_path).levels))
    old = '{"stillblade_levels": 1, "levels": {"%s": {"noise": {"sd_deg": 0.05, "n": 900}}}}'
    (tmp_path / NAME).write_text(old % key)
    assert knows(tmp_path) == (0.05, 900)
    remember(tmp_path, header, said(noise(0.05, 300)))
    assert knows(tmp_path) == about(0.05, n=1200)


@pytest.mark.parametrize(
    ("values", "places"),
    [
        ([], []),
        ([9.0], [0]),
        ([1.0, 9.0], []),
        ([1.0, 9.0, 3.0], []),
        ([1.0, 1.4], [0, 1]),
        ([1.0, 9.0, 1.0], []),
        ([9.0, 1.0, 1.0, 9.0], [1, 2]),
        ([1.0, 9.0, 1.0, 1.0], [0, 2, 3]),
        ([1.0, 1.0, 9.0], [0, 1]),
        ([1.0, 1.0, 1.0, 9.0, 9.0], [3, 4]),
        ([0.0, 0.001], [0, 1]),
        ([0.0, 0.002], [0, 1]),
        ([0.0, 0.0021], []),
        ([1.0, 1.501], [0, 1]),
        ([1.0, 1.503], []),
        ([1.503, 1.0], []),
    ],
)
def test_who_is_believed(values: list[float], places: list[int]) -> None:
    assert believed(values) == places


def found_on_purpose(folder: Path, u: float, date: str = "2031-05-06") -> None:
    entry = fresh(folder).job.level[0]
    remember_seating(folder, entry, Seating(u_deg=u, n=5, date=date))


def sits(folder: Path) -> tuple[float, int]:
    seat = fresh(folder).profiles["chord"].seating
    return round(seat.u_deg, 4), seat.n


def test_a_seating_found_on_purpose_is_used_as_it_is_by_the_next_session(tmp_path: Path) -> None:
    found_on_purpose(tmp_path, 0.6)
    assert sits(tmp_path) == (0.6, 5)
    assert fresh(tmp_path).profiles["chord"].seating.date == "2031-05-06"
    found_on_purpose(tmp_path, 0.02)
    assert sits(tmp_path) == (0.02, 5)


def test_a_seating_that_the_job_states_as_measured_goes_before(tmp_path: Path) -> None:
    found_on_purpose(tmp_path, 0.6)
    assert fresh(tmp_path, LEVEL).profiles["chord"].seating.u_deg == 0.02


def test_sessions_that_agree_with_what_was_found_are_pooled_with_it(tmp_path: Path) -> None:
    found_on_purpose(tmp_path, 0.03)
    remember(tmp_path, fresh(tmp_path), said(seating(0.04, 5)))
    # root mean square of four and four degrees of freedom
    assert sits(tmp_path) == (0.0354, 9)


def test_what_was_found_holds_until_two_later_sessions_agree_on_something_else(
    tmp_path: Path,
) -> None:
    found_on_purpose(tmp_path, 0.03)
    remember(tmp_path, fresh(tmp_path), said(seating(0.2, 5)))
    assert sits(tmp_path) == (0.03, 5)
    remember(tmp_path, fresh(tmp_path), said(seating(0.2, 5)))
    assert sits(tmp_path) == (0.2, 9)
    found_on_purpose(tmp_path, 0.03, date="2031-06-07")
    assert sits(tmp_path) == (0.03, 5), "earlier sessions do not speak against a newer look"


@pytest.mark.parametrize(
    ("other", "agrees"), [(0.055, True), (0.065, False), (0.0075, True), (0.004, False)]
)
def test_seatings_agree_within_a_factor_of_three(
    tmp_path: Path, other: float, agrees: bool
) -> None:
    """A session knows few degrees of freedom of a seating: what is nearer tells nothing of another level."""
    assumed = sits(tmp_path)
    for u in (0.02, other):
        remember(tmp_path, fresh(tmp_path), said(seating(u, 4)))
    mean = round(math.sqrt((0.02**2 + other**2) / 2.0), 4)
    assert sits(tmp_path) == ((mean, 7) if agrees else assumed)


@pytest.mark.parametrize(
    ("proven", "stated"),
    [("2031-05-06", ""), ("2031-05-06", "2031-05-05"), ("2031-05-06", "2031-05-07")],
)
def test_the_next_header_says_when_the_zero_was_proven_last(
    tmp_path: Path, proven: str, stated: str
) -> None:
    level = {
        **UNMEASURED,
        "settings": {**UNMEASURED["settings"], "accuracy": {"zero_date": stated}},
    }
    assert fresh(tmp_path, level).profiles["chord"].accuracy.zero_date == stated
    remember_zero(tmp_path, fresh(tmp_path).job.level[0], proven)
    assert fresh(tmp_path, level).profiles["chord"].accuracy.zero_date == max(proven, stated)
