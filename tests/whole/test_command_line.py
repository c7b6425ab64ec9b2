"""Wrong input at the command line: one clear sentence, the right exit code, no traceback."""

import json
from pathlib import Path

import jsonschema
import pytest

from daemon.__main__ import main
from tests.golden.record import path
from tests.whole.program import JOB, stillblade

ROOT = Path(__file__).parents[2]

CASES = [
    (
        "tolerance_deg = 0.3",
        "tolerance = 0.3",
        "target.tolerance: no such key (tolerance_deg is meant?)",
    ),
    ("tolerance_deg = 0.3", 'tolerance_deg = "narrow"', "target.tolerance_deg"),
    ("tolerance_deg = 0.3", "tolerance_deg = -1", "target.tolerance_deg"),
    ("tolerance_deg = 0.3", "tolerance_deg = nan", "target.tolerance_deg"),
    ("blades = 2", "blades = 9", "propeller.blades"),
    ('rotation = "clockwise"', 'rotation = "left"', "propeller.rotation"),
    ('name = "chord"\n', 'name = "chord"\nspeed = 3\n', "level 1: speed"),
    ('profile = "nmea-xdr"', 'profile = "no-such"', "profile"),
    ('"BLADE"', "3", "fields.angle.source"),
    ('rounds = ["check"]', 'rounds = ["chek"]', "plan.rounds 1: must"),
    ("stillblade_job = 1", "stillblade_job = 2", "stillblade_job"),
    ("[propeller]", "[propeller", "not TOML"),
]


@pytest.mark.parametrize(("old", "new", "key"), CASES, ids=[c[1][:24] for c in CASES])
def test_a_wrong_job_names_file_key_and_what_was_expected(
    tmp_path: Path, old: str, new: str, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert old in JOB
    path = tmp_path / "wrong.toml"
    path.write_text(JOB.replace(old, new).replace("PORT", "/dev/null"), "utf-8")
    assert main(["run", str(path), "--headless"]) == 2
    said = capsys.readouterr().err
    assert key in said
    assert "wrong.toml" in said or "level chord" in said or "profile" in said
    assert len(said.strip().splitlines()) == 1
    assert not list(tmp_path.glob("*.session"))


def test_a_program_that_is_started_with_a_wrong_job_ends_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text("[propeller", "utf-8")
    done = stillblade("run", str(path), "--headless")
    assert done.returncode == 2, done.stderr
    assert done.stderr.startswith("stillblade: ")
    assert len(done.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "words",
    [
        ["run"],
        ["run", "absent.toml"],
        ["replay", "absent.session"],
        ["replay", __file__],
        ["text", __file__],
        ["schema", "weather"],
        ["demo", "--seed", "many"],
        ["demo", "--pace", "0"],
        ["nonsense"],
    ],
    ids=lambda w: " ".join(w)[:30],
)
def test_bad_input_exits_2_in_one_sentence(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said
    assert said.strip()


@pytest.mark.parametrize("what", ["job", "level", "session", "messages"])
def test_schemas_are_schemas(what: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Against the JSON Schema 2020-12 meta-schema (jsonschema carries it)."""
    assert main(["schema", what]) == 0
    jsonschema.Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


def test_messages_and_text_form_keep_their_schemas(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def said(*words: str) -> str:
        assert main(list(words)) in {0, 1}
        return capsys.readouterr().out

    session = str(tmp_path / "demo.session")
    words = ("--scenario", "default", "--seed", "5", "--session", session)
    made = said("demo", "--fast", "--json", *words)
    messages = jsonschema.Draft202012Validator(json.loads(said("schema", "messages")))
    assert len(made.splitlines()) > 40
    for line in made.splitlines():
        messages.validate(json.loads(line))
    form = jsonschema.Draft202012Validator(json.loads(said("schema", "session")))
    text = said("text", session).splitlines()
    assert len(text) > 160
    for line in [*text[:40], *text[-120:]]:
        form.validate(json.loads(line))
    assert not messages.is_valid({"event": "captured", "t_s": 1})
    assert not form.is_valid({"input": "bytes"})


def test_verify_says_no_with_exit_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    session = tmp_path / "golden.jsonl"
    rows = [json.loads(row) for row in path().read_text("utf-8").splitlines()]
    for row in rows:
        if row.get("event") == "held":
            row["angle_deg"] += 0.01
    session.write_text("\n".join(json.dumps(row) for row in rows), "utf-8")
    assert main(["replay", str(session), "--verify"]) == 1
    assert "angle_deg was" in capsys.readouterr().out


def test_a_session_that_cannot_be_written_exits_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--fast", "--session", str(tmp_path / "no" / "folder.session")]) == 3
    assert "cannot record" in capsys.readouterr().err


def test_the_version_is_that_of_the_changelog() -> None:
    newest = (ROOT / "CHANGELOG.md").read_text("utf-8").split("## ")[1].splitlines()[0]
    done = stillblade("--version")
    assert (done.returncode, done.stdout.strip()) == (0, newest)
