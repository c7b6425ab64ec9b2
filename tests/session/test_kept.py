"""What a folder keeps, and what each session came to."""

from collections import Counter
from pathlib import Path

import pytest

from daemon.session.kept import sessions_in
from daemon.session.store import Store
from shared.events import Alarm, Captured, Withdrawn
from tests.workflow.jobs import played


@pytest.mark.parametrize(
    ("name", "to_the_end", "came_to"),
    [
        ("watch-only", True, "watched"),
        ("watch-only", False, "not finished"),
        ("on-change", False, "not finished"),
        ("halves", True, "abandoned"),
    ],
)
def test_a_session_is_listed_with_what_it_came_to(
    tmp_path: Path, name: str, to_the_end: bool, came_to: str
) -> None:
    header, inputs, events = played(name)
    kept = events if to_the_end else events[: len(events) // 3]
    store = Store.create(tmp_path / f"{name}.session", header)
    store.commit(inputs, kept, max(inputs[-1].t_ns, kept[-1].t_ns))
    store.close()
    (tmp_path / "notes.txt").write_text("no session", "utf-8")
    [one] = sessions_in(tmp_path)
    assert (one.path.name, one.came_to) == (f"{name}.session", came_to)
    counted = Counter(type(event.body) for event in kept)
    assert one.readings == counted[Captured] - counted[Withdrawn]
    assert one.alarms == counted[Alarm]
    last_ns = max(inputs[-1].t_ns, kept[-1].t_ns)
    assert one.minutes == pytest.approx(last_ns / 6e10)


def test_a_file_that_is_no_session_is_listed_as_that(tmp_path: Path) -> None:
    (tmp_path / "broken.session").write_bytes(b"no database")
    [one] = sessions_in(tmp_path)
    assert one.came_to.startswith("cannot be read")
    assert (one.readings, one.minutes, one.alarms) == (0, 0.0, 0)
