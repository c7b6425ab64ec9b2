"""Three files written by version 0.1.0 still open: a job, what was learned, an unfinished session.

`shed.toml` was written by hand. Version 0.1.0 did that job three times in its simulated hangar
(scenario `default` without its incidents, seeds 31 to 33) and pooled what it learned; the session
is a fourth (seed 34), left when two blades were read before tightening. Rules 3.
"""

import json
import logging
import shutil
from pathlib import Path

import pytest

from daemon.core.rules import RULES
from daemon.session.begin import begin
from daemon.session.headers import make_header
from daemon.session.jobs import load_job
from daemon.session.learned import known
from daemon.session.reader import read
from daemon.session.recording import read as read_anything
from daemon.session.replay import replay, verify
from shared.events import Captured

FILES = Path(__file__).parents[1] / "data" / "0.1.0"
SESSION = "shed-20260105-090000.session"
STARTED = "2026-02-03T09:00:00+00:00"


@pytest.fixture
def shed(tmp_path: Path) -> Path:
    """A copy, since a session that is taken up is written to."""
    shutil.copytree(FILES, tmp_path / "shed")
    return tmp_path / "shed"


def test_the_job_file_loads_as_it_was_frozen_then() -> None:
    """But for two things that a job now means where it does not say otherwise."""
    then, now = read(FILES / SESSION).header.job, load_job(FILES / "shed.toml")
    assert (then.plan.baseline_placements, now.plan.baseline_placements) == (2, 1)
    plan = now.plan.model_copy(update={"baseline_placements": 2})
    assert now.model_copy(update={"plan": plan}) == then


def test_what_was_learned_is_used(shed: Path) -> None:
    levels = known(shed)
    [level] = levels.levels.values()
    assert (level.noise.n, level.seating.n) == (1077, 13)
    profile = make_header(load_job(shed / "shed.toml"), shed, levels=levels).profiles["chord"]
    assert (profile.noise, profile.seating) == (level.noise, level.seating)


def test_the_unfinished_session_is_whole_and_agrees_with_its_replay() -> None:
    recording = read(FILES / SESSION)
    assert (recording.header.stillblade, recording.header.rules) == ("0.1.0", 3)
    assert not recording.finished
    assert not recording.damage
    assert verify(recording, replay(recording)).agrees


@pytest.mark.parametrize("rules", sorted({RULES, 4}))
def test_the_unfinished_session_is_gone_on_with_or_a_sentence_says_why_not(
    shed: Path, rules: int, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("daemon.session.begin.RULES", rules)
    before, job_path = read(shed / SESSION), shed / "shed.toml"
    with caplog.at_level(logging.WARNING):
        begun = begin(job_path, load_job(job_path), STARTED)
    begun.store.close()
    if rules == before.header.rules:
        assert begun.say == f"taken up again: {SESSION}, {len(before.events)} events"
        assert begun.before == before.events
    else:
        assert f"recorded under rules 3, this program has {rules}" in caplog.text
        assert begun.say == "continues session shed-4 with its held blades"
        assert set(begun.engine.header.carried["blades"]) == {"1", "2", "3"}


def test_nothing_that_was_read_is_lost() -> None:
    recording = read(FILES / SESSION)
    read_then = [e.body.blade for e in recording.events if isinstance(e.body, Captured)]
    assert len(read_then) == 14


def test_a_key_that_is_absent_from_an_old_header_means_what_it_meant() -> None:
    """The values stand in docs/session.md, "Files of earlier versions"."""
    golden = FILES.parents[1] / "golden" / "format1-rules2.jsonl"
    said = json.loads(golden.read_text("utf-8").splitlines()[0])
    assert not {"reference", "wobble_deg"} & said["job"]["setup"].keys()
    header = read_anything(golden).header
    assert (header.job.setup.reference, header.job.setup.wobble_deg) == ("hub-face", 0.0)
    profile = header.profiles["chord"]
    assert all(channel.manufacturer_id is None for channel in profile.channels)
    assert all(field.none == [] for field in profile.fields.values())
