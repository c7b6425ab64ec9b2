"""Sessions of one hub, each a whole job through the ordinary core; where its blades stand is put in.

Run as a program it prints what the documentation shows: `python -m tests.sheet.hub_sessions`.
"""

import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from daemon.__main__ import main
from daemon.session.recording import Recording
from daemon.session.store import Store
from shared.job import Header
from tests.daemon.bench import header
from tests.workflow.jobs import Crew

ONE = {"reference_placements": 1, "baseline_placements": 2}
TWO_RINGS: list[dict[str, Any]] = [
    {"name": "hub", "tighten": True},
    {"name": "rim", "tighten": True, "read": "nothing"},
    {"name": "last"},
]
AS_LEFT = {1: 20.04, 2: 19.97}
TURNS: dict[str, dict[int, float]] = {"hub": {1: 0.06, 2: 0.05}, "rim": {1: 0.12, 2: 0.13}}
"""What the rings do to the blades, by round."""


def head(day: str, hours: str, hub: str = "H-31", **plan: Any) -> Header:
    """Return the header of a session of that hub."""
    propeller = {
        "blades": 2,
        "rotation": "clockwise",
        "layout": "tractor",
        "station": "75 % radius",
        "labels": ["green", "yellow"],
        "serials": ["K-1", "K-2"],
        "hub": hub,
    }
    made = header(
        name="Two rings",
        hours=hours,
        propeller=propeller,
        plan={**ONE, "rounds": TWO_RINGS, **plan},
    )
    return made.model_copy(update={"started": f"{day}T09:00:00+00:00", "session": f"two-{day}"})


def worked(header_: Header, found: Mapping[int, float], left: Mapping[int, float]) -> Recording:
    """Do the whole job: blades are found so, and set so that the bolts leave them so."""
    crew, at, turned = Crew(header_), dict(found), dict(left)
    for each in TURNS.values():
        turned = {blade: deg - each[blade] for blade, deg in turned.items()}
    for _ in range(60):
        stage, blade = crew.step()
        if stage == "finished" and crew.press("done").result == "done":
            break
        if blade is None or stage == "slacken":
            if stage == "tighten":
                bolts = TURNS[crew.engine._case.progress.round]
                at = {each: deg + bolts[each] for each, deg in at.items()}
            crew.press("done")
        elif blade == "reference":
            crew.on_hub_face()
        else:
            at[blade] = turned[blade] if stage == "set" else at[blade]
            crew.on_blade(blade, at[blade])
    assert crew.engine.finished, crew.step()
    return Recording(header_, crew.inputs, crew.events, crew.t_ns)


def three() -> list[Recording]:
    """Return three sessions of one hub: set; read only, blade 2 has drifted; found so and set again."""
    drifted = {1: AS_LEFT[1], 2: AS_LEFT[2] - 0.28}
    read = head("2031-09-20", "140.5").model_copy(update={"procedure": "read"})
    return [
        worked(head("2031-04-02", "100.5"), {1: 20.0, 2: 20.0}, AS_LEFT),
        worked(read, drifted, drifted),
        worked(head("2032-03-11", "180.5", as_found=True), drifted, AS_LEFT),
    ]


def keep(folder: Path, recordings: list[Recording]) -> None:
    """Write session files."""
    for one in recordings:
        store = Store.create(folder / f"{one.header.session}.session", one.header)
        store.commit(one.inputs, one.events, one.reach_ns)
        store.close()


def printed() -> int:
    """Print the history of the three."""
    with tempfile.TemporaryDirectory() as folder:
        keep(Path(folder), three())
        return main(["history", "H-31", "--folder", folder])


if __name__ == "__main__":
    sys.exit(printed())
