"""The mutation testing itself: what is changed, which tests are run, and that a change is noticed."""

import ast
import shutil
from pathlib import Path

import pytest

from benchmarks.mutants import drawn
from benchmarks.mutation_runs import (
    GOLDEN,
    Copy,
    Followed,
    Found,
    Kept,
    chosen_tests,
    importing,
    reach,
)
from benchmarks.mutation_sites import sites

ROOT = Path(__file__).parents[2]
GATE = ROOT / "benchmarks" / "mutation_sites.py"


@pytest.mark.parametrize(
    ("line", "changed"),
    [
        ("x = a < b", {"comparison: (a > b)", "boundary: (a <= b)"}),
        ("x = a == b", {"comparison: (a != b)"}),
        ("x = a is None", {"comparison: (a is not None)"}),
        ("x = a in b", {"comparison: (a not in b)"}),
        ("x = a + b", {"arithmetic: (a - b)"}),
        ("x = -a", {"arithmetic: (a)"}),
        ("x = a // b", {"arithmetic: (a * b)"}),
        ("x = 3", {"constant: (4)"}),
        ("x = 0.5", {"constant: (0.75)"}),
        ("x = True", {"constant: (False)"}),
        ("x = a and b", {"condition: (a or b)"}),
        ("x = not a", {"condition: (a)"}),
        ("x = b if a else c", {"condition: (not a)"}),
        ("x = [b for b in c if b]", {"condition: (not b)"}),
        ("if a:\n        x = b", {"condition: (not a)"}),
        ("self.x = a", {"statement: pass"}),
        ("a.verb()", {"statement: pass"}),
        ("x += a", {"statement: pass"}),
        ("raise a", {"statement: pass"}),
        ("return", {"statement: pass"}),
        ("x = a", set()),
        ("return a", set()),
        ("assert a < b", set()),
        ("x: Literal[1] = a", set()),
        ("x = f'{a + 1}'", set()),
        ("'said + 1'", set()),
    ],
)
def test_a_line_is_changed_so(line: str, changed: set[str]) -> None:
    source = f"def verb(self, a, b, c):\n    {line}\n".encode()
    assert {f"{site.kind}: {site.after}" for site in sites(source)} == changed


def test_every_mutant_is_a_program_of_its_own() -> None:
    source = GATE.read_bytes()
    plain, found = ast.dump(ast.parse(source)), sites(source)
    assert len(found) > 50
    assert len({site.name for site in found}) == len(found)
    for site in found:
        assert ast.dump(ast.parse(site.written(source))) != plain, site


def test_a_seed_draws_the_same_mutants_again() -> None:
    one, other = (drawn(ROOT, ["benchmarks"], 40, 3) for _ in range(2))
    assert one == other
    assert len({mutant.name for mutant in one}) == 40
    assert drawn(ROOT, ["benchmarks"], 40, 4) != one


def test_the_tests_of_its_room_come_first_and_a_golden_session_last() -> None:
    here, there = ("daemon/measure/gate.py", 5), ("daemon/measure/gate.py", 9)
    golden = "tests/whole/test_golden.py::test_a_golden_session_replays[format1-rules3]"
    tests = [
        Followed(golden, 30.0, frozenset({here})),
        Followed("tests/whole/test_a.py::slow", 4.0, frozenset({here})),
        Followed("tests/whole/test_a.py::quick", 1.0, frozenset({here})),
        Followed("tests/measure/test_b.py::own", 2.0, frozenset({here, there})),
        Followed("tests/measure/test_b.py::other", 0.1, frozenset({there})),
        Followed("tests/drivers/test_c.py::long", 16.0, frozenset({here})),
    ]
    inside = [name.rpartition("::")[2] for name, _ in chosen_tests(tests, here[0], (1, 5), ())]
    assert inside == ["own", "quick", "slow", golden.rpartition("::")[2]]
    top = [name.rpartition("::")[2] for name, _ in chosen_tests(tests, here[0], (), ())]
    assert top[:2] == ["other", "own"]
    assert chosen_tests(tests, here[0], (1,), ()) == []
    longer = [
        name.rpartition("::")[2] for name, _ in chosen_tests(tests, here[0], (1, 5), (), 30.0)
    ]
    assert longer == ["own", "quick", "slow", "long", golden.rpartition("::")[2]]


def test_of_the_golden_sessions_todays_is_chosen() -> None:
    """The outputs of older rules are held against what was recorded within its uncertainty only."""
    here = ("daemon/measure/a.py", 5)
    names = [f"tests/whole/{GOLDEN}format1-rules{n}]" for n in (9, 10, 2)]
    tests = [Followed(name, 30.0 + n, frozenset({here})) for n, name in enumerate(names)]
    quick = Followed("tests/measure/test_b.py::own", 2.0, frozenset({here}))
    chosen = chosen_tests([*tests, quick], here[0], (1, 5), ())
    assert [name for name, _ in chosen] == [quick.name, names[1]]


@pytest.mark.long
def test_a_mutant_is_killed_where_a_test_looks_and_survives_where_none_does(
    tmp_path: Path,
) -> None:
    root = tmp_path / "root"
    (root / "room").mkdir(parents=True)
    (root / "tests" / "room").mkdir(parents=True)
    (root / "pyproject.toml").write_text(
        '[tool.pytest.ini_options]\naddopts = "--import-mode=importlib"\n', "utf-8"
    )
    shutil.copytree(ROOT / "benchmarks", root / "benchmarks")
    text = "def seen(a):\n    return a + 1\n\n\ndef unseen(a):\n    return a + 1\n"
    (root / "room" / "it.py").write_text(text, "utf-8")
    (root / "tests" / "room" / "test_it.py").write_text(
        "from room.it import seen, unseen\n\ndef test_it():\n    assert seen(1) == 2 and unseen(3)\n"
        "\ndef test_that_fails():\n    assert seen(1) == 3\n",
        "utf-8",
    )
    copy = Copy.make(root, tmp_path)
    reached = reach(copy, ["room/it.py"], ["tests"], 1)
    assert [one.name for one in reached] == ["tests/room/test_it.py::test_it"]
    outcomes = []
    for mutant in [one for one in drawn(root, ["room"], 9, 1) if one.site.kind == "constant"]:
        tests = chosen_tests(reached, mutant.file, mutant.site.within, ())
        outcomes.append((mutant.site.line, copy.run(mutant.file, mutant.site, tests).outcome))
    assert sorted(outcomes) == [(2, "killed"), (6, "survived")]
    assert (copy.folder / "room" / "it.py").read_text("utf-8") == text


def test_what_was_found_is_taken_up_again(tmp_path: Path) -> None:
    path = tmp_path / "found.json"
    kept = Kept(path)
    kept.add("one", Found("killed", "FAILED x"))
    kept.add("two", Found("survived", ""))
    reached = [Followed("tests/a.py::b", 1.0, frozenset({("c.py", 3)}))]
    kept.keep_reached("digest", ["c.py"], reached)
    again = Kept(path)
    assert again.results == kept.results
    assert again.reached("digest", ["c.py"]) == reached
    assert again.reached("another", ["c.py"]) is None
    assert again.reached("digest", ["d.py"]) is None
    again.forget_survivors()
    assert set(again.results) == {"one"}


def test_a_table_is_looked_at_by_tests_that_import_it() -> None:
    naming = importing(ROOT, "drivers/codecs/_crc_catalogue.py")
    assert naming == ("tests/drivers/test_checks.py",)
    tests = [
        Followed(f"{naming[0]}::test_check", 0.1, frozenset()),
        Followed("tests/other.py::test", 0.1, frozenset()),
    ]
    chosen = chosen_tests(tests, "drivers/codecs/_crc_catalogue.py", (), naming)
    assert [name for name, _ in chosen] == [f"{naming[0]}::test_check"]
