"""`stillblade demo`: the whole job in a simulated hangar."""

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from daemon.cli.lines import Printer
from daemon.cli.screen import show, until_stopped
from daemon.demo import fast as wiring
from daemon.demo.live import live
from daemon.session.store import Store
from daemon.shell.counter import Counter
from shared.events import Event, Summary


def demo_fast(scenario: str, seed: int, as_json: bool, session: Path | None) -> int:
    """Run it on data time; return the exit code."""
    printer = Printer(sys.stdout, as_json=as_json)

    def told(events: list[Event]) -> None:
        for event in events:
            if event.body.event != "summary":
                printer.tell(event)

    outcome = wiring.fast(scenario, seed, told)
    recording = outcome.recording
    if session is not None:
        store = Store.create(session, recording.header)
        store.commit(recording.inputs, recording.events, recording.reach_ns)
        store.close()
    last = recording.events[-1]
    printer.tell(last, wiring.truth_beside(outcome.closing, outcome.truth))
    return 0


def demo_live(
    scenario: str,
    seed: int,
    as_json: bool,
    headless: bool,
    ways: dict[str, Any],
    session: Path | None,
) -> int:
    """Run it on real time through the ordinary links; return the exit code."""
    if not hasattr(sys.stdout, "isatty") or not (sys.stdout.isatty() and sys.stdin.isatty()):
        headless = True
    with tempfile.TemporaryDirectory(prefix="stillblade-") as folder:
        path = session or Path(folder) / "demo.session"

        async def face(desk: Counter, truth: Callable[[Summary], dict[str, Any]]) -> None:
            await show(desk, as_json=as_json, headless=headless or as_json, extra=truth)

        until_stopped(live(scenario, seed, face, path=path, **ways))
    return 0
