"""A page for a browser, such as a phone at the nose: what is largest, live, and buttons for who has the token.

    GET  /            the page; it asks nobody else for anything
    GET  /pictures    server-sent events (WHATWG HTML, 9.2): one picture each (`pictured.py`), newest only,
                      and an event "cue" where something begins to be heard
    POST /ask         a command as JSON, with "Authorization: Bearer TOKEN"; answered as JSON

Whoever reaches the address may look. Only the names that the page is served under are answered
(a foreign name that was made to point here is refused), and nothing is asked for by another site's page.
"""

import asyncio
import contextlib
import hmac
import json
import logging
import secrets
import socket
from collections.abc import AsyncIterator, Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from daemon.faces.pictured import cued, pictured
from daemon.shell.counter import Counter
from shared.errors import OutsideError
from shared.inputs import NS, Command
from shared.messages import command_from_line
from shared.plain import plain
from shared.remembered import Remembered
from shared.sounding import Sounding

log = logging.getLogger(__name__)

STATIC = Path(__file__).parent / "static"
FILES = {"/": "page.html", "/page.css": "page.css", "/page.js": "page.js"}
BEAT_S = 0.4
"""A picture is sent at least this often: a page that hears nothing for a second says so."""
MOST_PAGES = 16
LONGEST_ASK = 4096
LATE_NS = 5 * NS
"""A command that arrives later than this after its picture is not done."""
LEAVE_S = 1.0
MAY_ASK = frozenset({"take", "done", "again", "back", "acknowledge", "confirm", "note"})
HEADERS = {
    "Content-Security-Policy": "default-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True, slots=True)
class Certificate:
    """Files of a certificate and its key, PEM."""

    chain: Path
    key: Path


@dataclass(frozen=True, slots=True)
class Place:
    """Where the page is served, and the token of who may act there, new every time.

    host: an address of this machine, never all of them.
    """

    host: str
    port: int
    certificate: Certificate | None = None
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)

    @property
    def origin(self) -> str:
        """Scheme, host and port, as a browser names them."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'https' if self.certificate else 'http'}://{host}:{self.port}"

    @property
    def link(self) -> str:
        """Where a browser that may ask goes; the token is in a part that is never sent."""
        return f"{self.origin}/#{self.token}"

    @property
    def names(self) -> frozenset[str]:
        """Every Host header that means this page."""
        named = {self.origin.partition("//")[2]}
        if self.host in {"127.0.0.1", "::1", "localhost"}:
            named |= {f"{name}:{self.port}" for name in ("127.0.0.1", "localhost", "[::1]")}
        return frozenset(named)


class Page:
    """Serves the page of one session; acts: there is somebody to ask (not of a recording).

    Attributes:
        token: who shows it may ask for what the page offers.
        refused: how many requests were refused.
    """

    def __init__(self, desk: Counter, place: Place, *, acts: bool = True) -> None:
        self._desk = desk
        self._acts = acts
        self._place = place
        self._remembered = Remembered()
        self._picture = b""
        self._number = 0
        self._changed = asyncio.Condition()
        self._pages = 0
        self._closing = False
        self.token = place.token
        self.refused = 0

    async def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Serve until cancelled. ready: called once the page can be opened.

        Raises:
            OutsideError: the address cannot be listened at.
        """
        listener = _listening(self._place)
        server = self._server()
        async with asyncio.TaskGroup() as group:
            serving = group.create_task(server.serve([listener]), name="page server")
            work = [
                group.create_task(self._listen(), name="page events"),
                group.create_task(self._look(), name="page views"),
            ]
            try:
                ready()
                await asyncio.wait({serving})
            finally:
                await self._close(server, serving)
                for task in work:
                    task.cancel()

    async def _close(self, server: "_Server", serving: asyncio.Task[None]) -> None:
        self._closing = True
        server.should_exit = True
        await self._wake()
        await asyncio.wait({serving}, timeout=LEAVE_S)
        serving.cancel()

    def _server(self) -> "_Server":
        app = Starlette(
            routes=[
                Route("/pictures", self._pictures),
                Route("/ask", self._ask, methods=["POST"]),
                *[Route(path, _file(name)) for path, name in FILES.items()],
                Route("/favicon.ico", _nothing),
            ]
        )
        certificate = self._place.certificate
        config = uvicorn.Config(
            _Guarded(app, self._place, self._refuse),
            http="h11",
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=1,
            h11_max_incomplete_event_size=16_384,
            ssl_certfile=certificate.chain if certificate else None,
            ssl_keyfile=certificate.key if certificate else None,
        )
        return _Server(config)

    # --- told ---------------------------------------------------------------------------------

    async def _listen(self) -> None:
        async for event in self._desk.events(0):
            if self._remembered.fold(event.body):
                await self._paint()

    async def _look(self) -> None:
        async for _ in self._desk.views():
            await self._paint()

    async def _paint(self) -> None:
        """Make the picture once for all pages; none where nobody looks."""
        if not self._pages:
            return
        self._picture = self._drawn()
        self._number += 1
        await self._wake()

    def _drawn(self) -> bytes:
        told = pictured(self._desk.view, self._remembered.heard)
        if not self._acts:
            told["buttons"] = []
        return f"data: {json.dumps(told)}\n\n".encode()

    async def _wake(self) -> None:
        async with self._changed:
            self._changed.notify_all()

    async def _pictures(self, _: Request) -> Response:
        if self._pages >= MOST_PAGES:
            return self._refuse(503, f"{MOST_PAGES} pages are open already")
        return StreamingResponse(self._stream(), media_type="text/event-stream", headers=HEADERS)

    async def _stream(self) -> AsyncIterator[bytes]:
        """Every page hears from its own beginning: one that lost the program is told the step again."""
        self._pages += 1
        shown, sounding = -1, Sounding(self._remembered)
        try:
            await self._paint()
            while not self._closing:
                shown = self._number
                yield self._picture + self._begun(sounding)
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(BEAT_S), self._changed:
                        await self._changed.wait_for(
                            lambda at=shown: self._number > at or self._closing  # type: ignore[misc]
                        )
            # the end stays on the page when the program has gone
            yield self._picture + self._begun(sounding)
        finally:
            self._pages -= 1

    def _begun(self, sounding: Sounding) -> bytes:
        cue = sounding.look(self._desk.view, asyncio.get_running_loop().time())
        return b"" if cue is None else f"event: cue\ndata: {json.dumps(cued(cue))}\n\n".encode()

    # --- asked --------------------------------------------------------------------------------

    async def _ask(self, request: Request) -> Response:
        given = request.headers.get("authorization", "").encode()
        if not hmac.compare_digest(given, f"Bearer {self.token}".encode()):
            return self._refuse(403, "the token is missing or old: scan the code again")
        if not self._acts:
            return self._refuse(403, "this is a recording")
        body = b""
        async for part in request.stream():
            body += part
            if len(body) > LONGEST_ASK:
                return self._refuse(413, f"over {LONGEST_ASK} bytes")
        try:
            command = _command(body, self._desk.newest)
        except ValueError as error:
            return self._refuse(400, str(error))
        return await self._done(command)

    async def _done(self, command: Command) -> Response:
        try:
            answer = await self._desk.send(command)
        except TimeoutError:
            return JSONResponse({"result": "refused", "say": "the service is going down"}, 503)
        return JSONResponse({"result": answer.result, "say": answer.say}, headers=HEADERS)

    def _refuse(self, status: int, why: str) -> Response:
        self.refused += 1
        log.warning("page: a request is refused: %s", plain(why[:200]))
        return JSONResponse({"result": "refused", "say": why[:300]}, status, headers=HEADERS)


class _Guarded:
    """Answers only under the page's own names, and nothing that another site's page asks."""

    def __init__(self, app: ASGIApp, place: Place, refuse: Callable[[int, str], Response]) -> None:
        self._app = app
        self._place = place
        self._refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope)
        host, origin = request.headers.get("host", ""), request.headers.get("origin")
        own = {f"{self._place.origin.partition(':')[0]}://{name}" for name in self._place.names}
        if host not in self._place.names:
            await self._refuse(421, "this page is not served under that name")(scope, receive, send)
        elif (origin is not None or request.method == "POST") and origin not in own:
            await self._refuse(403, "asked by a page from elsewhere")(scope, receive, send)
        else:
            await self._app(scope, receive, send)


class _Server(uvicorn.Server):
    """Leaves the signals to the program."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take none."""
        yield


def _file(name: str) -> Callable[[Request], Any]:
    async def answered(_: Request) -> Response:
        return FileResponse(STATIC / name, headers=HEADERS)

    return answered


async def _nothing(_: Request) -> Response:
    """Browsers ask for a sign of the page by themselves."""
    return Response(status_code=204, headers=HEADERS)


def _command(body: bytes, newest: int) -> Command:
    """Read what a page asks; it must say which picture it was asked from.

    Raises:
        ValueError: it is no command, or none that a page may send.
    """
    command = command_from_line(body, newest, "page")
    if command.client != "page" or command.kind not in MAY_ASK:
        raise ValueError(f"a page may not ask for {command.kind}")
    if command.until is None:
        raise ValueError("until is missing")
    return command


def _listening(place: Place) -> socket.socket:
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    listener = socket.socket(family)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((place.host, place.port))
        listener.listen(MOST_PAGES)
    except OSError as error:
        listener.close()
        raise OutsideError(
            f"no page can be served at {place.host}, port {place.port}: {error.strerror or error}",
            "give an address of this machine, and a port that is free",
        ) from error
    return listener
