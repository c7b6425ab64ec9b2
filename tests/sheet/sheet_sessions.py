"""Two jobs with a whole header, built input by input: one given up, one with two alarms and a correction.

`python -m tests.sheet.sheet_sessions FOLDER` keeps both as session files, to look at their sheets.
"""

import sys
from pathlib import Path
from typing import Any

from daemon.session.recording import Recording
from tests.daemon.bench import header
from tests.sheet.hub_sessions import keep
from tests.workflow.jobs import Crew

PROPELLER = {
    "blades": 3,
    "rotation": "clockwise",
    "layout": "tractor",
    "station": "240 mm in from the tip",
    "labels": ["red", "white", "blue"],
    "serials": ["Q-101", "Q-102", "Q-103"],
    "hub": "H-77",
    "halves": ["M-1", "M-2"],
    "match_marks": ["one dot", "two dots", "three dots"],
    "shims": ["none", "none", "0.1 mm"],
    "damage": "blades and hub looked at by daylight: nothing found",
}
JOB: dict[str, Any] = {
    "name": "Set three blades",
    "aircraft": "Lindgarth Curlew, an invented two-seater",
    "hours": "812.4",
    "manual": "Manual of an invented propeller, revision 2, pages 7 to 9",
    "notes": "Invented workshop: the shed at Brackenfield.",
    "people": [
        {"name": "Ada Merrow", "role": "at the blades"},
        {"name": "Tomas Quill", "role": "reads and confirms"},
    ],
    "propeller": PROPELLER,
    "plan": {
        "reference_placements": 1,
        "baseline_placements": 2,
        "rounds": ["check", "snug", "torque", "final"],
        "source": "Manual of an invented propeller, revision 2, page 7",
        "bolts": [{"name": "hub", "count": 6, "torque": 22.0, "unit": "N.m", "passes": [0.5, 1.0]}],
        "wrench": {
            "name": "wrench 3",
            "calibrated": "2032-03",
            "least": 5.0,
            "most": 50.0,
            "unit": "N.m",
            "length_mm": 250.0,
            "adapter_mm": 30.0,
        },
    },
}


class Job(Crew):
    """Somebody who does what the steps say; `at` is where the blades truly stand."""

    def __init__(self, name: str) -> None:
        told = {"started": "2031-04-02T09:00:00+00:00", "session": name}
        super().__init__(header(**JOB).model_copy(update=told))
        self.at = {1: 20.0, 2: 20.02, 3: 20.0}

    def until(self, *stages: str) -> None:
        """Work until one of these."""
        for _ in range(80):
            stage, blade = self.step()
            if stage in stages:
                return
            if blade is None or stage == "slacken":
                self.press("done")
            elif blade == "reference":
                self.on_hub_face()
            else:
                self.at[blade] = 20.0 if stage == "set" else self.at[blade]
                self.on_blade(blade, self.at[blade])
        raise AssertionError(f"none of {stages} comes")

    def answer(self, then: str, by: str, reason: str) -> None:
        """Answer the alarm that waits."""
        (alarm,) = self.engine.view().alarms
        assert (
            self.press("acknowledge", id=alarm.id, then=then, by=by, reason=reason).result == "done"
        )

    def recording(self) -> Recording:
        """Return what was recorded."""
        assert self.engine.finished
        return Recording(self.header, self.inputs, self.events, self.t_ns)


def abandoned() -> Recording:
    """Blade 2 is knocked before tightening; nobody answers, and the job is given up."""
    job = Job("given-up")
    job.until("check")
    job.at[2] += 0.9
    job.until("answer")
    job.press("abandon", by="Ada Merrow", reason="the magneto's ground lead is broken")
    return job.recording()


def two_alarms() -> Recording:
    """Blade 2 moves and is accepted; torque turns blade 3 out, which is slackened and set again."""
    job = Job("two-alarms")
    job.until("check")
    job.at[2] += 0.23
    job.until("answer")
    job.answer("accept", "Ada Merrow", "the strap slipped, the blade stands where it is wanted")
    job.press("note", text="tools counted, two plugs out")
    job.press("relieve", by="Tomas Quill")
    job.until("torque")
    job.at[3] += 0.7
    job.until("answer")
    job.answer("set-again", "Tomas Quill", "blue slackened and set again")
    job.until("finished")
    job.press("done")
    return job.recording()


if __name__ == "__main__":
    keep(Path(sys.argv[1]), [abandoned(), two_alarms()])
