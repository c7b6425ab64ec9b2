"""Profiles and jobs the measuring tests share; invented."""

from typing import Any

from daemon.measure.stream.reading import Reading
from shared.job import Job
from shared.profile import LevelProfile


def profile(convention: str = "planar", **changes: Any) -> LevelProfile:
    roles = {
        "planar": ["angle"],
        "projection": ["angle"],
        "roll-pitch": ["roll", "pitch"],
        "vector": ["ax", "ay", "az"],
    }[convention]
    unit = "g" if convention == "vector" else "deg"
    data: dict[str, Any] = {
        "stillblade_profile": 1,
        "kind": "test-level",
        "title": "Test level",
        "convention": convention,
        "format": {"codec": "text-line"},
        "fields": {role: {"unit": unit} for role in roles},
    }
    return LevelProfile.model_validate(data | changes)


def job(**changes: Any) -> Job:
    propeller = {
        "blades": 3,
        "rotation": "clockwise",
        "layout": "tractor",
        "station": "75 % radius",
    }
    data: dict[str, Any] = {
        "stillblade_job": 1,
        "name": "test",
        "propeller": propeller | changes.pop("propeller", {}),
        "target": {"angle_deg": 18.0, "tolerance_deg": 0.2, "spread_deg": 0.2},
        "level": [{"name": "a", "profile": "test-level"}],
    }
    return Job.model_validate(data | changes)


def reading(mean_deg: float, **changes: Any) -> Reading:
    values: dict[str, Any] = {
        "mean_deg": mean_deg,
        "u_deg": 0.01,
        "dof": 30.0,
        "n": 10,
        "sd_deg": 0.03,
        "lag1": 0.0,
        "reached": True,
        "psi_deg": None,
        "u_psi_deg": None,
        "resolution_deg": 0.01,
    }
    return Reading(**(values | changes))
