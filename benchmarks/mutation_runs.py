"""Runs tests in a copy of the tree for `benchmarks.mutants`, and keeps what was found."""

import contextlib
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from benchmarks.mutation_sites import Site

PLUGIN = "benchmarks.mutation_tests"
BUDGET_S = 20.0
"""The tests of one mutant take no longer than this, by what they took when they were followed, unless
more is asked for."""
GOLDEN = "test_golden.py::test_a_golden_session_replays["
HANGS_S = 60.0
"""A run that takes so much longer than its tests should counts as killed: it hangs."""
LEFT_OUT = (".*", "__pycache__", "*.egg-info", "*.png")


@dataclass(frozen=True, slots=True)
class Followed:
    """One test: what it took, and the functions it calls as (file, first line)."""

    name: str
    took_s: float
    functions: frozenset[tuple[str, int]]


Reached = list[Followed]


@dataclass(frozen=True, slots=True)
class Found:
    """What became of a mutant: killed, hung, survived or not reached; and by which test."""

    outcome: str
    by: str

    @property
    def survived(self) -> bool:
        """Whether no test noticed."""
        return self.outcome in {"survived", "not reached"}


def importing(root: Path, file: str) -> tuple[str, ...]:
    """Return the files of tests that import a module by its name."""
    module = file.removesuffix(".py").replace("/", ".")
    names = (f"from {module} import", f"import {module}\n", f"import {module} as")
    texts = (
        (path, path.read_text("utf-8")) for path in sorted((root / "tests").rglob("test_*.py"))
    )
    return tuple(
        path.relative_to(root).as_posix()
        for path, text in texts
        if any(name in text for name in names)
    )


def chosen_tests(
    reached: Reached,
    file: str,
    within: tuple[int, ...],
    naming: tuple[str, ...],
    budget_s: float = BUDGET_S,
) -> list[tuple[str, float]]:
    """Return the tests to run for a change, with what they take.

    They call the innermost function that changes. For a change outside of functions they call any
    of the file, or stand in a file that imports it (`naming`): a table may be looked at with no
    call. The tests of the room count three times as quick as they are, and the golden session of
    today's rules is always among them: of older ones the outputs may differ a little.
    """
    want = {(file, within[-1])} if within else None
    calling = [
        test
        for test in reached
        if (test.functions & want if want else _looks_at(test, file, naming))
    ]
    own = tuple(f"tests/{part}/" for part in Path(file).parent.parts)
    calling.sort(key=lambda test: test.took_s / (3.0 if test.name.startswith(own) else 1.0))
    chosen: list[Followed] = []
    total_s = 0.0
    for test in calling:
        total_s += test.took_s
        if total_s > budget_s and chosen:
            break
        chosen.append(test)
    golden = [test for test in calling if GOLDEN in test.name]
    newest = sorted(golden, key=lambda test: (len(test.name), test.name))[-1:]
    added = [test for test in newest if test not in chosen]
    return [(test.name, test.took_s) for test in chosen + added]


def _looks_at(test: Followed, file: str, naming: tuple[str, ...]) -> bool:
    called = any(name == file for name, _ in test.functions)
    return called or test.name.startswith(tuple(f"{name}::" for name in naming))


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy of the tree in which one run at a time may change a file."""

    folder: Path

    @classmethod
    def make(cls, root: Path, within: Path) -> "Copy":
        """Copy the tree into a folder."""
        folder = within / "tree"
        shutil.copytree(root, folder, ignore=shutil.ignore_patterns(*LEFT_OUT))
        return cls(folder)

    def digest(self) -> str:
        """Return a digest of every Python file of the copy."""
        whole = hashlib.sha256()
        for file in sorted(self.folder.rglob("*.py")):
            whole.update(file.read_bytes())
        return whole.hexdigest()

    def run(self, file: str, site: Site, tests: Sequence[tuple[str, float]]) -> Found:
        """Run tests on a mutant until one fails; the copy is as before afterwards."""
        path, wanted = self.folder / file, self.folder / "wanted.json"
        wanted.write_text(json.dumps([name for name, _ in tests]), "utf-8")
        files = list(dict.fromkeys(name.partition("::")[0] for name, _ in tests))
        source = path.read_bytes()
        self._write(path, site.written(source))
        try:
            limit_s = HANGS_S + 3.0 * sum(took_s for _, took_s in tests)
            code, said = self.pytest(
                ["-n", "0", "-x", *files], limit_s, STILLBLADE_TESTS=str(wanted)
            )
        finally:
            self._write(path, source)
        if code is None:
            return Found("hung", "")
        failed = [line for line in said.splitlines() if line.startswith(("FAILED", "ERROR"))]
        return Found("survived" if code == 0 else "killed", failed[0] if failed else "")

    def pytest(self, given: Sequence[str], limit_s: float, **env: str) -> tuple[int | None, str]:
        """Run pytest in the copy; return its exit code, None when it hung, and what it said."""
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", PLUGIN]
        ours = {name: text for name, text in os.environ.items() if "XDIST" not in name}
        whole = ours | {"PYTHONPATH": str(self.folder)} | env
        with subprocess.Popen(  # noqa: S603 - our own tests
            [*command, *given],
            cwd=self.folder,
            env=whole,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        ) as process:
            try:
                said, _ = process.communicate(timeout=limit_s)
            except subprocess.TimeoutExpired:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGKILL)
                return None, process.communicate()[0]
            return process.returncode, said

    def _write(self, path: Path, source: bytes) -> None:
        """Write a file and lose its compiled form: two writes may share size and second."""
        path.write_bytes(source)
        for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"):
            compiled.unlink()


def reach(copy: Copy, files: Sequence[str], suite: Sequence[str], processes: int) -> Reached:
    """Run the suite once as it is and note what every passing test calls.

    Raises:
        RuntimeError: nothing passed.
    """
    seen = copy.folder / "reached"
    seen.mkdir()
    _, said = copy.pytest(
        ["-n", str(processes), *suite],
        limit_s=3600.0,
        STILLBLADE_REACHED=str(seen),
        STILLBLADE_FILES=os.pathsep.join(str(copy.folder / file) for file in files),
    )
    print(said.splitlines()[-1] if said else "", file=sys.stderr)
    found: dict[str, Any] = {}
    for part in sorted(seen.glob("*.json")):
        found |= json.loads(part.read_text("utf-8"))
    if not found:
        raise RuntimeError(f"no test passed without a mutant:\n{said}")
    return [
        Followed(
            name, entry["s"], frozenset(_relative(copy, place) for place in entry["functions"])
        )
        for name, entry in found.items()
    ]


def _relative(copy: Copy, place: tuple[str, int]) -> tuple[str, int]:
    return Path(place[0]).relative_to(copy.folder).as_posix(), place[1]


@dataclass(slots=True)
class Kept:
    """What was found, in a file from run to run; in memory where there is none.

    What the tests reach lies beside it, in a file of its own.
    """

    path: Path | None
    results: dict[str, Found] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take up what is in the file."""
        if self.path is not None and self.path.exists():
            data = json.loads(self.path.read_text("utf-8"))
            self.results = {name: Found(**one) for name, one in data.items()}

    def add(self, name: str, found: Found) -> None:
        """Keep what became of one mutant."""
        self.results[name] = found
        if self.path is not None:
            data = {name: asdict(one) for name, one in self.results.items()}
            _replace(self.path, json.dumps(data, indent=1))

    def forget_survivors(self) -> None:
        """Let every survivor be run again."""
        self.results = {name: one for name, one in self.results.items() if not one.survived}

    def reached(self, digest: str, files: Sequence[str]) -> Reached | None:
        """Return what tests call, if the tree is as it was when that was noted."""
        if self.path is None or not self._beside.exists():
            return None
        known = json.loads(self._beside.read_text("utf-8"))
        if known["digest"] != digest or not set(files) <= set(known["files"]):
            return None
        return [
            Followed(name, took_s, frozenset((file, line) for file, line in functions))
            for name, took_s, functions in known["tests"]
        ]

    def keep_reached(self, digest: str, files: Sequence[str], reached: Reached) -> None:
        """Keep what tests call."""
        if self.path is not None:
            tests = [(one.name, one.took_s, sorted(one.functions)) for one in reached]
            text = json.dumps({"digest": digest, "files": list(files), "tests": tests})
            _replace(self._beside, text)

    @property
    def _beside(self) -> Path:
        assert self.path is not None
        return self.path.with_suffix(".reached.json")


def _replace(path: Path, text: str) -> None:
    """Write a file whole or not at all."""
    new = path.with_suffix(".new")
    new.write_text(text, "utf-8")
    new.replace(path)
