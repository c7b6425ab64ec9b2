"""The job file that is written: TOML that means what was said, whatever was said."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.dialog.filed import write_new
from daemon.dialog.written import job_text, toml
from daemon.session.jobs import load_job
from shared.errors import BadInputError, OutsideError

TABLES: dict[str, Any] = {
    "name": 'Three "blades"',
    "aircraft": "",
    "manual": "",
    "propeller": {
        "blades": 3,
        "layout": "pusher",
        "rotation": "anticlockwise",
        "station": "75 % radius",
        "radius_m": 0.62,
        "labels": ["red", "white", "blue"],
    },
    "target": {"angle_deg": 21.0, "tolerance_deg": 0.2, "spread_deg": 0.15},
    "setup": {"reference": "half-turn"},
    "plan": {
        "clamps": [[1], [2], [3]],
        "order": "clamp by clamp",
        "bolts": [
            {"name": "hub", "count": 6, "torque": 12.5, "unit": "N.m", "passes": [0.5, 1.0]},
            {"name": "rim", "count": 4, "torque": 40.0, "unit": "lbf.in", "passes": [1.0]},
        ],
    },
}
LEVEL: dict[str, Any] = {
    "name": "chord",
    "profile": "nmea-xdr",
    "port": "/dev/null",
    "settings": {"fields": {"angle": {"source": "TILT", "offset": -0.08}}},
}

characters = st.characters(exclude_categories=["Cs"])
values = st.recursive(
    st.text(characters) | st.booleans() | st.integers(-(2**62), 2**62)
    | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(characters, max_size=5), inner, max_size=3),
)  # fmt: skip


@given(values)
def test_any_value_is_toml_that_means_it(value: Any) -> None:
    assert tomllib.loads(f"key = {toml(value)}")["key"] == value


def test_what_was_said_stands_in_the_job(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    write_new(path, job_text(TABLES, LEVEL, ["zero: UNPROVEN, it was left out"], "2031-05-06"))
    job = load_job(path)
    assert job.name == 'Three "blades"'
    assert (job.propeller.layout, job.propeller.rotation) == ("pusher", "anticlockwise")
    assert job.propeller.labels == ["red", "white", "blue"]
    assert job.target.model_dump() == TABLES["target"]
    assert job.setup.reference == "half-turn"
    assert [one.torque for one in job.plan.bolts] == [12.5, 40.0]
    assert job.plan.order == "clamp by clamp"
    assert job.level[0].settings == LEVEL["settings"]
    assert "# zero: UNPROVEN" in path.read_text()


@given(st.text(characters), st.text(characters))
def test_no_name_and_no_manual_breaks_out_of_its_place(name: str, manual: str) -> None:
    text = job_text({**TABLES, "name": name, "manual": manual}, LEVEL, [], "2031-05-06")
    read = tomllib.loads(text)
    assert (read["name"], read["manual"]) == (name, manual)
    assert set(read) <= {
        "stillblade_job", "name", "aircraft", "manual",
        "propeller", "target", "setup", "plan", "level",
    }  # fmt: skip


def test_a_file_that_is_there_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("mine")
    with pytest.raises(BadInputError, match="is there already"):
        write_new(path, "another")
    assert [one.read_text() for one in tmp_path.iterdir()] == ["mine"]


def test_a_folder_that_is_not_there_is_the_worlds_fault(tmp_path: Path) -> None:
    with pytest.raises(OutsideError, match="cannot be written"):
        write_new(tmp_path / "none" / "job.toml", "text")
