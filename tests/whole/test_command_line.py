"""Wrong input at the command line: one clear sentence, the right exit code, no traceback."""

import json
from pathlib import Path

import jsonschema
import pytest

from tests.golden.record import path
from tests.whole.program import JOB, stillblade

ROOT = Path(__file__).parents[2]

CASES = [
    ("tolerance_deg = 0.3", "tolerance = 0.3", "target.tolerance_deg"),
    ("tolerance_deg = 0.3", 'tolerance_deg = "narrow"', "target.tolerance_deg"),
    ("tolerance_deg = 0.3", "tolerance_deg = -1", "target.tolerance_deg"),
    ("tolerance_deg = 0.3", "tolerance_deg = nan", "target.tolerance_deg"),
    ("blades = 2", "blades = 9", "propeller.blades"),
    ('rotation = "clockwise"', 'rotation = "left"', "propeller.rotation"),
    ('name = "chord"\n', 'name = "chord"\nspeed = 3\n', "level.0.speed"),
    ('profile = "nmea-xdr"', 'profile = "no-such"', "profile"),
    ('"BLADE"', "3", "fields.angle.source"),
    ('rounds = ["check"]', 'rounds = ["chek"]', "plan.rounds.0"),
    ("stillblade_job = 1", "stillblade_job = 2", "stillblade_job"),
    ("[propeller]", "[propeller", "not TOML"),
]


@pytest.mark.parametrize(("old", "new", "key"), CASES, ids=[c[1][:24] for c in CASES])
def test_a_wrong_job_names_file_key_and_what_was_expected(
    tmp_path: Path, old: str, new: str, key: str
) -> None:
    assert old in JOB
    path = tmp_path / "wrong.toml"
    path.write_text(JOB.replace(old, new).replace("PORT", "/dev/null"), "utf-8")
    done = stillblade("run", str(path), "--headless")
    assert done.returncode == 2, done.stderr
    assert key in done.stderr
    assert "wrong.toml" in done.stderr or "level chord" in done.stderr or "profile" in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert not list(tmp_path.glob("*.session"))


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
def test_bad_input_exits_2_in_one_sentence(words: list[str]) -> None:
    done = stillblade(*words)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.strip()


@pytest.mark.parametrize("what", ["job", "level", "session", "messages"])
def test_schemas_are_schemas(what: str) -> None:
    """Against the JSON Schema 2020-12 meta-schema (jsonschema carries it)."""
    done = stillblade("schema", what)
    assert done.returncode == 0, done.stderr
    jsonschema.Draft202012Validator.check_schema(json.loads(done.stdout))


def test_messages_and_text_form_keep_their_schemas(tmp_path: Path) -> None:
    session = tmp_path / "demo.session"
    done = stillblade(
        "demo",
        "--scenario",
        "default",
        "--fast",
        "--json",
        "--seed",
        "5",
        "--session",
        str(session),
    )
    messages = jsonschema.Draft202012Validator(json.loads(stillblade("schema", "messages").stdout))
    for line in done.stdout.splitlines():
        messages.validate(json.loads(line))
    form = jsonschema.Draft202012Validator(json.loads(stillblade("schema", "session").stdout))
    text = stillblade("text", str(session)).stdout.splitlines()
    for line in [*text[:40], *text[-120:]]:
        form.validate(json.loads(line))
    assert not messages.is_valid({"event": "captured", "t_s": 1})
    assert not form.is_valid({"input": "bytes"})


def test_verify_says_no_with_exit_1(tmp_path: Path) -> None:
    session = tmp_path / "golden.jsonl"
    rows = [json.loads(row) for row in path().read_text("utf-8").splitlines()]
    for row in rows:
        if row.get("event") == "held":
            row["angle_deg"] += 0.01
    session.write_text("\n".join(json.dumps(row) for row in rows), "utf-8")
    done = stillblade("replay", str(session), "--verify")
    assert done.returncode == 1
    assert "angle_deg was" in done.stdout


def test_a_session_that_cannot_be_written_exits_3(tmp_path: Path) -> None:
    done = stillblade("demo", "--fast", "--session", str(tmp_path / "no" / "folder.session"))
    assert done.returncode == 3
    assert "cannot record" in done.stderr


def test_the_version_is_that_of_the_changelog() -> None:
    newest = (ROOT / "CHANGELOG.md").read_text("utf-8").split("## ")[1].splitlines()[0]
    done = stillblade("--version")
    assert (done.returncode, done.stdout.strip()) == (0, newest)
