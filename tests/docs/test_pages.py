"""The pages say what is: commands verbatim, links, every key, every event, the examples run."""

import dataclasses
import inspect
import json
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from cyclopts import App
from pydantic.fields import FieldInfo

from daemon.__main__ import app, main
from daemon.demo.fast import fast
from daemon.session.jobs import resolve_profiles
from daemon.session.recording import read
from daemon.session.replay import replay
from daemon.session.tables import SCHEMA
from drivers import codecs, profiles
from shared import job as job_module
from shared.events import Answered, Event
from shared.inputs import CommandKind
from shared.job import Header, Job
from shared.messages import command_from_line
from shared.model import Written
from shared.plan import Bolts, Plan, Procedure, Round, Wrench
from simulator import scenario
from simulator.scenario import Scenario
from tests.simulated import simulated
from tui.measuring import Measuring

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


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_link_to_a_heading_has_its_heading(page: Path) -> None:
    for target, anchor in re.findall(r"\]\(([^)#:]*)#([^)]+)\)", page.read_text("utf-8")):
        there = (page.parent / target).read_text("utf-8") if target else page.read_text("utf-8")
        headings = re.findall(r"^#+ (.+)$", there, re.MULTILINE)
        slugs = {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}
        assert anchor in slugs, (target, anchor)


EXAMPLES = {"my_format.py"}
"""A file that the reader is told to write."""
OURS = "daemon|drivers|shared|tui|simulator|tests|benchmarks|docs"


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_path_that_is_named_exists(page: Path) -> None:
    text = page.read_text("utf-8")
    named = re.findall(rf"(?<![\w/.-])((?:{OURS})/[\w./-]*\w/?)(?![\w*])", text)
    assert [path for path in named if not (ROOT / path).exists()] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_module_that_is_run_or_named_exists(page: Path) -> None:
    text = page.read_text("utf-8")
    for module in re.findall(rf"-m ((?:{OURS})[\w.]*)", text):
        path = ROOT.joinpath(*module.split("."))
        assert path.with_suffix(".py").exists() or (path / "__main__.py").exists(), module


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_file_that_is_named_without_its_room_exists(page: Path) -> None:
    files = [
        file.relative_to(ROOT).as_posix()
        for root in OURS.split("|")
        for file in (ROOT / root).rglob("*.py")
    ]
    named = re.findall(r"`([\w/]+\.py)`", page.read_text("utf-8"))
    lost = [name for name in named if not any(f"/{file}".endswith(f"/{name}") for file in files)]
    assert [name for name in lost if name not in EXAMPLES] == []


def test_every_page_is_held_to_its_paths_by_a_pattern_that_finds_them() -> None:
    pages = [page.read_text("utf-8") for page in PAGES]
    assert sum(len(re.findall(rf"`(?:{OURS})/[\w./-]+`", page)) for page in pages) > 100


def test_the_changelog_begins_with_this_version() -> None:
    version = tomllib.loads(text_of("pyproject.toml"))["project"]["version"]
    assert re.findall(r"^## (.+)$", text_of("CHANGELOG.md"), re.MULTILINE)[0] == version


def rows_of(page: str) -> dict[str, list[str]]:
    """Cells of every table row by each word set as code in its first cell."""
    rows = [line.strip("| ").split(" | ") for line in page.splitlines() if line.startswith("| `")]
    return {word: row for row in rows for word in re.findall(r"`([^`]+)`", row[0])}


def tables_of_a_job() -> list[type[Written]]:
    """What a person writes; a name with a bar in front is of a header, which the program writes."""
    return [Plan] + [
        value
        for value in vars(job_module).values()
        if isinstance(value, type) and issubclass(value, Written) and value is not Header
        if value.__module__ == job_module.__name__ and not value.__name__.startswith("_")
    ]


def default_in_toml(field: FieldInfo) -> str:
    if field.is_required():
        return "must be given"
    default = field.get_default(call_default_factory=True)
    if isinstance(default, Written):
        return "as below"
    if default is None:
        return "none"
    if default == "" or isinstance(default, list | dict):
        return f"`{json.dumps(default)}`"
    return f"`{default}`"


SECTIONS = {
    "Job": "",
    "Person": "[[people]]",
    "Propeller": "[propeller]",
    "Target": "[target]",
    "Setup": "[setup]",
    "Plan": "[plan]",
    "Thresholds": "[thresholds]",
    "Broker": "[broker]",
    "LevelEntry": "[[level]]",
}


@pytest.mark.parametrize("model", tables_of_a_job(), ids=lambda m: m.__name__)
def test_every_key_of_a_job_is_explained_with_its_default(model: type[Written]) -> None:
    page = text_of("docs/job.md")
    title, *parts = re.split(r"^## ", page, flags=re.MULTILINE)
    texts = {"": title, **{part.split("\n", 1)[0]: part for part in parts}}
    rows = rows_of(texts[SECTIONS[model.__name__]])
    assert set(rows) == set(model.model_fields)
    for key, field in model.model_fields.items():
        assert rows[key][1] == default_in_toml(field), key


@pytest.mark.parametrize(
    ("model", "heading"), [(Round, "A round"), (Bolts, "A group of bolts"), (Wrench, "The wrench")]
)
def test_every_key_of_a_procedure_is_explained_with_its_default(
    model: type[Written], heading: str
) -> None:
    part = text_of("docs/procedure.md").split(f"### {heading}\n", 1)[1].split("\n#", 1)[0]
    rows = rows_of(part)
    assert set(rows) == set(model.model_fields)
    for key, field in model.model_fields.items():
        assert rows[key][1] == default_in_toml(field), key


def test_the_procedure_of_its_page_is_one() -> None:
    text = text_of("docs/procedure.md").split("## A procedure file", 1)[1]
    procedure = Procedure.model_validate(tomllib.loads(fenced(text, "toml")))
    assert [one.name for one in procedure.plan.in_order] == ["seat", "hub", "rim", "last"]


@pytest.mark.parametrize("page", ["README.md", "docs/job.md"])
def test_the_example_is_a_job(page: str) -> None:
    job = Job.model_validate(tomllib.loads(fenced(text_of(page), "toml")))
    assert set(resolve_profiles(job, ROOT)) == {"chord"}


def test_the_job_page_lays_its_settings_over_the_profile() -> None:
    job = Job.model_validate(tomllib.loads(fenced(text_of("docs/job.md"), "toml")))
    assert resolve_profiles(job, ROOT)["chord"].fields["angle"].source == "PTCH"


def by_hand(folder: Path) -> Path:
    path = folder / "by-hand.jsonl"
    path.write_text(fenced(text_of("docs/session.md"), "jsonl"), "utf-8")
    return path


def test_the_session_written_by_hand_replays(tmp_path: Path) -> None:
    events = replay(read(by_hand(tmp_path)))
    assert [e.body.event for e in events][-1] == "summary"
    assert not any(e.body.event == "refused" for e in events)
    assert any(isinstance(e.body, Answered) and e.body.result == "done" for e in events)


def test_a_session_without_outputs_cannot_be_verified(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(by_hand(tmp_path)), "--verify"]) == 1
    assert "no recorded outputs" in capsys.readouterr().out


def test_a_damaged_session_is_refused_and_its_text_form_replays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = by_hand(tmp_path)
    path.write_text(path.read_text("utf-8").replace('"kind": "done"', '"kind": "dome"'), "utf-8")
    assert main(["replay", str(path)]) == 2
    capsys.readouterr()
    assert main(["text", str(path)]) == 2
    told = capsys.readouterr()
    assert "left out: line 4" in told.err
    saved = tmp_path / "saved.jsonl"
    saved.write_text(told.out, "utf-8")
    assert main(["replay", str(saved)]) == 0


def test_the_tables_of_a_session_file_are_those_named() -> None:
    page = text_of("docs/session.md").split("## When it is written", maxsplit=1)[0]
    named = set(rows_of(page))
    assert named == set(re.findall(r"CREATE TABLE (\w+)", SCHEMA))


@pytest.mark.parametrize(
    "body", Event.BODIES, ids=lambda b: str(b.__dataclass_fields__["event"].default)
)
def test_every_field_of_every_event_is_named(body: Any) -> None:
    page = text_of("docs/commands.md").split("## What is printed", 1)[1]
    row = rows_of(page.split("## Commands on standard input")[0])[
        body.__dataclass_fields__["event"].default
    ]
    fields = {field.name for field in dataclasses.fields(body)} - {"event"}
    assert set(re.findall(r"`([a-z_0-9]+)`", row[2])) == fields


def test_every_command_on_standard_input_is_named_and_no_other() -> None:
    page = text_of("docs/commands.md").split("## Commands on standard input")[1]
    assert set(rows_of(page)) == set(get_args(CommandKind))
    for line in re.findall(r"`(\{.*?\})`[,.:]", page):
        assert command_from_line(line, 7, "stdin").seen == 7


def test_every_key_of_the_screen_is_named_and_no_other() -> None:
    page = text_of("docs/commands.md").split("## Keys")[1].split("\n## ")[0]
    keys = {key for b in Measuring.BINDINGS for key in getattr(b, "key", "").split(",")}
    bound = {key.lower() for key in keys}  # a letter is bound with Shift too
    named = set(rows_of(page)) | {str(number) for number in range(7)}
    assert named == bound


def commands_of(parent: App, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], App]]:
    for name in parent:
        if name.startswith("-"):
            continue
        inner = [word for word in parent[name] if not word.startswith("-")]
        if inner:
            yield from commands_of(parent[name], (*path, name))
        else:
            yield (*path, name), parent[name]


def test_every_command_and_option_is_on_the_page_and_no_other() -> None:
    usages = [u.split() for u in rows_of(text_of("docs/commands.md").split("## Keys")[0])]
    left = [usage for usage in usages if usage[0] != "COMMAND"]
    for words, command in commands_of(app):
        here = [usage for usage in left if tuple(usage[: len(words)]) == words]
        assert here, words
        left = [usage for usage in left if usage not in here]
        assert command.default_command
        parameters = inspect.signature(command.default_command).parameters.values()
        options = {
            f"--{p.name.rstrip('_').replace('_', '-')}"
            for p in parameters
            if p.kind is p.KEYWORD_ONLY
        }
        assert {word.strip("[]") for usage in here for word in usage if "--" in word} == options
    assert not left


def test_every_command_has_its_help(capsys: pytest.CaptureFixture[str]) -> None:
    for words, _ in commands_of(app):
        assert main([*words, "--help"]) == 0
        assert f"stillblade {' '.join(words)}" in capsys.readouterr().out


def test_the_demo_of_the_pictures_has_its_knock_and_calls_it() -> None:
    outcome = simulated("default", 2)
    assert [move.blade for move in outcome.truth.moved] == [1]
    assert outcome.closing.called_moved == [1]


def test_the_scenario_of_the_guide_happens_as_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    tables = tomllib.loads(fenced(text_of("DEVELOPERS.md"), "toml"))
    like = tomllib.loads(text_of(f"simulator/scenarios/{tables.pop('like')}.toml"))
    written = Scenario.model_validate({**like, **tables})
    monkeypatch.setattr(scenario, "load", lambda _: written)
    outcome = fast("guide", 1)
    assert [move.blade for move in outcome.truth.moved] == [3]
    assert outcome.closing.called_moved == [3]


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
        assert not re.search(r"pypi|pythonhosted|npmjs", page.read_text("utf-8"))
