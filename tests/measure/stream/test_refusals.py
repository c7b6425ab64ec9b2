"""Counts by reason, said when they reach a power of ten."""

from collections import Counter

from daemon.measure.stream.refusals import Refusals


def test_one_ten_hundred_and_both_sources() -> None:
    refusals, frames, said = Refusals(), Counter[str](), []
    for _ in range(100):
        refusals.add("out of range")
        frames["checksum"] += 1
        said += refusals.news(frames)
    assert said == [
        (reason, count) for count in (1, 10, 100) for reason in ("checksum", "out of range")
    ]
    assert refusals.total == 200
    assert refusals.by_reason(frames) == {"checksum": 100, "out of range": 100}


def test_the_same_reason_from_both_is_one_count() -> None:
    refusals = Refusals()
    refusals.add("format")
    frames = Counter({"format": 9, "checksum": 1})
    assert list(refusals.by_reason(frames)) == ["checksum", "format"]
    assert refusals.news(frames) == [("checksum", 1), ("format", 10)]


def test_a_count_that_jumps_is_said_by_the_power_it_passed() -> None:
    refusals = Refusals()
    assert refusals.news(Counter({"format": 37})) == [("format", 10)]
    assert refusals.news(Counter({"format": 99})) == []
    assert refusals.news(Counter({"format": 1200})) == [("format", 1000)]


def test_nothing_new_is_nothing_said() -> None:
    refusals = Refusals()
    assert refusals.news(Counter()) == []
    assert refusals.total == 0
    refusals.add("format")
    assert refusals.news(Counter()) == [("format", 1)]
    assert refusals.news(Counter()) == []
