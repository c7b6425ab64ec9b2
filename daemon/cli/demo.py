"""`stillblade demo`: the whole job in a simulated hangar."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from daemon.cli.options import AsJson, Flag, PageAddress, PageTls, check
from daemon.cli.paged import PageAt, let_scan, page_of, place_of, show_code
from shared.errors import BadInputError, OutsideError

if TYPE_CHECKING:
    from daemon.demo.live import Backstage
    from daemon.faces.page import Place
    from daemon.shell.counter import Counter
    from shared.events import Event, Summary
    from shared.job import Broker


SHOWS_SOMETHING = 8
"""The seed of the demo that nobody chose: one knock, found, and all within in five minutes."""


def demo(
    *,
    scenario: str = "",
    seed: int = 0,
    headless: Flag = False,
    fast: Flag = False,
    play: Flag = False,
    json_: AsJson = False,
    radio: Flag = False,
    pace: float = 1.0,
    session: Path | None = None,
    broker: str = "",
    page: PageAddress = "",
    page_tls: PageTls = False,
) -> int:
    """Do the whole job in a simulated hangar.

    Its person never looks and presses nothing between the first reference and the last reading. On a
    screen the first alarm stands for 12 s; it takes five minutes.
    Exits with 1 where it ends with any result but "within".

    Parameters
    ----------
    scenario
        What happens, one that `scenarios` lists; "hands-free", and to be played "default", where none is given.
    seed
        What is drawn by chance in it; 0 takes one that shows something.
    headless
        No screen: sentences, or JSON lines, on standard output.
    fast
        On data time, without the pseudo-terminal: seconds instead of minutes.
    play
        You are the hands: keys lay the simulated level down, turn a blade, knock another.
    json_
        One JSON object a line on standard output.
    radio
        Over Bluetooth LE, from an emulated radio, instead of a pseudo-terminal.
    pace
        Simulated seconds a second.
    session
        Keep the session in this file.
    broker
        Publish to this broker (HOST or HOST:PORT), which asks for no user.
    page
        Also a page for a browser, at this ADDRESS or ADDRESS:PORT of this machine.
    page_tls
        The page over TLS, with a certificate of its own.
    """
    check(0.1 <= pace <= 50, "--pace", f"{pace} is not between 0.1 and 50")
    check(not (fast and radio), "--radio", "there is no radio on data time: leave --fast out")
    check(not (fast and broker), "--broker", "nothing is published on data time: leave --fast out")
    check(not (fast and page), "--page", "there is no page on data time: leave --fast out")
    check(not (play and (fast or headless or json_)), "--play", "it needs a screen to be played on")
    if session is not None:
        _recordable(session)
    scenario = scenario or ("default" if play else "hands-free")
    seed = seed or (SHOWS_SOMETHING if scenario == "hands-free" else 2)
    if fast:
        return _fast(scenario, seed, json_, session)
    ways = {"pace": pace, "radio": radio, "played": play}
    beside = Beside(_named(broker), place_of(PageAt(page, page_tls)))
    return _live(scenario, seed, json_, headless, ways, session, beside)


def _recordable(session: Path) -> None:
    """Refuse a file that no session can be kept in: before a job is played, and not after it.

    Raises:
        BadInputError: it is there already.
        OutsideError: its folder is not.
    """
    where = str(session)
    if session.exists():
        raise BadInputError(where, "", "already exists", "name another session file")
    if not session.absolute().parent.is_dir():
        raise OutsideError(
            f"cannot record to {where}: there is no such folder", "make it, or name another file"
        )


class Beside(NamedTuple):
    """Who else is told."""

    broker: "Broker | None"
    place: "Place | None"


def _named(broker: str) -> "Broker | None":
    """Read HOST or HOST:PORT.

    Raises:
        BadInputError: it is neither.
    """
    if not broker:
        return None
    from shared.job import Broker

    host, _, port = broker.partition(":")
    good = bool(host) and (not port or (port.isdecimal() and 0 < int(port) < 65536))
    check(good, "--broker", f"{broker!r} is not HOST or HOST:PORT")
    return Broker(host=host, port=int(port or 1883), anonymous=True)


def _fast(scenario: str, seed: int, as_json: bool, session: Path | None) -> int:
    """Run it on data time; return the exit code."""
    from daemon.cli.lines import Printer, exit_code
    from daemon.cli.screen import what_follows
    from daemon.demo.fast import fast, truth_beside
    from daemon.session.store import Store
    from shared.plain import plain

    printer = Printer(sys.stdout, as_json=as_json)

    def told(events: list["Event"]) -> None:
        for event in events:
            if event.body.event != "summary":
                printer.tell(event)

    outcome = fast(scenario, seed, told)
    recording = outcome.recording
    if session is not None:
        store = Store.create(session, recording.header)
        store.commit(recording.inputs, recording.events, recording.reach_ns)
        store.close()
    last = recording.events[-1]
    printer.tell(last, truth_beside(outcome.closing, outcome.truth))
    if not as_json:
        print("\n".join(plain(words) for words in what_follows(session)))
    return exit_code(outcome.closing)


def _live(
    scenario: str,
    seed: int,
    as_json: bool,
    headless: bool,
    ways: dict[str, Any],
    session: Path | None,
    beside: Beside,
) -> int:
    """Run it on real time through the ordinary links; return the exit code."""
    import tempfile

    from daemon.cli.attachable import attachable
    from daemon.cli.lines import exit_code, summary_of
    from daemon.cli.screen import show, what_follows
    from daemon.cli.so_many import Wanted
    from daemon.cli.stops import until_stopped
    from daemon.demo.live import live
    from daemon.faces.addresses import address_of
    from shared.plain import plain

    broker = beside.broker
    if broker is not None:
        from daemon.faces.broker import Publisher
        from daemon.faces.mqtt import Access

    if not hasattr(sys.stdout, "isatty") or not (sys.stdout.isatty() and sys.stdin.isatty()):
        headless = True
    check(not (ways["played"] and headless), "--play", "it needs a terminal to be played on")
    summary: Summary | None = None
    watched = not (headless or as_json)
    if watched:
        let_scan(beside.place)
    with tempfile.TemporaryDirectory(prefix="stillblade-") as folder:
        path = session or Path(folder) / "demo.session"

        async def face(desk: "Counter", backstage: "Backstage") -> None:
            nonlocal summary
            many = Wanted(backstage.header, desk)
            shown = show(
                desk,
                as_json=as_json,
                headless=not watched,
                extra=backstage.truth,
                record=session,
                about=lambda: backstage.about() or many.about(),
                do=backstage.do if ways["played"] else None,
            )
            access = Access(broker, path.parent) if broker else None
            publisher = Publisher(desk, access, backstage.header.session) if access else None
            address = address_of(path, "demo")
            page = page_of(desk, beside.place)
            if beside.place is not None and not watched:
                show_code(beside.place)
            await attachable(desk, address, path.name, shown, publisher=publisher, others=[page])
            summary = summary_of(desk.since(0))

        until_stopped(live(scenario, seed, face, path=path, watched=watched, **ways))
    if watched and summary is None:
        print("\n".join(plain(words) for words in ["left before its end", *what_follows(session)]))
    return exit_code(summary)
