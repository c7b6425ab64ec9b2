"""Draw the rooms of the house from their imports, and who stands on whom.

    python -m docs.pictures.rooms           # writes rooms.svg beside this file
    python -m docs.pictures.rooms arrows    # prints every arrow, also those left out of the picture

A room is a package of ours; a room's floor is one above the highest room that it imports. An
arrow says "imports". It is left out where a way over other rooms leads there too, and where it
goes to `shared`, on which every room stands.
"""

import ast
import itertools
import sys
from collections.abc import Iterator
from html import escape
from pathlib import Path
from statistics import fmean
from textwrap import wrap

ROOT = Path(__file__).parents[2]
PICTURE = Path(__file__).parent / "rooms.svg"
PACKAGES = ("daemon", "drivers", "shared", "simulator", "tui")
SPLIT = ("daemon", "drivers")
"""Packages whose packages are rooms of their own; any other is one room."""
GROUND = "shared"
WIDE, TALL, APART, STAIRS, EDGE = 196, 76, 24, 58, 20
"""A room's box, the gap to the next, the height between floors, the margin: pixels."""
THIN = 16
"""The width that an arrow takes where it passes a floor."""
LETTERS = 31
SWEEPS = 24

Rooms = dict[str, str]
"""What a room says of itself, by name."""
Arrows = dict[str, set[str]]
"""What a room imports, by name."""
Node = str | tuple[str, str, int]
"""A room, or an arrow (from, to) where it passes a floor."""


def rooms(root: Path) -> Rooms:
    """Return every room with the first paragraph of its docstring."""
    found = {}
    for package in PACKAGES:
        files = "**/__init__.py" if package in SPLIT else "__init__.py"
        for file in sorted((root / package).glob(files)):
            said = ast.get_docstring(ast.parse(file.read_text("utf-8"))) or ""
            found[".".join(file.parent.relative_to(root).parts)] = said.split("\n\n")[0]
    return found


def room_of(module: str, known: Rooms) -> str | None:
    """Return the innermost package that holds a module; None: it is none of ours."""
    parts = module.split(".")
    names = (".".join(parts[:n]) for n in range(len(parts), 0, -1))
    return next((name for name in names if name in known), None)


def imported(file: Path) -> Iterator[str]:
    """Yield the modules, or names in modules, that a file imports, wherever in it."""
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def arrows(root: Path, known: Rooms) -> Arrows:
    """Return which other rooms each room imports; rooms with no arrow at all are left out."""
    found: Arrows = {}
    for package in PACKAGES:
        for file in sorted((root / package).rglob("*.py")):
            here = room_of(".".join(file.parent.relative_to(root).parts), known)
            for module in imported(file):
                there = room_of(module, known)
                if here is not None and there is not None and there != here:
                    found.setdefault(here, set()).add(there)
                    found.setdefault(there, set())
    return found


def reached(start: str, all_arrows: Arrows) -> set[str]:
    """Return the rooms that a room stands on, over however many others."""
    found: set[str] = set()
    left = [start]
    while left:
        new = all_arrows[left.pop()] - found
        found |= new
        left += new
    return found


def needed(all_arrows: Arrows) -> Arrows:
    """Return the arrows without those that a way over other rooms makes plain."""
    kept = {}
    for room, there in all_arrows.items():
        over = set().union(*(reached(other, all_arrows) for other in there)) if there else set()
        kept[room] = there - over - {GROUND}
    return kept


def floors(all_arrows: Arrows) -> dict[str, int]:
    """Return each room's floor.

    Raises:
        ValueError: rooms import each other in a circle.
    """
    found: dict[str, int] = {}
    while len(found) < len(all_arrows):
        ready = [r for r, there in all_arrows.items() if r not in found and there <= set(found)]
        if not ready:
            circle = ", ".join(sorted(set(all_arrows) - set(found)))
            raise ValueError(f"these rooms import each other in a circle: {circle}")
        on = {room: max((found[x] for x in all_arrows[room]), default=0) for room in ready}
        found |= {room: 0 if room == GROUND else below + 1 for room, below in on.items()}
    return found


def ways(kept: Arrows, floor: dict[str, int]) -> list[list[Node]]:
    """Return every arrow as its rooms with what passes the floors between."""
    found: list[list[Node]] = []
    for room in sorted(kept):
        for there in sorted(kept[room]):
            between = range(floor[room] - 1, floor[there], -1)
            found.append([room, *[(room, there, level) for level in between], there])
    return found


def order(ways_: list[list[Node]], floor: dict[str, int]) -> list[list[Node]]:
    """Return the nodes of each floor from left to right, so that few arrows cross."""
    rows: list[list[Node]] = [[] for _ in range(max(floor.values()) + 1)]
    for room in sorted(floor):
        rows[floor[room]].append(room)
    beside: dict[Node, list[Node]] = {}
    for way in ways_:
        for node in way[1:-1]:
            rows[node[2]].append(node)  # type: ignore[arg-type, index]  # not a room
        for one, other in itertools.pairwise(way):
            beside.setdefault(one, []).append(other)
            beside.setdefault(other, []).append(one)
    for _ in range(SWEEPS):
        for row in (*rows, *reversed(rows)):
            place = {
                node: at
                for floor_ in rows
                for node, at in zip(floor_, centres(floor_), strict=True)
            }
            row.sort(key=lambda n: (fmean([place[m] for m in beside.get(n, [n])]), str(n)))
    return rows


def centres(row: list[Node]) -> list[float]:
    """Return where each node of a floor stands, from the middle of the picture."""
    widths = [WIDE if isinstance(node, str) else THIN for node in row]
    right = list(itertools.accumulate(width + APART for width in widths))
    return [
        end - APART - width / 2 - (right[-1] - APART) / 2
        for end, width in zip(right, widths, strict=True)
    ]


def svg(root: Path = ROOT) -> str:
    """Return the picture of the rooms below `root`."""
    known = rooms(root)
    all_arrows = arrows(root, known)
    floor = floors(all_arrows)
    ways_ = ways(needed(all_arrows), floor)
    rows = order(ways_, {room: at for room, at in floor.items() if room != GROUND})
    half = max(max(map(abs, centres(row)), default=0.0) for row in rows) + WIDE / 2 + EDGE
    height = EDGE * 2 + len(rows) * TALL + (len(rows) - 1) * STAIRS
    at: dict[Node, tuple[float, float]] = {}
    for level, row in enumerate(rows):
        for node, x in zip(row, centres(row), strict=True):
            at[node] = (half + x, height - EDGE - level * (TALL + STAIRS) - TALL)
    at[GROUND] = (half, height - EDGE - TALL)
    drawn = [line(way, at) for way in ways_]
    drawn += [box(room, known[room], at[room], 2 * half) for room in sorted(all_arrows)]
    return HEAD.format(width=round(2 * half), height=height) + "\n".join(drawn) + "\n</svg>\n"


HEAD = """\
<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" \
viewBox="0 0 {width} {height}" font-family="DejaVu Sans, Verdana, sans-serif">
<title>The rooms, drawn from their imports by docs/pictures/rooms.py</title>
<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="8" markerHeight="8" \
orient="auto"><path d="M0 0 L8 4 L0 8 z" fill="#456"/></marker></defs>
<rect width="100%" height="100%" fill="#fff"/>
"""
TINTS = {"daemon": "#e8f0fa", "drivers": "#eef6e6", "simulator": "#fbf1e0", "tui": "#f6e8f4"}


def line(way: list[Node], at: dict[Node, tuple[float, float]]) -> str:
    """Draw one arrow, from under its room to the top of the other, straight down past floors."""
    (x, y), *rest = [at[node] for node in way]
    y += TALL
    path = f"M{x:.0f} {y:.0f}"
    for node, (next_x, next_y) in zip(way[1:], rest, strict=True):
        bend = (next_y - y) / 2
        path += (
            f" C{x:.0f} {y + bend:.0f} {next_x:.0f} {next_y - bend:.0f} {next_x:.0f} {next_y:.0f}"
        )
        x, y = next_x, next_y
        if not isinstance(node, str):
            y += TALL
            path += f" V{y:.0f}"
    return f'<path d="{path}" fill="none" stroke="#456" stroke-width="1.3" marker-end="url(#tip)"/>'


def box(room: str, said: str, at: tuple[float, float], whole: float) -> str:
    """Draw one room: its name, and what it says of itself."""
    wide = whole - 2 * EDGE if room == GROUND else WIDE
    x, y = at[0] - wide / 2, at[1]
    tint = TINTS.get(room.split(".", maxsplit=1)[0], "#eee")
    letters = LETTERS if room != GROUND else round(wide / 6)
    words = wrap(said, letters, max_lines=3, placeholder=" …")
    lines = [
        (
            f'<rect x="{x:.0f}" y="{y:.0f}" width="{wide:.0f}" height="{TALL}" rx="5" '
            f'fill="{tint}" stroke="#678"/>'
        ),
        (
            f'<text x="{at[0]:.0f}" y="{y + 19:.0f}" font-size="13" font-weight="bold" '
            f'text-anchor="middle">{escape(room.replace(".", "/"))}</text>'
        ),
    ]
    lines += [
        f'<text x="{at[0]:.0f}" y="{y + 37 + 14 * n:.0f}" font-size="11" fill="#333" '
        f'text-anchor="middle">{escape(text)}</text>'
        for n, text in enumerate(words)
    ]
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    """Write the picture, or print the arrows."""
    if arguments == ["arrows"]:
        for room, there in sorted(arrows(ROOT, rooms(ROOT)).items()):
            print(f"{room}: {', '.join(sorted(there))}")
        return 0
    PICTURE.write_text(svg(), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
