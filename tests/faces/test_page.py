"""The page: who is answered, what is told, and what a real browser makes of it."""

import asyncio
import hashlib
import http.client
import json
import ssl
import sys
import time
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import pytest

from daemon.cli.paged import PageAt, place_of, show_code
from daemon.faces import page as module
from daemon.faces.certificate import certificate_for
from daemon.faces.page import Page, Place
from daemon.faces.pictured import cued, pictured
from shared.displays import Heard
from shared.errors import BadInputError, OutsideError
from shared.events import Captured, Event, Held, Summary, Withdrawn
from shared.remembered import Remembered
from shared.sounding import Cue, Sounding
from shared.view import View
from tests.faces.chromium import Chromium
from tests.faces.hosts import Service
from tests.faces.mosquitto import free_port
from tests.faces.test_desk import until
from tests.tui import scenes

T = TypeVar("T")
PHONE = (740, 304)
"""CSS pixels of a browser held sideways on a 6-inch phone (18:9, 1080 x 2160, ratio 3), bars off."""
MM_A_PX = 68.0 / 360
"""Its screen is 68 mm high, held sideways, and 360 CSS pixels."""
FAR = 10**15


@asynccontextmanager
async def served(
    service: Service, place: Place | None = None
) -> AsyncIterator[tuple[Page, Callable[[Callable[[], T]], Any]]]:
    """Serve a page meanwhile; the second is what runs a thing that blocks."""
    page = Page(service.desk, place or Place("127.0.0.1", free_port()))
    async with asyncio.TaskGroup() as group:
        ready = asyncio.Event()
        task = group.create_task(page.run(ready.set), name="page")
        await ready.wait()
        yield page, asyncio.to_thread
        task.cancel()


def requested(
    page: Page, method: str, path: str, body: Any = None, **headers: str | None
) -> tuple[int, dict[str, str], bytes]:
    """Ask as a browser does whose page came from here; a header that is None is left out."""
    place = page._place
    line = http.client.HTTPConnection(place.host, place.port, timeout=20)
    own = place.origin if method == "POST" else None
    given = {"Host": place.origin.partition("//")[2], "Origin": own, **headers}
    line.putrequest(method, path, skip_host=True)
    for name, value in given.items():
        if value is not None:
            line.putheader(name.replace("_", "-"), value)
    payload = body if isinstance(body, bytes) else json.dumps(body).encode()
    if method == "POST":
        line.putheader("Content-Length", str(len(payload)))
    line.endheaders(payload if method == "POST" else None)
    answer = line.getresponse()
    told = answer.status, dict(answer.getheaders()), b""
    if answer.getheader("content-type", "").startswith("text/event-stream"):
        lines = [answer.readline() for _ in range(3)]  # a picture, an empty line, and the next
        line.close()
        return (*told[:2], b"".join(lines))
    content = answer.read()
    line.close()
    return (*told[:2], content)


def bearer(page: Page) -> str:
    return f"Bearer {page.token}"


TAKE = {"id": "1", "kind": "take", "seen": 0, "until": FAR}


# --- what is told -------------------------------------------------------------------------------


def reading(number: int, blade: int = 2) -> Event:
    """An event as the scenes have it, with another number."""
    body = next(e.body for e in scenes.HISTORY if isinstance(e.body, Captured))
    return Event(number, 0, replace(body, id=number, blade=blade, angle_deg=17.0 + number))


def test_the_value_taken_is_the_newest_that_counts() -> None:
    remembered = Remembered()
    for event in (reading(1), reading(2), Event(3, 0, Withdrawn(2, "bumped"))):
        remembered.fold(event.body)
    told = pictured(scenes.TAKEN, remembered.heard)
    assert (told["largest"], told["second"]) == ("18.00", "BLADE 2")
    cue = Sounding(remembered).look(scenes.TAKEN, 0.0)
    assert cue is not None
    assert cued(cue)["words"] == "blade 2, 18.00, lift the level"


def test_a_blade_read_elsewhere_than_it_was_is_shown_as_on_the_terminal() -> None:
    remembered = Remembered()
    remembered.fold(Held(2, 18.5, 0.07, 0.0, "in"))
    remembered.fold(replace(scenes.read_again(18.11), blade=2))
    told = pictured(scenes.TAKEN, remembered.heard)
    assert (told["largest"], told["second"], told["third"]) == (
        "BLADE 2?",
        "18.11 LIFT IT",
        "was 18.50",
    )
    assert Sounding(remembered).look(scenes.TAKEN, 0.0) == (
        "surprise",
        "blade 2?, 18.11, was 18.50, lift the level",
    )


@pytest.mark.parametrize(
    ("view", "moment", "largest", "buttons"),
    [
        (scenes.READY, "step", "18.47", ["TAKE", "AGAIN", "BACK"]),
        (scenes.ALARM, "alarm", "BLADE 1", ["SET AGAIN", "ACCEPT"]),
        (scenes.ALARM_WAITS, "alarm", "PLACE IT", ["TAKE", "AGAIN", "BACK"]),
        (scenes.QUESTION, "question", "LOOK", ["IT IS RIGHT", "AGAIN", "BACK"]),
        (scenes.SILENT, "no signal", "NO SIGNAL", None),
        (scenes.TIGHTEN, "hands", "SNUG", None),
        (scenes.FINISHED, "the end", None, None),
    ],
)
def test_every_moment_has_its_line_its_signal_and_its_buttons(
    view: View, moment: str, largest: str | None, buttons: list[str] | None
) -> None:
    told = pictured(view)
    cue = Sounding().look(view, 0.0)
    assert cue is not None
    assert cued(cue)["name"] == moment
    assert cued(cue)["tones"]
    if largest is not None:
        assert told["largest"] == largest
    if buttons is not None:
        assert [each["name"] for each in told["buttons"]] == buttons
    assert json.loads(json.dumps(told)) == told


@pytest.mark.parametrize(
    ("say", "shown"),
    [("", "The record is closed."), (scenes.WITHIN, f"The record is closed: {scenes.WITHIN}")],
)
def test_whoever_reads_on_after_the_end_is_told_to_press_nothing(say: str, shown: str) -> None:
    summary = next(e.body for e in scenes.SUMMED if isinstance(e.body, Summary))
    told = pictured(scenes.FINISHED, Heard(summary=replace(summary, say=say)))
    assert (told["say"], told["buttons"]) == (shown, [])


def test_what_is_heard_goes_from_frequency_to_frequency_and_only_what_leads_is_not_felt() -> None:
    rising = cued(Cue("coarser", ""))
    assert (rising["leads"], rising["tones"], rising["buzz"]) == (True, [[500.0, 750.0, 140]], [])
    alarm = cued(Cue("alarm", "look"))
    assert (alarm["leads"], alarm["words"]) == (False, "look")
    assert alarm["buzz"] == [400, 150, 400]
    assert alarm["tones"][1][:2] == [0.0, 0.0]


def test_the_bolt_circle_is_there_while_the_wrench_is_at_it() -> None:
    told = pictured(scenes.BOLT_BY_BOLT)["bolts"]
    assert told["marks"] == ["✓", "3", "5", "✓", "4", "6"]
    assert told["next"] == 1
    assert pictured(scenes.WRENCH)["bolts"] is None
    assert pictured(scenes.READY)["bolts"] is None


async def test_a_picture_comes_at_once_and_again_in_every_silence() -> None:
    service = Service()
    await service.show(say="Lay the level on blade 2.")
    async with served(service) as (page, aside):
        status, headers, content = await aside(partial(requested, page, "GET", "/pictures"))
        assert (status, headers["content-type"]) == (200, "text/event-stream; charset=utf-8")
        first, empty, again = content.splitlines()
        assert empty == b""
        for line in (first, again):
            told = json.loads(line.removeprefix(b"data: "))
            assert told["say"] == "Lay the level on blade 2."


async def test_the_page_asks_nobody_else_and_may_be_framed_by_nobody() -> None:
    async with served(Service()) as (page, aside):
        for path, words in (("/", b"/page.js"), ("/page.css", b"night"), ("/page.js", b"Event")):
            status, headers, content = await aside(partial(requested, page, "GET", path))
            assert (status, words in content) == (200, True)
            assert "default-src 'self'" in headers["content-security-policy"]
            assert "frame-ancestors 'none'" in headers["content-security-policy"]
            assert b"http://" not in content
            assert b"https://" not in content
            assert page.token.encode() not in content
        assert (await aside(partial(requested, page, "GET", "/../page.py")))[0] == 404


# --- who is answered ------------------------------------------------------------------------------


async def test_whoever_has_the_token_may_act_and_is_answered() -> None:
    service = Service()
    async with served(service) as (page, aside):
        ask = partial(requested, page, "POST", "/ask", TAKE, Authorization=bearer(page))
        status, _, content = await aside(ask)
        assert (status, json.loads(content)["result"]) == (200, "done")
    assert [(each.kind, each.client, each.until) for each in service.asked] == [
        ("take", "page", FAR)
    ]


REFUSED: dict[str, tuple[int, Any, dict[str, str | None]]] = {
    "no token": (403, TAKE, {"Authorization": None}),
    "a wrong token": (403, TAKE, {"Authorization": "Bearer guess"}),
    "a foreign host": (421, TAKE, {"Host": "evil.example"}),
    "the right name, another port": (421, TAKE, {"Host": "127.0.0.1:1"}),
    "a foreign origin": (403, TAKE, {"Origin": "http://evil.example"}),
    "no origin": (403, TAKE, {"Origin": None}),
    "the null origin": (403, TAKE, {"Origin": "null"}),
    "no JSON": (400, b"{", {}),
    "no command": (400, [], {}),
    "no deadline": (400, {"id": "1", "kind": "take"}, {}),
    "NaN": (400, b'{"id": "1", "kind": "take", "until": NaN}', {}),
    "nested": (400, b"[" * 4000, {}),
    "another's name": (400, TAKE | {"client": "stdin"}, {}),
    "what a page may not": (400, TAKE | {"kind": "abandon"}, {}),
    "unknown": (400, TAKE | {"kind": "launch"}, {}),
    "unknown key": (400, TAKE | {"version": 2}, {}),
    "oversize": (413, b"x" * 100_000, {}),
}


@pytest.mark.parametrize("name", REFUSED)
async def test_everybody_else_is_refused_counted_and_told_why(name: str) -> None:
    status, body, headers = REFUSED[name]
    service = Service()
    async with served(service) as (page, aside):
        given = {"Authorization": bearer(page), **headers}
        got, _, content = await aside(partial(requested, page, "POST", "/ask", body, **given))
        assert got == status, content
        told = json.loads(content)
        assert (told["result"], bool(told["say"]), page.refused) == ("refused", True, 1)
        assert page.token not in content.decode()
    assert service.asked == []


@pytest.mark.parametrize("path", ["/", "/pictures"])
async def test_nothing_is_shown_under_a_foreign_name_or_to_a_foreign_page(path: str) -> None:
    async with served(Service()) as (page, aside):
        for headers in ({"Host": "evil.example"}, {"Origin": "http://evil.example"}):
            status, _, content = await aside(partial(requested, page, "GET", path, **headers))
            assert status in {403, 421}
            assert b"largest" not in content


async def test_pages_beyond_the_most_are_sent_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_PAGES", 0)
    async with served(Service()) as (page, aside):
        assert (await aside(partial(requested, page, "GET", "/pictures")))[0] == 503


async def test_a_page_that_reads_nothing_delays_nothing() -> None:
    service = Service()
    async with served(service) as (page, _):
        _, writer = await asyncio.open_connection(page._place.host, page._place.port)
        host = page._place.origin.partition("//")[2]
        writer.write(f"GET /pictures HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
        await writer.drain()
        await until(lambda: page._pages == 1)
        for _ in range(3000):
            await service.show()
        await service.say(10)
        assert service.desk.newest == 10
        writer.transport.abort()
        await until(lambda: page._pages == 0)


async def test_an_address_of_nobody_here() -> None:
    place = Place("192.0.2.1", free_port())  # RFC 5737: for documentation only
    with pytest.raises(OutsideError, match="no page can be served"):
        await Page(Service().desk, place).run()


@pytest.mark.parametrize(
    ("address", "host", "port"),
    [
        ("localhost", "localhost", 8437),
        ("192.168.4.1:80", "192.168.4.1", 80),
        ("[::1]:9000", "::1", 9000),
        ("[::1]", "::1", 8437),
        ("::1", "::1", 8437),
        ("shed-pi.local", "shed-pi.local", 8437),
    ],
)
def test_addresses(address: str, host: str, port: int) -> None:
    place = place_of(PageAt(address))
    assert place is not None
    assert (place.host, place.port) == (host, port)


@pytest.mark.parametrize(
    ("address", "why"),
    [
        ("0.0.0.0", "every address"),
        ("[::]:80", "every address"),
        ("localhost:0", "no port"),
        ("localhost:x", "no port"),
        ("a b", "no address"),
        ("http://x", "no port|no address"),
    ],
)
def test_addresses_that_are_none(address: str, why: str) -> None:
    with pytest.raises(BadInputError, match=why):
        place_of(PageAt(address))
    with pytest.raises(BadInputError, match="--page ADDRESS"):
        place_of(PageAt("", tls=True))


# --- TLS ---------------------------------------------------------------------------------------


async def test_over_tls_with_a_certificate_of_its_own(tmp_path: Path) -> None:
    certificate, digest = certificate_for("127.0.0.1", tmp_path / "kept")
    if sys.platform != "win32":
        assert certificate.key.stat().st_mode & 0o077 == 0
    place = Place("127.0.0.1", free_port(), certificate)

    def looked() -> tuple[int, bytes]:
        trust = ssl.create_default_context(cafile=str(certificate.chain))
        line = http.client.HTTPSConnection(place.host, place.port, context=trust, timeout=20)
        line.request("GET", "/")
        der = line.sock.getpeercert(binary_form=True) or b""
        status = line.getresponse().status
        line.close()
        return status, der

    async with served(Service(), place) as (page, aside):
        status, der = await aside(looked)
        assert page._place.link.startswith("https://127.0.0.1:")

    assert status == 200
    assert hashlib.sha256(der).hexdigest().upper() == digest.replace(":", "")
    assert certificate_for("127.0.0.1", tmp_path / "kept") == (certificate, digest)


def test_only_a_terminal_is_shown_the_token(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Standard error of a service is a log: there the newest link stands in a file of its user."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    for place in (Place("127.0.0.1", 8437), Place("127.0.0.1", 8437)):
        show_code(place)
        told = capsys.readouterr().err
        assert place.token not in told
        kept = Path(told.split()[-1])
        assert kept.read_text("utf-8").strip() == place.link
        assert sys.platform == "win32" or kept.stat().st_mode & 0o077 == 0


# --- a browser ------------------------------------------------------------------------------------


@pytest.mark.real
async def test_digits_are_25_mm_high_on_a_phone_and_everything_is_in_sight(tmp_path: Path) -> None:
    """Held sideways; the height of the digits is what the canvas says of the font in use."""
    service = Service()

    def look(link: str) -> dict[str, Any]:
        with Chromium(*PHONE) as browser:
            browser.go(link)
            browser.until(lambda: browser.text("largest") == "18.47")
            browser.picture(tmp_path / "phone.png")
            told = browser.ask(
                """(() => {
                const largest = document.getElementById("largest");
                const pen = document.createElement("canvas").getContext("2d");
                const style = getComputedStyle(largest);
                pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
                const seen = (id) => {
                  const box = document.getElementById(id).getBoundingClientRect();
                  return box.top >= 0 && box.bottom <= innerHeight && box.right <= innerWidth;
                };
                return {
                  digits: pen.measureText("8").actualBoundingBoxAscent,
                  fits: document.getElementById("large").scrollWidth <= innerWidth,
                  seen: ["large", "second", "third", "buttons", "say"].filter((id) => !seen(id)),
                  light: getComputedStyle(document.body).backgroundColor,
                  buttons: [...document.querySelectorAll("#buttons button")].map(
                    (one) => one.textContent),
                };})()"""
            )
            told["requests"] = browser.requests()
            told["complaints"] = browser.complaints()
            return dict(told)

    async with served(service) as (page, aside):
        await service.desk.tell([], scenes.READY)
        told = await aside(partial(look, page._place.link))
        own = page._place.origin
    assert told["digits"] * MM_A_PX >= 25.0
    assert told["fits"]
    assert told["seen"] == []
    assert told["light"] == "rgb(255, 255, 255)"
    assert told["buttons"] == ["TAKE", "AGAIN", "BACK"]
    assert told["complaints"] == []
    assert all(each.startswith(own) for each in told["requests"])


HELD = "bench-20280311-094512-1.session is held by another program: nothing new is told until that lets it go"
MOMENTS = {
    "make safe": scenes.PREPARE,
    "set": scenes.SET,
    "hold": scenes.REREADING,
    "ready": scenes.READY,
    "notice": replace(scenes.READY, notices=(HELD,)),
    "taken": scenes.TAKEN,
    "alarm": scenes.ALARM,
    "question": scenes.QUESTION,
    "no signal": scenes.SILENT,
    "snug": scenes.TIGHTEN,
    "torque": scenes.BOLT_BY_BOLT,
    "wrench": scenes.WRENCH,
    "the end": scenes.FINISHED,
}
UPRIGHT = (360, 640)
SIGHT = """(() => {
const box = (one) => one.getBoundingClientRect();
const at = (id) => document.getElementById(id);
const there = ["top", "large", "second", "third", "bar", "buttons"].filter((id) => box(at(id)).height);
const words = (id) => { const of = document.createRange(); of.selectNodeContents(at(id)); return box(of); };
const bolts = [...document.querySelectorAll("#bolts circle")];
const inside = (one) => one.top >= 0 && one.left >= 0
  && one.bottom <= innerHeight + 1 && one.right <= innerWidth + 1;
return {
  cut: ["say", "large", "second", "third"].filter((id) => at(id).scrollWidth > at(id).clientWidth + 1
    || words(id).height && (words(id).left < -1 || words(id).right > innerWidth + 1)),
  high: ["say", "third"].filter((id) => words(id).bottom > box(at(id)).bottom + 1),
  out: [...there.filter((id) => !inside(box(at(id)))), ...bolts.filter((one) => !inside(box(one)))],
  over: there.filter((id, place) => place && box(at(id)).top < box(at(there[place - 1])).bottom - 1),
  under: bolts.filter((one) => box(one).top < box(at("top")).bottom - 1).length,
  largest: parseFloat(getComputedStyle(at("large")).fontSize),
  second: parseFloat(getComputedStyle(at("second")).fontSize),
  room: box(at("large")).height,
};})()"""


@pytest.mark.real
@pytest.mark.parametrize("screen", [PHONE, UPRIGHT], ids=["sideways", "upright"])
async def test_nothing_is_cut_or_lies_over_another_in_any_moment(
    screen: tuple[int, int], tmp_path: Path
) -> None:
    """Sideways the sentence beside a number that is followed may end early: the digits matter more.

    What is wrong with the record may not.
    """
    service, told = Service(), {}
    async with served(service) as (page, aside):
        browser = Chromium(*screen)
        await aside(browser.__enter__)
        try:
            await aside(lambda: browser.go(page._place.link))
            await aside(partial(browser.until, lambda: browser.text("stand") != ""))
            for number, (name, view) in enumerate(MOMENTS.items()):
                await service.desk.tell([], replace(view, t_ns=number))
                shows = (
                    f"newest.t_ns === {number} && document.getElementById('say').textContent !== ''"
                )
                await aside(
                    partial(browser.until, partial(lambda what: bool(browser.ask(what)), shows))
                )
                await aside(partial(browser.picture, tmp_path / f"{name}.png"))
                told[name] = await aside(partial(browser.ask, SIGHT))
        finally:
            await aside(partial(browser.__exit__))
    for name, seen in told.items():
        followed = screen == PHONE and name != "notice" and pictured(MOMENTS[name])["value"]
        assert seen["cut"] == (["say"] if followed and seen["cut"] else []), name
        assert (seen["high"], seen["out"], seen["over"], seen["under"]) == ([], [], [], 0), name
        assert seen["largest"] >= max(48.0, seen["second"]), name
        assert seen["largest"] <= 1.25 * seen["room"], name


@pytest.mark.real
@pytest.mark.parametrize("screen", [PHONE, PHONE[::-1]], ids=["sideways", "upright"])
async def test_the_next_bolt_is_the_one_filled(screen: tuple[int, int], tmp_path: Path) -> None:
    service = Service()

    def look(link: str) -> dict[str, Any]:
        with Chromium(*screen) as browser:
            browser.go(link)
            browser.until(
                lambda: bool(browser.ask("document.querySelector('#bolts .next') !== null"))
            )
            browser.picture(tmp_path / "bolts.png")
            return dict(
                browser.ask(
                    """(() => {
                    const box = (one) => one.getBoundingClientRect();
                    const each = [...document.querySelectorAll("#bolts circle")];
                    const largest = document.createRange();
                    largest.selectNodeContents(document.getElementById("large"));
                    const [circle, words] = [box(document.getElementById("bolts")), box(largest)];
                    return {
                      filled: each.map((one) => getComputedStyle(one).fill !== "none"),
                      text: [...document.querySelectorAll("#bolts text")].map((one) => one.textContent),
                      x: each.map((one) => box(one).left), y: each.map((one) => box(one).top),
                      stacked: ["top", "large", "second", "third", "bar", "buttons"].every(
                        (id, place, all) => !place || box(document.getElementById(id)).top
                          >= box(document.getElementById(all[place - 1])).bottom - 1),
                      apart: words.left >= circle.right || words.bottom <= circle.top,
                      seen: circle.bottom <= innerHeight && circle.right <= innerWidth,
                    };})()"""
                )
            )

    async with served(service) as (page, aside):
        await service.desk.tell([], scenes.BOLT_BY_BOLT)
        told = await aside(partial(look, page._place.link))
    assert told["text"] == ["✓", "3", "5", "✓", "4", "6"]
    assert told["filled"] == [False, True, False, False, False, False]
    assert told["y"][0] == min(told["y"]), "bolt 1 is at the top"
    assert told["x"][1] > told["x"][0], "bolt 2 comes clockwise after it"
    assert told["stacked"], "a long sentence lies over the largest line"
    assert told["apart"], "the words do not lie over the bolts"
    assert told["seen"]


@pytest.mark.real
async def test_a_browser_says_no_signal_when_the_program_is_not_heard(tmp_path: Path) -> None:
    """The program is gone without a word: a second later the page says so, and no old number."""
    service = Service()
    await service.desk.tell([], scenes.READY)

    async with served(service) as (page, aside):
        browser = Chromium(*PHONE)
        await aside(browser.__enter__)
        try:
            await aside(partial(browser.go, page._place.link))
            await aside(partial(browser.until, lambda: browser.text("largest") == "18.47"))
            time.sleep(2.5)  # noqa: ASYNC251 - the loop of the service stands still
            shown = await aside(lambda: browser.ask("window.silence = performance.now()"))
            assert shown is not None
            await aside(partial(browser.until, lambda: browser.text("largest") == "18.47"))
            page._closing = True
            page._place = Place("127.0.0.1", 1)  # nothing is answered any more
            await aside(partial(browser.until, lambda: browser.text("largest") == "NO SIGNAL"))
            await aside(partial(browser.picture, tmp_path / "silent.png"))
            buttons = await aside(
                lambda: browser.ask("document.querySelectorAll('#buttons button').length")
            )
            assert buttons == 0
        finally:
            await aside(partial(browser.__exit__))


@pytest.mark.real
async def test_a_tap_turns_the_signals_on_and_a_button_answers_the_alarm() -> None:
    service = Service()
    async with served(service) as (page, aside):
        await service.desk.tell([], scenes.ALARM)

        def press(link: str) -> list[str]:
            with Chromium(*PHONE) as browser:
                browser.go(link)
                browser.until(lambda: browser.text("second") == "MOVED")
                browser.click("document.getElementById('large')")
                browser.until(lambda: browser.text("sound") == "sound on")
                assert browser.ask("sound.state") == "running"
                browser.click("document.querySelector('#buttons button')")
                browser.until(lambda: bool(service.asked))
                return browser.complaints()

        assert await aside(partial(press, page._place.link)) == []
    assert [(each.kind, each.args) for each in service.asked] == [
        ("acknowledge", {"id": scenes.MOVED.id, "then": "set-again"})
    ]


async def said_in_a_browser(shown: Sequence[tuple[Sequence[Event], View]]) -> list[str]:
    """Return what a browser's voice says of these, each of them painted before the next.

    Before and after them there is no signal, which is said again and again.
    """
    service = Service()
    async with served(service) as (page, aside):
        await service.desk.tell([], scenes.SILENT)
        browser = Chromium(*PHONE)

        def shows(number: int) -> bool:
            return bool(browser.ask("newest.t_ns") == number)

        await aside(browser.__enter__)
        try:
            await aside(lambda: browser.go(page._place.link))
            await aside(partial(browser.until, lambda: browser.text("largest") == "NO SIGNAL"))
            await aside(lambda: browser.click("document.getElementById('large')"))
            told = "window.told = []; speechSynthesis.speak = (one) => told.push(one.text); 1"
            await aside(partial(browser.ask, told))
            for number, (events, view) in enumerate([*shown, ([], scenes.SILENT)]):
                await service.desk.tell(list(events), replace(view, t_ns=number))
                await aside(partial(browser.until, partial(shows, number)))
            last = "told.at(-1)?.startsWith('no signal')"
            await aside(partial(browser.until, lambda: bool(browser.ask(last))))
            told = await aside(lambda: browser.ask("told"))
            return [one for one in told if not one.startswith("no signal")]
        finally:
            await aside(partial(browser.__exit__))


LAID = replace(scenes.REREADING, live=replace(scenes.REREADING.live, laid=True))
READ_NEXT = scenes.REREADING.say.partition(". ")[0].removesuffix(".")


@pytest.mark.real
async def test_a_step_is_told_once_in_a_browser_too() -> None:
    """However often the level is laid down and lifted in it; the next step is told anew."""
    following = replace(scenes.REREADING, step=scenes.REREADING.step + 1)
    shown = (scenes.REREADING, LAID, scenes.REREADING, LAID, scenes.REREADING, following)
    assert await said_in_a_browser([([], view) for view in shown]) == [READ_NEXT, READ_NEXT]


@pytest.mark.real
async def test_a_step_under_a_level_that_lies_already_is_told_in_a_browser_too() -> None:
    """The picture of the step by itself never came: who only hears knew nothing of it."""
    assert await said_in_a_browser([([], LAID)]) == [READ_NEXT]


@pytest.mark.real
async def test_what_lies_there_and_is_void_is_heard_so_in_a_browser_and_a_reading_as_taken() -> (
    None
):
    reading = Event(1, 1, scenes.read_again(18.5))
    lifted, lies = scenes.REREADING, scenes.LYING
    said = await said_in_a_browser([([], lifted), ([], lies), ([], lifted), ([reading], lies)])
    assert said == [
        READ_NEXT,
        "it does not count: lift the level and lay it on again",
        "blade 1, 18.50, lift the level",
    ]


@pytest.mark.real
async def test_a_browser_without_the_token_only_looks() -> None:
    service = Service()
    async with served(service) as (page, aside):
        await service.desk.tell([], scenes.READY)

        def look(link: str) -> int:
            with Chromium(360, 640) as browser:
                browser.go(link)
                browser.until(lambda: browser.text("largest") == "18.47")
                assert browser.ask("document.querySelector('#rows tr').textContent")
                return int(browser.ask("document.querySelectorAll('#buttons button').length"))

        assert await aside(partial(look, page._place.link.partition("#")[0])) == 0
