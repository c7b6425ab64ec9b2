"""The rate a level really sends at."""

import pytest

from daemon.measure.stream.rate import RateStudy, Unbroken
from shared.inputs import NS
from shared.profile import Reporting


def fed(study: RateStudy, hz: float, samples: int, start_ns: int = 0) -> list[int]:
    return [study.push(start_ns + round(i * NS / hz)) for i in range(samples)]


def test_five_unbroken_seconds_tell_it_once() -> None:
    study = RateStudy(Reporting(rate_hz=10.0))
    assert fed(study, 20.0, 100) == [0] * 100
    assert study.hz == 10.0
    assert study.push(5 * NS) == 100
    assert study.hz == 20.0
    assert fed(study, 40.0, 400, 6 * NS) == [0] * 400
    assert study.hz == 20.0


@pytest.mark.parametrize(("hz", "known"), [(12.0, 10.0), (12.2, 12.2), (8.0, 10.0), (7.8, 7.8)])
def test_a_fifth_from_what_is_stated_is_not_worth_saying(hz: float, known: float) -> None:
    study = RateStudy(Reporting(rate_hz=10.0))
    said = fed(study, hz, 70)
    assert study.hz == pytest.approx(known)
    assert any(said) is (known != 10.0)


def test_a_gap_begins_it_anew() -> None:
    study = RateStudy(Reporting(rate_hz=10.0))
    fed(study, 20.0, 99)
    study.restart()
    assert fed(study, 20.0, 100, 60 * NS) == [0] * 100
    assert study.push(65 * NS) == 100


@pytest.mark.parametrize("mode", ["on-change", "on-press"])
def test_what_reports_by_itself_has_no_rate_to_learn(mode: str) -> None:
    study = RateStudy(Reporting.model_validate({"mode": mode, "rate_hz": 10.0}))
    assert not any(fed(study, 50.0, 600))
    assert study.hz == 10.0


@pytest.mark.parametrize("before", [0.0, 1.7, 3.95])
def test_a_backlog_teaches_nothing(before: float) -> None:
    """Ten a second, and thirty seconds of it had waited: that is no seventy a second."""
    study = RateStudy(Reporting(rate_hz=10.0))
    first = round(before * 10)
    fed(study, 10.0, first)
    fed(study, 3000.0, 300, round(before * NS))
    assert not any(fed(study, 10.0, 200, round((before + 0.1) * NS)))
    assert study.hz == 10.0


def test_after_a_backlog_the_real_rate_is_learned() -> None:
    study = RateStudy(Reporting(rate_hz=10.0))
    fed(study, 3000.0, 300)
    assert any(fed(study, 20.0, 220, NS // 10))
    assert study.hz == pytest.approx(20.0)


@pytest.mark.parametrize(("most", "burst"), [(20, False), (21, True)])
def test_a_fifth_more_in_all_is_no_backlog_yet(most: int, burst: bool) -> None:
    """Up to there the profile's rate stands anyway."""
    stream = Unbroken(0, by_second=[10, 10, most, 10, 10])
    assert stream.burst is burst


def test_what_comes_two_seconds_at_a_time_has_a_rate() -> None:
    study = RateStudy(Reporting(rate_hz=20.0))
    said = [study.push(lump * 2 * NS + i) for lump in range(4) for i in range(20)]
    assert any(said)
    assert study.hz == pytest.approx(10.0, rel=0.2)


def test_what_comes_a_few_at_a_time_is_no_backlog() -> None:
    """Three at once, every two and a half seconds: most seconds hold none."""
    study = RateStudy(Reporting(rate_hz=5.0))
    said = [study.push(lump * 5 * NS // 2 + i) for lump in range(3) for i in range(3)]
    assert any(said)
    assert study.hz == pytest.approx(1.2, rel=0.01)


def test_a_backlog_of_a_slow_level_teaches_nothing() -> None:
    """One a second, and four had waited: that is no two a second."""
    study = RateStudy(Reporting(rate_hz=1.0))
    assert not any(study.push(i) for i in range(5))
    assert not any(fed(study, 1.0, 30, NS))
    assert study.hz == 1.0
