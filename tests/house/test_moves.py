"""What `benchmarks.moves` counts: calls and returns between files of ours, nothing else."""

from pathlib import Path
from types import ModuleType

from benchmarks.moves import followed, kind_of
from shared.events import Captured, Event, Noted, Verdict

ONE = """
import json
import two

def within():
    return sum(outer() for _ in range(3))

def outer():
    return 1

def away():
    json.dumps([1], default=str)
    return two.there() + two.twice()
"""
TWO = """
def there():
    return 1

def twice():
    return there() + there()
"""


def _module(path: Path, text: str, **names: ModuleType) -> ModuleType:
    path.write_text(text, "utf-8")
    module = ModuleType(path.stem)
    module.__dict__.update(names)
    lines = [line for line in text.splitlines() if line != "import two"]
    exec(compile("\n".join(lines), str(path), "exec"), module.__dict__)
    return module


def test_only_calls_between_files_of_ours_are_moves(tmp_path: Path) -> None:
    one = _module(tmp_path / "one.py", ONE, two=_module(tmp_path / "two.py", TWO))
    ours = (f"{tmp_path}/",)
    result, way = followed(one.within, ours)
    assert (result, len(way.files), way.moves) == (3, 1, 0)
    result, way = followed(one.away, ours)
    assert (result, len(way.files), way.moves) == (3, 2, 4)
    assert way.calls == {"one calls two.there": 1, "one calls two.twice": 1}
    assert way.rooms == {tmp_path: 4}
    assert followed(one.away, (f"{tmp_path}/one",))[1].moves == 0


def test_a_feed_is_named_by_what_it_said() -> None:
    verdict = Verdict(1, "steady", 0.0, 0.1, 1.0, "check", 1, "", None)
    reading = Captured(1, 1, "set", 1.0, 0.1, 9, "chord", 1.0, 0.1, "in", "normal", 1, "turn")
    noted = Event(1, 0, Noted("note", "x"))
    assert kind_of([noted]) is None
    assert kind_of([noted, Event(2, 0, reading)]) == "capture"
    assert kind_of([Event(2, 0, reading), Event(3, 0, verdict)]) == "judged round"
