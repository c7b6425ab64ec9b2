"""A person who begins with a level and nothing else: what is answered, how the level is laid."""

from pathlib import Path

import pytest

from daemon.session.headers import make_header
from daemon.session.jobs import load_job
from daemon.session.learned import known
from tests.whole.dialogue import Dialogue
from tests.whole.program import Level, Running

SLOPE, ZERO = 1.7, 0.08
"""The bench that the level lies on, and how much it shows too much, degrees."""
ITS_PROPELLER = (
    ("name for this job", "Two blades, Harrowmere strip"),
    ("Which aircraft", ""),
    ("title, revision, page", "Manual of the propeller, rev. C, p. 12"),
    ("How many blades", "2"),
    ("tractor or a pusher", "tractor"),
    ("looking forward?", "clockwise"),
    ("At which station", "150 mm in from the tip"),
    ("hub's centre, with its unit", "620 mm"),
    ("names for the 2 blades", "green, yellow"),
    ("hub's serial number", ""),
    ("Which blade angle", "17.5"),
    ("How far off may one blade be", "0,3"),
    ("How far may any two blades differ", "0.2"),
    ("flat, leaning", "flat"),
    ("All, each, or which sets", "all"),
    ("torque for bolts", "no"),
)


def its_level(dialogue: Dialogue, where: str) -> None:
    """Answer the questions about the level, which is in someone's hand."""
    dialogue.say(
        ("Which is your level?", where),
        ("Which profile reads it", ""),
        ("does the number follow", "yes"),
        ("stay, or does it shrink", "stays"),
    )
    dialogue.wait_for("What is its smallest step")
    dialogue.wait_for("smallest step 0.01")
    dialogue.type("")
    dialogue.say(("name for this level", "chord"))


def place(dialogue: Dialogue, level: Level, angle_deg: float) -> None:
    """Lift the level, lay it again, and leave it until it is read."""
    level.carry()
    level.lay(angle_deg)
    dialogue.wait_for("taken: ")


def tried_and_written(dialogue: Dialogue, level: Level, folder: Path) -> Path:
    """Try the level, answer for the propeller, have it written; return the job, looked through."""
    level.lay(SLOPE + ZERO)
    dialogue.say(("unproven", ""))
    dialogue.wait_for("taken: ")
    place(dialogue, level, -SLOPE + ZERO)
    dialogue.wait_for("zero error")
    dialogue.say(("unproven", ""))
    level.carry()
    level.lay(SLOPE)
    dialogue.wait_for("noise ")
    dialogue.say(("unproven", ""))
    for off in (0.0, 0.02, -0.03, 0.01, 0.0):
        place(dialogue, level, SLOPE + off)
    dialogue.wait_for("seating ")
    dialogue.say(*ITS_PROPELLER, ("Which file", ""), ("Enter writes it", ""))
    dialogue.wait_for("stillblade run two-blades-harrowmere-strip.toml")
    assert dialogue.end() == 0, dialogue.heard
    path = folder / "two-blades-harrowmere-strip.toml"
    _is_what_was_said(path)
    return path


def _is_what_was_said(path: Path) -> None:
    job = load_job(path)
    assert job.target.model_dump() == {"angle_deg": 17.5, "tolerance_deg": 0.3, "spread_deg": 0.2}
    assert job.propeller.labels == ["green", "yellow"]
    assert "UNPROVEN" not in path.read_text()
    profile = make_header(job, path.parent, levels=known(path.parent)).profiles["chord"]
    assert profile.fields["angle"].offset == pytest.approx(-ZERO, abs=0.07)
    assert profile.accuracy.zero_date
    assert profile.noise.n >= 120
    assert profile.noise.sd_deg == pytest.approx(0.02, rel=0.3)
    assert profile.seating.n == 5
    assert 0.005 < profile.seating.u_deg < 0.1


def first_reading(job: Path, level: Level) -> None:
    """Run the job until it has taken its first reading."""
    program = Running(job)
    program.wait_for(event="step", stage="prepare")
    program.press("done")
    program.wait_for(event="step", stage="reference")
    captured = level.read(program, -3.0, blade="reference")
    assert captured["event"] == "captured"
    program.kill()
