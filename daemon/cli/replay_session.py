"""`stillblade replay`: a session again, from its recorded inputs."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson, Flag, PageAddress, PageTls, check
from daemon.cli.paged import PageAt, place_of

if TYPE_CHECKING:
    from daemon.faces.page import Place
    from daemon.session.recording import Recording


def replay(
    session: Path,
    *,
    headless: Flag = False,
    json_: AsJson = False,
    verify: Flag = False,
    page: PageAddress = "",
    page_tls: PageTls = False,
    pace: float = 1.0,
) -> int:
    """Replay a session from its recorded inputs: on a terminal as a screen that plays it.

    There play, pause, go from event to event, or to an alarm or a blade; "?" shows the keys.
    Without a terminal everything that was said is printed. Of a damaged session the recorded
    outputs that are sound are printed, and it exits with 2.

    Parameters
    ----------
    session
        A session file or its text form.
    headless
        No screen: print it on a terminal too.
    json_
        One JSON object a line on standard output.
    verify
        Compare with the recorded outputs; exit 1 where they differ.
    page
        Play it on a page for a browser, at this ADDRESS or ADDRESS:PORT of this machine.
    page_tls
        The page over TLS, with a certificate of its own.
    pace
        On the page: recorded seconds a second.
    """
    from daemon.cli.lines import say_what_is_wrong
    from daemon.session.recording import read

    check(0.1 <= pace <= 100, "--pace", f"{pace} is not between 0.1 and 100")
    place = place_of(PageAt(page, page_tls))
    recording = read(session, salvage=not verify)
    say_what_is_wrong(session, recording)
    if place is not None and not recording.damage:
        return _on_page(recording, place, pace)
    if verify:
        return _verified(recording, as_json=json_)
    if not (headless or json_ or recording.damage) and _is_watched():
        return _played(recording)
    return _printed(recording, as_json=json_)


def _on_page(recording: "Recording", place: "Place", pace: float) -> int:
    from daemon.cli.replayed_page import play_on_page
    from daemon.cli.stops import until_stopped

    until_stopped(play_on_page(recording, place, pace))
    return 0


def _is_watched() -> bool:
    return sys.stdout.isatty() and sys.stdin.isatty()


def _played(recording: "Recording") -> int:
    """Play a sound session on the screen until its person leaves."""
    import asyncio

    from daemon.cli.screen import play
    from daemon.core.rules import RULES
    from daemon.session.playback import FoldedPlayback

    rules = recording.header.rules
    about = f"recorded under rules {rules}, shown as rules {RULES} say it" if rules != RULES else ""
    asyncio.run(play(FoldedPlayback(recording), about))
    return 0


def _printed(recording: "Recording", *, as_json: bool) -> int:
    from daemon.cli.lines import Printer
    from daemon.session.replay import replay as replayed_from

    printer = Printer(sys.stdout, as_json=as_json)
    for event in recording.events if recording.damage else replayed_from(recording):
        printer.tell(event)
    return 2 if recording.damage else 0


def _verified(recording: "Recording", *, as_json: bool) -> int:
    from daemon.session.replay import replay as replayed_from
    from daemon.session.replay import verify as compare

    found = compare(recording, replayed_from(recording))
    if as_json:
        print(json.dumps({"event": "verified", "agrees": found.agrees, "say": found.say}))
    else:
        print(found.say)
    return 0 if found.agrees else 1
