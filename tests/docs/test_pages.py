"""The pages say what is: commands verbatim, links, every key, every event, the examples run."""

import dataclasses
import re
import sys
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from daemon.__main__ import app
from daemon.jobs import resolve_profiles
from daemon.session.recording import read
from daemon.session.replay import replay
from drivers import codecs, profiles
from shared import job as job_module
from shared.events import Event
from shared.job import Header, Job
from shared.model import Written
from shared.profile import LevelProfile

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
COMMANDS = [
    "python3 -m venv .venv && .venv/bin/python -m pip install -e . -c constraints.txt && .venv/bin/stillblade demo",
    'python3 -m venv .venv && .venv/bin/python -m pip install -e ".[test]" -c constraints.txt && .venv/bin/python -m pytest',
]


def text_of(name: str) -> str:
    return (ROOT / name).read_text("utf-8")


def fenced(page: str, language: str) -> str:
    found = re.search(rf"```{language}\n(.*?)```", page, re.DOTALL)
    assert found
    return found.group(1)


@pytest.mark.parametrize("line", COMMANDS, ids=["demo", "tests"])
def test_the_readme_has_the_two_commands_as_they_are(line: str) -> None:
    assert f"    {line}\n" in text_of("README.md")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text("utf-8")):
        assert (page.parent / target).exists(), target


def test_every_key_of_a_job_is_explained_and_the_example_is_a_job() -> None:
    page = text_of("docs/job.md")
    models = [
        value
        for value in vars(job_module).values()
        if isinstance(value, type) and issubclass(value, BaseModel)
    ]
    for model in models:
        if model in {Header, Written, LevelProfile} or not issubclass(model, Written):
            continue
        for key in model.model_fields if model.__module__ == "shared.job" else ():
            assert f"`{key}`" in page or f"[{key}]" in page, f"{model.__name__}.{key}"
    job = Job.model_validate(tomllib.loads(fenced(page, "toml")))
    assert resolve_profiles(job, ROOT)["chord"].fields["angle"].source == "PTCH"


def test_the_session_written_by_hand_replays(tmp_path: Path) -> None:
    path = tmp_path / "by-hand.jsonl"
    path.write_text(fenced(text_of("docs/session.md"), "jsonl"), "utf-8")
    events = replay(read(path))
    assert [e.body.event for e in events][-1] == "summary"
    assert not any(e.body.event == "refused" for e in events)


def test_every_event_and_field_named_is_there() -> None:
    page = text_of("docs/commands.md")
    for body in Event.BODIES:
        name = body.__dataclass_fields__["event"].default  # type: ignore[attr-defined]
        row = next((line for line in page.splitlines() if re.match(rf"\| .*`{name}`", line)), None)
        assert row, name
        known = {field.name for other in Event.BODIES for field in dataclasses.fields(other)}
        known |= {"reference", "true_deg", "largest_error_deg", "truth_moved"}
        for word in re.findall(r"`([a-z_0-9]+)`", row.split("|")[3]):
            assert word in known, (name, word)


def test_every_command_is_in_the_table() -> None:
    page = text_of("docs/commands.md")
    names = {name for name in app if not str(name).startswith("-")}
    assert {"demo", "run", "replay", "text", "schema", "watch", "budget", "scenarios"} <= names
    for name in names:
        assert f"`{name} " in page or f"`{name}`" in page, name


def test_the_codec_of_the_guide_needs_one_file_and_no_other_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "tenths_hex.py").write_text(fenced(text_of("DEVELOPERS.md"), "python"), "utf-8")
    monkeypatch.setattr(codecs, "__path__", [*codecs.__path__, str(tmp_path)])
    profile = profiles.read(
        """
        stillblade_profile = 1
        kind = "tenths-hex"
        title = "Tenths in hexadecimal"
        convention = "planar"
        format = { codec = "tenths-hex" }
        fields = { angle = { source = "" } }
        """,
        "guide",
    )
    try:
        codec = codecs.make(profile)
        samples = codec.feed(0, b"007b\nff85\nzz\n00") + codec.feed(0, b"d2\n")
        assert [sample.values["angle"] for sample in samples] == [12.3, -12.3, 21.0]
        assert codec.refused == {"format": 1}
    finally:
        sys.modules.pop("drivers.codecs.tenths_hex", None)


def test_no_page_names_a_host_of_packages() -> None:
    for page in PAGES:
        assert not re.search(r"pypi|pythonhosted|npmjs|debian\.org", page.read_text("utf-8"))
