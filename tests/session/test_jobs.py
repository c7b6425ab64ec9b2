"""Job files as they are found on somebody's disk: read right, or refused in words with a remedy."""

import os
import sys
from pathlib import Path

import pytest

from daemon.session.jobs import load_job, resolve_profiles
from drivers import profiles
from shared.errors import BadInputError

JOB = """stillblade_job = 1
name = "Two blades"
propeller = {blades = 2, rotation = "clockwise", layout = "tractor", station = "s", labels = ["green", "red"]}
target = {angle_deg = 17.5, tolerance_deg = 0.3, spread_deg = 0.2}
level = [{name = "chord", profile = "mine.toml"}]
"""


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "job.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refused(path: Path) -> str:
    with pytest.raises(BadInputError) as caught:
        load_job(path)
    assert caught.value.where == str(path)
    return str(caught.value)


@pytest.mark.parametrize("name", ["a byte order mark", "lines that end as on Windows"])
def test_an_editor_of_another_system_spoils_nothing(tmp_path: Path, name: str) -> None:
    """TOML 1.0 is UTF-8; some editors put U+FEFF before it, and it is no part of the text."""
    text = "\ufeff" + JOB if name.startswith("a") else JOB.replace("\n", "\r\n")
    assert load_job(written(tmp_path, text)).name == "Two blades"


def test_a_profile_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("\ufeff" + profiles.text_of("text-line"), "utf-8")
    job = load_job(written(tmp_path, JOB))
    assert resolve_profiles(job, tmp_path)["chord"].kind == "text-line"


def test_a_profile_that_is_not_there_is_told_in_words(tmp_path: Path) -> None:
    job = load_job(written(tmp_path, JOB))
    with pytest.raises(BadInputError) as caught:
        resolve_profiles(job, tmp_path)
    assert f"({tmp_path / 'mine.toml'}: No such file or directory)" in str(caught.value)
    assert "Errno" not in str(caught.value)


@pytest.mark.parametrize("other", ["green", " Green "])
def test_two_blades_by_one_name_are_refused(tmp_path: Path, other: str) -> None:
    """The voice says the label and nothing else: it would send the hands to either of two blades."""
    said = refused(written(tmp_path, JOB.replace('"red"', f'"{other}"')))
    assert "propeller.labels: 'green' stands for more than one blade (" in said


@pytest.mark.parametrize(
    ("whole", "empty", "key"),
    [
        ('name = "Two blades"', 'name = " "', "name"),
        ('station = "s"', 'station = ""', "propeller.station"),
        ("target =", 'people = [{name = "Ada"}, {name = ""}]\ntarget =', "people 2: name"),
    ],
)
def test_what_record_and_screen_name_it_by_is_not_empty(
    tmp_path: Path, whole: str, empty: str, key: str
) -> None:
    said = refused(written(tmp_path, JOB.replace(whole, empty)))
    assert f"{key}: is empty (" in said


def test_a_level_without_a_name_is_told_so(tmp_path: Path) -> None:
    said = refused(written(tmp_path, JOB.replace('name = "chord"', 'name = ""')))
    assert "level 1: name: must not be empty" in said


def test_what_is_nested_too_deep_is_refused(tmp_path: Path) -> None:
    assert "nested too deep" in refused(written(tmp_path, "a = " + "[" * 100_000))


@pytest.mark.skipif(sys.platform == "win32", reason="no named pipes in a folder there")
def test_what_is_no_file_is_not_waited_for(tmp_path: Path) -> None:
    """A named pipe that nobody writes to never ends."""
    path = tmp_path / "job.toml"
    os.mkfifo(path)
    assert refused(path) == f"{path}: cannot be read: it is no file"
