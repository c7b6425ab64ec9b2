"""The demo does the whole job, and what it says is true: the simulated hangar knows better."""

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from daemon.__main__ import main
from daemon.cli.demo import demo
from daemon.demo.live import LETS_LOOK_S, about, begins_with, live
from daemon.session.replay import replay
from shared.events import Captured, Held
from shared.inputs import NS
from simulator.hangar import Hangar
from simulator.outcome import breaches
from simulator.scenario import load
from simulator.truth import Truth
from tests.simulated import simulated
from tests.whole.program import stillblade

SEEDS = [
    *range(1, 17),
    *(pytest.param(seed, marks=pytest.mark.long) for seed in range(17, 41)),
]
CALL_FROM_DEG = 0.4
QUICK = ["demo", "--fast", "--scenario", "default"]


def largest_moves(truth: Truth) -> dict[int, float]:
    return {
        m.blade: max(abs(x.size_deg) for x in truth.moved if x.blade == m.blade)
        for m in truth.moved
    }


@pytest.mark.parametrize("seed", SEEDS)
def test_every_statement_of_the_default_scenario_is_true(seed: int) -> None:
    """U95 at most 0.15, errors within twice as much as is stated, nobody untouched called, every 0.4 called.

    And nothing is said that the scenario does not allow.
    """
    outcome = simulated("default", seed)
    summary, truth = outcome.summary(), outcome.truth
    assert truth.stuck == ""
    assert outcome.recording.reach_ns / NS + LETS_LOOK_S < 7 * 60
    assert breaches(outcome.recording.events, truth, load("default").allowed) == []
    assert summary["state"] == "finished"
    bodies = [event.body for event in outcome.recording.events]
    assert max(b.u95_deg for b in bodies if isinstance(b, Captured | Held)) <= 0.15
    assert summary["largest_error_deg"] <= 0.10
    for event in outcome.recording.events:
        body = event.body
        if isinstance(body, Captured) and isinstance(body.blade, int):
            true = truth.angle_at(body.blade, event.t_ns)
            assert abs(body.angle_deg - true) <= 2.0 * body.u95_deg, (body.id, body.angle_deg, true)
    called, moves = set(summary["called_moved"]), largest_moves(truth)
    assert called <= set(moves), "an untouched blade was accused"
    assert {b for b, size in moves.items() if size >= CALL_FROM_DEG} <= called


@pytest.mark.parametrize("seed", range(1, 9))
def test_a_job_replays_to_what_was_said(seed: int) -> None:
    recording = simulated("default", seed).recording
    assert replay(recording) == recording.events


def test_the_seeds_hold_what_the_scenario_promises() -> None:
    """Jobs with no knock, with one and with two, of 0.3 to 3 degrees."""
    moves = [simulated("default", seed).truth.moved for seed in (1, 2, 3)]
    assert [len(one) for one in moves] == [0, 1, 2]
    assert all(0.3 <= abs(move.size_deg) <= 3.0 for one in moves for move in one)


def test_a_demo_says_how_long_it_takes_and_lets_one_look_at_the_alarm() -> None:
    """Four minutes with its twelve seconds: three to six over the seeds, as its help says."""
    assert "about 4 min" in begins_with("default", 2, pace=1.0)
    assert "about 1 min" in begins_with("default", 2, pace=4.0)
    hangar = Hangar(load("default"), 2, LETS_LOOK_S)
    assert about(hangar, "prepare", "begins") == "begins"
    assert about(hangar, "set", "begins") == ""
    hangar._person.lets_look = True
    assert "12 s" in about(hangar, "answer", "begins")


async def test_whoever_hurries_a_demo_has_as_long_to_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It said that the alarm stands for 12 s, and at four times the pace it stood for 3."""
    stands: list[float] = []

    class Seen(Hangar):
        def __init__(self, *given: Any, **more: Any) -> None:
            super().__init__(*given, **more)
            stands.append(given[2])

    async def leave(*_: object) -> None:
        """Go at once."""

    monkeypatch.setattr("daemon.demo.live.Hangar", Seen)
    for pace in (1.0, 4.0):
        path = tmp_path / f"{pace}.session"
        await live("quiet", 1, leave, path=path, pace=pace, watched=True)
    assert [seconds / pace for seconds, pace in zip(stands, (1.0, 4.0), strict=True)] == [12, 12]


def test_the_command_prints_the_same_objects_again_with_the_names_it_promises() -> None:
    words = ("demo", "--scenario", "default", "--fast", "--headless", "--json", "--seed", "3")
    done, again = stillblade(*words), stillblade(*words, PYTHONHASHSEED="7")
    assert done.returncode == 0
    assert done.stdout == again.stdout, "the same seed gives the same bytes"
    events = [json.loads(line) for line in done.stdout.splitlines()]
    assert all("event" in e and "t_s" in e for e in events)
    captured = next(e for e in events if e["event"] == "captured")
    assert captured.keys() >= {"blade", "stage", "angle_deg", "u95_deg", "samples", "level"}
    verdicts = [e for e in events if e["event"] == "verdict"]
    assert {v["blade"] for v in verdicts} == {"reference", 1, 2, 3}
    assert all(v.keys() >= {"state", "change_deg", "probability"} for v in verdicts)
    assert all(v["could_hide_deg"] > 0 for v in verdicts if v["state"] == "steady")
    summary = events[-1]
    assert summary["event"] == "summary"
    assert summary.keys() >= {
        "blades",
        "spread_deg",
        "true_deg",
        "largest_error_deg",
        "truth_moved",
        "called_moved",
    }
    assert summary["truth_moved"] == [1, 3]


@pytest.mark.parametrize(("scenario", "seed"), [("default", 2), ("both-sides", 1)])
def test_the_exit_code_is_the_result(
    scenario: str, seed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    code = demo(scenario=scenario, seed=seed, fast=True, json_=True)
    summary = json.loads(capsys.readouterr().out.splitlines()[-1])
    limits = load(scenario).job.target
    worst = [row["tolerance"] for row in summary["blades"]] + [summary["spread"]]
    assert code == int(summary["result"] != "within")
    assert (summary["result"] == "within") == (worst == ["in"] * len(worst))
    if summary["spread"] == "in":
        assert summary["spread_deg"] + summary["spread_u95_deg"] <= limits.spread_deg


def test_an_unknown_scenario_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--scenario", "nowhere", "--fast"]) == 2
    said = capsys.readouterr().err
    assert "nowhere: no such scenario" in said
    assert "`stillblade scenarios` lists them" in said


def test_what_a_demo_keeps_becomes_a_page_by_the_command_that_it_names(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "kept.session"
    assert main([*QUICK, "--session", str(kept)]) == 0
    said = capsys.readouterr().out
    offered = next(line for line in said.splitlines() if "stillblade sheet" in line)
    assert main(offered.partition("stillblade ")[2].split()) == 0
    assert kept.with_suffix(".pdf").read_bytes().startswith(b"%PDF")


def test_a_demo_that_keeps_nothing_says_how_it_would_be_kept(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(QUICK) == 0
    last = capsys.readouterr().out.splitlines()[-1]
    assert last.startswith("nothing is kept; --session FILE")


@pytest.mark.parametrize("how", ["--fast", "--headless"])
@pytest.mark.parametrize(("file", "code"), [("no/folder/x.session", 3), ("there.session", 2)])
def test_where_nothing_can_be_kept_no_job_is_played(
    how: str,
    file: str,
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A whole job was played, and then it was said that it cannot be kept."""
    monkeypatch.chdir(tmp_path)
    Path("there.session").write_text("mine", "utf-8")
    assert main(["demo", how, "--session", file]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert f"{file}: " in said.err
    assert Path("there.session").read_text("utf-8") == "mine"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
@pytest.mark.parametrize(
    ("words", "asked", "said"),
    [
        ((), "nothing of it is kept. Leave the screen?", "nothing is kept; --session FILE"),
        (
            ("--session", "mine.session"),
            "everything is on record. Leave the screen?",
            "again on the screen, at any moment of it: stillblade replay mine.session",
        ),
    ],
)
def test_who_leaves_a_played_demo_is_told_what_is_kept(
    words: tuple[str, ...], asked: str, said: str, tmp_path: Path
) -> None:
    from tests.whole.dialogue import Dialogue

    played = Dialogue(tmp_path, "demo", "--play", *words)
    try:
        played.wait_for("you are the hands")
        played.keys("q")
        played.wait_for(asked)
        played.keys("y")
        played.wait_for("left before its end")
        played.wait_for(said)
        assert played.end() == 0
    finally:
        played.kill()
    assert (tmp_path / "mine.session").exists() == bool(words)
