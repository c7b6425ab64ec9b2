"""How far is one thing spread? Moves between files for a capture, a judged round and the view.

    python -m benchmarks.moves [SESSION] [--all]

Replays a recorded session (the newest golden one, or the text form given) and counts, inside the
engine, every call from a file of ours into another file of ours and every return from one. A call
between two functions of one file is no move; what libraries do between is none either. The table
gives the files entered and the moves, for the fewest of its kind, the median and the most; below it
stands, of the median, into which rooms the moves go, and what is called most often in another file than
the caller's (with `--all` everything that is).
"""

import argparse
import sys
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any

from daemon.core.engine import Engine
from daemon.session.recording import read
from shared.events import Captured, Event, Verdict

ROOT = Path(__file__).parent.parent
KINDS = ("capture", "judged round", "view", "view again")
LISTED = 8
"""So many calls into another file are listed a kind."""


def roots() -> tuple[str, ...]:
    """Return where the files of our own packages lie."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    packages = project["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
    return tuple(f"{ROOT / package}/" for package in packages)


@dataclass(slots=True)
class Way:
    """The files one call went through."""

    files: set[str] = field(default_factory=set)
    moves: int = 0
    calls: Counter[str] = field(default_factory=Counter)
    """Calls into another file, by caller and called."""
    rooms: Counter[Path] = field(default_factory=Counter)
    """Moves into the files of a folder and back out of them."""
    _stack: list[str] = field(default_factory=list)

    def enter(self, file: str, name: str) -> None:
        """Call a function of a file."""
        self.files.add(file)
        if self._stack and self._stack[-1] != file:
            self.moves += 1
            self.calls[f"{Path(self._stack[-1]).stem} calls {Path(file).stem}.{name}"] += 1
            self.rooms[Path(file).parent] += 2
        self._stack.append(file)

    def leave(self) -> None:
        """Return from it."""
        file = self._stack.pop()
        self.moves += bool(self._stack) and self._stack[-1] != file


def followed(call: Callable[[], Any], ours: tuple[str, ...]) -> tuple[Any, Way]:
    """Run a call; return its result and the way it took."""
    way = Way()

    def step(frame: FrameType, event: str, _: Any) -> None:
        file = frame.f_code.co_filename
        if event in {"call", "return"} and file.startswith(ours):
            way.enter(file, frame.f_code.co_qualname) if event == "call" else way.leave()

    sys.setprofile(step)
    try:
        result = call()
    finally:
        sys.setprofile(None)
    return result, way


def kind_of(events: Sequence[Event]) -> str | None:
    """Return what a feed was: one in which a round was judged, or a reading was taken."""
    if any(isinstance(event.body, Verdict) for event in events):
        return "judged round"
    return "capture" if any(isinstance(event.body, Captured) for event in events) else None


def ways(session: Path) -> dict[str, list[Way]]:
    """Return the ways of every capture and judged round of a session, and of two views after each.

    Nothing happened before the second: it is what a face that draws itself anew asks for.
    """
    recording, ours = read(session), roots()
    engine = Engine(recording.header)
    found: dict[str, list[Way]] = defaultdict(list)
    for item in recording.inputs:
        events, way = followed(partial(engine.feed, item), ours)
        if (kind := kind_of(events)) is not None:
            found[kind].append(way)
            found["view"].append(followed(engine.view, ours)[1])
            found["view again"].append(followed(engine.view, ours)[1])
    return found


def newest() -> Path:
    """Return the golden session of the highest rules."""
    golden = (ROOT / "tests" / "golden").glob("format*-rules*.jsonl")
    return max(golden, key=lambda path: int(path.stem.rpartition("rules")[2]))


def main(given: Sequence[str] | None = None) -> int:
    """Print the table, and what the medians call."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.moves")
    parser.add_argument("session", type=Path, nargs="?", default=newest())
    parser.add_argument("--all", action="store_true", help="list every call into another file")
    asked = parser.parse_args(given)
    found = ways(asked.session)
    print(f"{asked.session.name}\n")
    print("| files, moves | seen | fewest | median | most |")
    print("| --- | --- | --- | --- | --- |")
    for kind in KINDS:
        ordered = sorted(found[kind], key=lambda way: way.moves)
        shown = (ordered[0], ordered[len(ordered) // 2], ordered[-1])
        cells = " | ".join(f"{len(way.files)}, {way.moves}" for way in shown)
        print(f"| {kind} | {len(ordered)} | {cells} |")
    for kind in KINDS:
        middle = sorted(found[kind], key=lambda way: way.moves)[len(found[kind]) // 2]
        into = [f"{n} {room.relative_to(ROOT)}" for room, n in middle.rooms.most_common()]
        print(f"\n{kind}: {', '.join(into)}")
        for call, count in middle.calls.most_common(None if asked.all else LISTED):
            print(f"{count:6} {call}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
