"""Has anything become ten times as slow?

Counted in calls, which no other work on the machine changes; how many they may be was counted and
raised to about three times as many. Figures are in docs/speed.md.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import pytest

from benchmarks.speed import angles, folded, header_of, inputs_of, recorded, xdr
from daemon.session.recording import read
from daemon.session.replay import replay
from daemon.session.text import lines
from shared.messages import input_from_dict, input_to_dict

SAMPLES = 600
FOLD = 1000
"""Calls a sample; 340 were counted."""


def calls(work: Callable[[], object]) -> int:
    """Return how many functions, Python's and built-in ones, a call enters."""
    count = 0

    def step(_: FrameType, event: str, __: object) -> None:
        nonlocal count
        count += event in {"call", "c_call"}

    before = sys.getprofile()
    sys.setprofile(step)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


@pytest.fixture
def sentences() -> list[bytes]:
    return [xdr(angle) for angle in angles(SAMPLES)]


def test_a_sample_costs_what_it_did(tmp_path: Path, sentences: list[bytes]) -> None:
    header, inputs = header_of(tmp_path), inputs_of(sentences)
    folded(header, inputs)  # what is worked out once and kept
    assert calls(lambda: folded(header, inputs)) < FOLD * SAMPLES


def test_a_sample_costs_the_same_beside_other_levels(
    tmp_path: Path, sentences: list[bytes]
) -> None:
    few = sentences[:200]
    one, many = header_of(tmp_path), header_of(tmp_path, levels=8)
    alone, beside = inputs_of(few), inputs_of(few, 8)
    folded(one, alone)
    assert calls(lambda: folded(many, beside)) < 1.2 * 8 * calls(lambda: folded(one, alone))


def test_a_session_is_read_and_replayed_at_what_the_fold_costs(
    tmp_path: Path, sentences: list[bytes]
) -> None:
    header, inputs = header_of(tmp_path), inputs_of(sentences)
    file = recorded(tmp_path / "a.session", header, SAMPLES // 10)
    text = tmp_path / "a.jsonl"
    text.write_text("\n".join(lines(read(file))) + "\n", "utf-8")
    fold = calls(lambda: folded(header, inputs))
    assert calls(lambda: replay(read(file))) < 1.5 * fold
    assert calls(lambda: replay(read(text))) < 1.5 * fold


def test_a_line_of_the_text_form_builds_no_reader_of_its_own(sentences: list[bytes]) -> None:
    item = inputs_of(sentences[:1])[0]
    written = input_to_dict(item)
    input_from_dict(written)
    assert calls(lambda: input_from_dict(written)) < 60, "15 were counted"
    assert calls(lambda: input_to_dict(item)) < 30, "7 were counted"
