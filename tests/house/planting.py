"""Plants wrong imports into a copy of the tree and prints, as JSON, which contracts see them.

    python tests/house/planting.py COPY

COPY holds the root packages and `pyproject.toml`. It runs in a process of its own, so that the
packages of the copy are the ones that are found.
"""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from importlinter import configuration
from importlinter.application import use_cases
from importlinter.application.user_options import UserOptions
from importlinter.contracts.forbidden import ForbiddenContract
from importlinter.contracts.layers import LayersContract
from importlinter.domain.contract import registry

Arrows = list[tuple[str, str]]


def graph(options: UserOptions) -> Any:
    """Return who imports whom in the copy as it stands."""
    return use_cases.create_report(options, cache_dir=None).graph


def seen(options: UserOptions, contract: dict[str, Any]) -> Arrows:
    """Return what this contract alone objects to: who imports what it may not."""
    alone = UserOptions(options.session_options, [contract])
    report = use_cases.create_report(alone, cache_dir=None)
    [(_, check)] = report.get_contracts_and_checks()
    if check.kept:
        return []
    if contract["type"] == "layers":
        chains = check.metadata["invalid_dependencies"]
        return [(chain["importer"], chain["imported"]) for chain in chains]
    chains = check.metadata["invalid_chains"]
    return [(chain["downstream_module"], chain["upstream_module"]) for chain in chains]


def upward(contract: dict[str, Any]) -> Iterator[tuple[str, list[str]]]:
    """Yield every module of a layers contract with those above it and beside it."""
    for container in contract["containers"]:
        above: list[str] = []
        for layer in contract["layers"]:
            names = [f"{container}.{name.strip()}" for name in layer.split("|")]
            for name in names:
                yield name, [*above, *(one for one in names if one != name)]
            above += names


@contextmanager
def planted(sources: list[str], wrong: list[str]) -> Iterator[None]:
    """Let every source import everything that is wrong, until the block ends."""
    kept: dict[Path, str | None] = {}
    for source in sources:
        place = Path(*source.split("."))
        file = place / "planted.py" if place.is_dir() else place.with_suffix(".py")
        kept[file] = file.read_text("utf-8") if file.exists() else None
        file.write_text((kept[file] or "") + "".join(f"\nimport {name}" for name in wrong), "utf-8")
    yield
    for file, text in kept.items():
        if text is None:
            file.unlink()
        else:
            file.write_text(text, "utf-8")


def main() -> int:
    """Plant for every contract, one after the other."""
    options = use_cases.read_user_options("pyproject.toml")
    registry.register(ForbiddenContract, "forbidden")
    registry.register(LayersContract, "layers")
    whole = graph(options)
    found: dict[str, Arrows] = {}
    for contract in options.contracts_options:
        if contract["type"] == "layers":
            found[contract["name"]] = layered = []
            for module, wrong in upward(contract):
                with planted([module] if wrong else [], wrong):
                    layered += seen(options, contract)
            continue
        sources, forbidden = contract["source_modules"], contract["forbidden_modules"]
        there = [one for one in sources if one in whole.modules]
        wrong = [
            module
            for one in forbidden
            for module in (whole.find_matching_modules(one) if "*" in one else [one])
        ]
        with planted(there, wrong):
            found[contract["name"]] = seen(options, contract)
    modules = sorted(whole.modules)
    arrows = [(m, to) for m in modules for to in whole.find_modules_directly_imported_by(m)]
    print(json.dumps({"seen": found, "arrows": arrows}))  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.path[0] = str(Path.cwd())
    configuration.configure()
    sys.exit(main())
