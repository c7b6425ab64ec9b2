"""Whole jobs in the hangar, with a scripted program instead of the engine."""

import math
from functools import cache, reduce
from operator import xor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.events import Alarm, Captured, Held
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.scenario import load
from simulator.truth import Truth
from simulator.wire.nmea_xdr import sentence
from tests.simulator.foreman import NS, Foreman

SEEDS = range(8)


@cache
def job_done(seed: int) -> Foreman:
    return Foreman(Hangar(load("default"), seed)).run()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_whole_job_runs_to_its_end(seed: int) -> None:
    foreman = job_done(seed)
    truth = foreman.hangar.truth()
    assert foreman.hangar.finished
    assert truth.stuck == ""
    assert 150 * NS < foreman.hangar.now_ns < 420 * NS
    assert len(foreman.said(Held)) >= 3


@pytest.mark.parametrize("seed", SEEDS)
def test_every_knock_is_found_by_a_plain_limit_and_no_blade_is_accused(seed: int) -> None:
    foreman = job_done(seed)
    called = {event.body.blade for event in foreman.said(Alarm) if isinstance(event.body, Alarm)}
    assert called == set(foreman.hangar.truth().moved_blades())


@pytest.mark.parametrize("seed", SEEDS)
def test_readings_agree_with_the_truth_at_their_moment(seed: int) -> None:
    foreman = job_done(seed)
    truth = foreman.hangar.truth()
    for event in foreman.said(Captured):
        body = event.body
        assert isinstance(body, Captured)
        if isinstance(body.blade, int):
            true = truth.angle_at(body.blade, event.t_ns)
            # seating and noise of blade and reference together: five standard deviations
            assert body.angle_deg == pytest.approx(true, abs=0.16)
        else:
            assert body.angle_deg == pytest.approx(3.0, abs=0.25)  # the zero error stays in


def test_knocks_come_as_the_scenario_says() -> None:
    counts = [len(job_done(seed).hangar.truth().moved) for seed in SEEDS]
    assert set(counts) == {0, 1, 2}
    for seed in SEEDS:
        truth = job_done(seed).hangar.truth()
        for move in truth.moved:
            assert 0.3 <= abs(move.size_deg) <= 3.0
            assert move.stage in {"set", "baseline", "check", "snug"}
            jump = truth.angle_at(move.blade, move.t_ns) - truth.angle_at(
                move.blade, move.t_ns - 10_000_000
            )
            assert jump == pytest.approx(move.size_deg, abs=1e-6)


def test_the_shares_of_no_one_and_two_knocks_are_about_alike() -> None:
    scenario = load("default")
    counts = [len(Hangar(scenario, seed)._incidents.waiting) for seed in range(300)]
    for number in (0, 1, 2):
        # binomial, n = 300, p = 1/3: four standard deviations are 33
        assert abs(counts.count(number) - 100) < 33


def test_the_same_seed_gives_the_same_world() -> None:
    again = Foreman(Hangar(load("default"), 4)).run()
    assert again.outs == job_done(4).outs
    assert again.events == job_done(4).events
    assert again.outs != job_done(5).outs


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 400_000_000), min_size=1, max_size=30), st.integers(0, 1000))
def test_advance_may_be_split_anywhere(steps_ns: list[int], seed: int) -> None:
    scenario = load("default")
    whole, split = Hangar(scenario, seed), Hangar(scenario, seed)
    end_ns = sum(steps_ns)
    once = whole.advance(end_ns, [], None)
    t_ns, pieces = 0, []
    for step_ns in steps_ns:
        t_ns += step_ns
        pieces += split.advance(t_ns, [], None)
    assert pieces == once
    assert split.truth() == whole.truth()


def test_what_comes_out_is_in_order_of_time() -> None:
    times = [out.t_ns for out in job_done(1).outs]
    assert times == sorted(times)
    assert all(t_ns % 10_000_000 == 0 for t_ns in times)


def test_the_line_carries_xdr_sentences_in_ragged_pieces() -> None:
    chunks = [out.data for out in job_done(2).outs if isinstance(out, Chunk)]
    lines = b"".join(chunks).decode("ascii").split("\r\n")[:-1]
    for line in lines:
        body, _, checksum = line.removeprefix("$").partition("*")
        assert int(checksum, 16) == reduce(xor, body.encode("ascii"))  # NMEA 0183, 5.3
    angles = [line for line in lines if ",BLADE" in line]
    seconds = job_done(2).hangar.now_ns / NS
    assert len(angles) == pytest.approx(10.0 * seconds, abs=2)
    assert any("TXT" in line for line in lines)
    assert any(",CASE" in line for line in angles)
    assert any(not chunk.endswith(b"\r\n") for chunk in chunks)
    assert any(chunk.count(b"\r\n") > 1 for chunk in chunks)


@pytest.mark.real
def test_an_independent_reader_reads_every_sentence() -> None:
    """Against pynmea2, an independent reader of NMEA 0183."""
    import pynmea2

    chunks = [out.data for out in job_done(2).outs if isinstance(out, Chunk)]
    text = b"".join(chunks).decode("ascii")
    parsed = [pynmea2.parse(line, check=True) for line in text.split("\r\n")[:-1]]
    angles = [one for one in parsed if one.sentence_type == "XDR"]
    named = [one.get_transducer(k).id for one in angles for k in range(one.num_transducers)]
    assert named.count("BLADE") == len(angles)
    assert len(set(named)) > 1


@pytest.mark.parametrize(
    ("body", "framed"),
    [
        # published XDR examples of inclinometers, checksums computed again with pynmea2
        ("YXXDR,A,14.6,D,PTCH", b"$YXXDR,A,14.6,D,PTCH*58\r\n"),
        ("YXXDR,A,14.6,D,PTCH,A,-2.3,D,ROLL", b"$YXXDR,A,14.6,D,PTCH,A,-2.3,D,ROLL*42\r\n"),
        ("IIXDR,A,12.34,D,BLADE1", b"$IIXDR,A,12.34,D,BLADE1*1E\r\n"),
    ],
)
def test_a_sentence_is_framed_as_published(body: str, framed: bytes) -> None:
    assert sentence(body) == framed


def test_a_press_comes_only_when_the_level_has_lain_a_moment() -> None:
    foreman = job_done(3)
    presses = [out for out in foreman.outs if isinstance(out, Press)]
    lain_s = [
        lain for press, lain in zip(presses, foreman.lain_s, strict=True) if press.kind == "take"
    ]
    assert len(lain_s) >= 2 + 3 * 2 + 4 * 4
    assert min(lain_s) >= 0.3
    assert not any(isinstance(out, Plug) for out in foreman.outs)


def test_a_deaf_program_does_not_hang_the_person() -> None:
    foreman = Foreman(Hangar(load("default"), 1), deaf=True).run(most_s=700.0)
    truth = foreman.hangar.truth()
    assert foreman.hangar.finished
    assert "no progress" in truth.stuck
    assert foreman.hangar.now_ns < 620 * NS


def test_a_silent_program_does_not_hang_the_person() -> None:
    hangar = Hangar(load("default"), 1)
    hangar.advance(601 * NS, [], None)
    assert hangar.finished
    assert hangar.truth().stuck


def test_truth_remembers_and_asks_by_time() -> None:
    past = (((0, 20.0), (50, 21.0), (70, 21.5)),)
    truth = Truth(100, (21.5,), 3.0, (), (), past)
    assert [truth.angle_at(1, t) for t in (0, 49, 50, 69, 70, 1000)] == [
        20.0,
        20.0,
        21.0,
        21.0,
        21.5,
        21.5,
    ]


def test_blades_are_set_near_the_target_by_hand() -> None:
    for seed in SEEDS:
        foreman = job_done(seed)
        truth = foreman.hangar.truth()
        errors = [
            truth.angle_at(event.body.blade, event.t_ns) - 21.0
            for event in foreman.said(Held)
            if isinstance(event.body, Held)
        ]
        assert all(abs(error) < 0.35 for error in errors)
        assert math.fsum(errors) != 0.0
