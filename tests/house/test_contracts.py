"""Every room has its contract, every contract catches what it forbids, no permission is stale.

The contracts stand in `pyproject.toml`; a room that is yet to come is written `name.**` there.
"""

import fnmatch
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.house.planting import upward

ROOT = Path(__file__).parents[2]
CONFIG = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]
EVERY: list[dict[str, Any]] = CONFIG["contracts"]
CONTRACTS = [contract for contract in EVERY if contract["type"] == "forbidden"]
LAYERS = [contract for contract in EVERY if contract["type"] == "layers"]
ROOTS: list[str] = CONFIG["root_packages"]
TO_COME = ".**"
_PRIVATE = re.compile(r"^\s*(?:from|import) ([a-z][\w.]*)\.(_(?!_)\w+)", re.MULTILINE)


def folders() -> list[str]:
    """Return every package of ours by its dotted name: the rooms."""
    inits = [init for root in ROOTS for init in (ROOT / root).rglob("__init__.py")]
    return sorted(".".join(init.parent.relative_to(ROOT).parts) for init in inits)


@cache
def planting() -> dict[str, Any]:
    """Plant every wrong import into a copy of the tree; return what the contracts saw."""
    with tempfile.TemporaryDirectory() as copy:
        for root in ROOTS:
            no_code = shutil.ignore_patterns("__pycache__", "scenarios", "*.toml", "*.json")
            shutil.copytree(ROOT / root, Path(copy) / root, ignore=no_code)
        shutil.copy(ROOT / "pyproject.toml", copy)
        done = subprocess.run(
            [sys.executable, str(ROOT / "tests" / "house" / "planting.py")],
            cwd=copy,
            env={**os.environ, "PYTHONPATH": ""},
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
    assert done.returncode == 0, done.stdout + done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def is_in(module: str, room: str) -> bool:
    return module == room or module.startswith(f"{room}.")


def test_every_room_has_a_contract() -> None:
    sources = {source for contract in CONTRACTS for source in contract["source_modules"]}
    assert [room for room in folders() if room not in sources] == []


def test_a_room_that_has_come_is_named_plainly() -> None:
    """`room.**` matches nothing while the room is missing, and not the room itself later."""
    rooms, late = folders(), set()
    for contract in CONTRACTS:
        for name in contract["source_modules"] + contract["forbidden_modules"]:
            if name.endswith(TO_COME) and name.removesuffix(TO_COME) in rooms:
                late.add(name)
    assert sorted(late) == [], "write these without .** in pyproject.toml, everywhere"


def test_a_private_module_is_imported_by_its_own_room_alone() -> None:
    paths = (path for root in ROOTS for path in (ROOT / root).rglob("*.py"))
    found = [
        f"{path.relative_to(ROOT)}: {room}.{name}"
        for path in paths
        for room, name in _PRIVATE.findall(path.read_text("utf-8"))
        if room != ".".join(path.parent.relative_to(ROOT).parts)
    ]
    assert found == []


def test_no_stale_exception_passes() -> None:
    excused = [contract for contract in CONTRACTS if "ignore_imports" in contract]
    assert excused
    for contract in excused:
        assert contract["unmatched_ignore_imports_alerting"] == "error", contract["name"]


@pytest.mark.parametrize("contract", CONTRACTS, ids=lambda c: c["name"].split(":")[0][:50])
def test_a_contract_catches_every_import_it_forbids(contract: dict[str, Any]) -> None:
    """From every room it is for: planted, seen by the contract of that name."""
    seen = planting()["seen"][contract["name"]]
    for source in contract["source_modules"]:
        for forbidden in contract["forbidden_modules"]:
            if source.endswith(TO_COME) or forbidden.endswith(TO_COME):
                continue
            caught = [by for by, what in seen if by == source and fnmatch.fnmatch(what, forbidden)]
            assert caught, f"{source} imported {forbidden} and nothing was said"


@pytest.mark.parametrize("contract", LAYERS, ids=lambda c: c["name"].split(":")[0][:50])
def test_a_layer_is_seen_to_import_what_is_above_or_beside_it(contract: dict[str, Any]) -> None:
    seen = {tuple(arrow) for arrow in planting()["seen"][contract["name"]]}
    expected = [(module, one) for module, wrong in upward(contract) for one in wrong]
    assert expected
    assert set(expected) <= seen


def test_every_contract_is_of_a_kind_that_is_planted() -> None:
    assert len(CONTRACTS) + len(LAYERS) == len(EVERY)


def test_no_arrow_between_rooms_is_allowed_that_nothing_uses() -> None:
    """What is neither forbidden nor needed would let a wrong import pass."""
    arrows = planting()["arrows"]
    rooms = [room for room in folders() if room != "daemon"]
    idle = set()
    for room in rooms:
        for other in rooms:
            used = any(is_in(a, room) and is_in(b, other) for a, b in arrows)
            if not (used or _one_arrow_with_another(room, other) or _forbidden(room, other)):
                idle.add((room, other))
    assert idle == set()


def _one_arrow_with_another(room: str, other: str) -> bool:
    """Whether one lies in the other, or `other` is a part of a room of which `room` sees the whole."""
    if is_in(room, other) or is_in(other, room):
        return True
    parent = other.rpartition(".")[0]
    return parent not in {"", "daemon", "drivers"} and not is_in(room, parent)


def _forbidden(room: str, other: str) -> bool:
    return any(
        any(is_in(room, source) for source in contract["source_modules"])
        and any(_names(name, other) for name in contract["forbidden_modules"])
        for contract in CONTRACTS
    )


def _names(forbidden: str, room: str) -> bool:
    parents = [room.rsplit(".", n)[0] for n in range(room.count(".") + 1)]
    return any(fnmatch.fnmatchcase(name, forbidden) for name in parents)
