"""The Desk of a service on another machine, over the broker that its job names.

Events go on after the last one heard, over every break, so a face misses none. Views come as often as
the service publishes them.
"""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import asdict, replace
from typing import Any

import aiomqtt

from daemon.faces import mqtt
from daemon.faces.asked import own_id
from daemon.faces.broker import INSTALLED, VIEWS
from daemon.faces.mqtt import Access
from daemon.shell.counter import Counter
from shared.errors import OutsideError
from shared.events import Answered, Event, Summary
from shared.inputs import NS, Command
from shared.messages import event_from_dict, json_of
from shared.plain import plain

log = logging.getLogger(__name__)

WELCOME_S = 5.0
AGAIN_S = 0.5
GIVEN_UP_S = 30.0
SHOWN_S = 5.0
"""So long the screen says why something was not done."""
LATE_NS = 5 * NS
"""A command is not done later than this after the picture it was asked from."""
LONGEST = 8 * 1024 * 1024


@asynccontextmanager
async def subscribed(access: Access, client: str) -> AsyncIterator[Counter]:
    """Give the Desk of a service that publishes to a broker, for as long as the context is open.

    Args:
        access: to the broker.
        client: the name that commands carry; what it may do stands in the service's job.

    Raises:
        OutsideError: the broker cannot be reached, or no service answers there.
    """
    mirror = _Mirror(access, client)
    async with asyncio.TaskGroup() as group:
        keeping = group.create_task(mirror.keep(), name="subscribed")
        try:
            yield await mirror.begun(keeping)
        finally:
            keeping.cancel()


class _Mirror:
    def __init__(self, access: Access, client: str) -> None:
        self._access = access
        self._name = client
        self._session = ""
        self._early: list[Event] = []
        """Events that came before what lies before them."""
        self._connection: aiomqtt.Client | None = None
        self._desk: Counter | None = None
        self._shown = asyncio.Event()
        self._failure = ""
        self._asked = False
        """For earlier events, and not answered yet."""
        self._patience = asyncio.timeout(None)
        self._refusal = ""
        self._refused_until = 0.0
        self._sending: set[asyncio.Task[None]] = set()

    async def begun(self, keeping: asyncio.Task[None]) -> Counter:
        """Return the Desk as soon as there is a picture to show."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(WELCOME_S):
                await self._shown.wait()
        if self._desk is None:
            keeping.cancel()
            why = self._failure or "no service answers"
            raise OutsideError(f"broker {self._access.where}: {why}")
        return self._desk

    def put(self, command: Command) -> None:
        """Send a command; its answer is an event. One that meets a broken line has none."""
        if self._connection is None or self._desk is None:
            return
        until = command.until or self._desk.view.t_ns + LATE_NS
        told = asdict(replace(command, until=until))
        del told["t_ns"]
        told["client"] = self._name
        self._publish(f"ask/{self._name}", told)

    def _publish(self, about: str, told: Any) -> None:
        assert self._connection is not None
        sending = asyncio.get_running_loop().create_task(
            self._sent(self._connection, about, told), name="asking"
        )
        self._sending.add(sending)
        sending.add_done_callback(self._sending.discard)

    async def _sent(self, client: aiomqtt.Client, about: str, told: Any) -> None:
        try:
            await mqtt.say(client, self._access.topic(about), told)
        except mqtt.BROKEN as error:
            log.warning("broker %s: not asked: %s", self._access.where, error)

    async def keep(self) -> None:
        """Mirror until the session is over, or the service is gone for good."""
        loop = asyncio.get_running_loop()
        heard = loop.time()
        try:
            while loop.time() - heard < GIVEN_UP_S:
                try:
                    async with self._access.client(own_id(self._name)) as client:
                        await self._hear(client)
                        return
                except mqtt.BROKEN as error:
                    self._failure = str(error) or "it does not answer"
                    if self._connection is not None:
                        heard = loop.time()
                self._connection = None
                await asyncio.sleep(AGAIN_S)
        finally:
            if self._desk is not None:
                await self._desk.close()

    async def _hear(self, client: aiomqtt.Client) -> None:
        """Pass on what is published, until the session is over."""
        for about in ("event", "view", "state", f"answer/{self._name}"):
            await mqtt.hear(client, self._access.topic(about))
        self._connection = client
        self._begin()
        self._patience = asyncio.timeout(None)
        try:
            async with self._patience:
                async for message in client.messages:
                    if await self._taken(message):
                        return
        except TimeoutError:
            if not self._patience.expired():
                raise
            log.warning("broker %s: the service went away", self._access.where)

    async def _taken(self, message: aiomqtt.Message) -> bool:
        """Take one message in, or pass a broken one over; True: the session is over."""
        about = str(message.topic).removeprefix(f"{self._access.broker.topic}/")
        try:
            given = json_of(message.payload, LONGEST)
            return isinstance(given, dict) and await self._told(about, given)
        except ValueError as error:
            log.warning("broker %s: %s is passed over: %s", self._access.where, about, error)
            return False

    def _begin(self) -> None:
        self._asked = False
        self._publish(f"ask/{self._name}", {"id": own_id(self._name), "query": "view"})
        self._ask_events()

    def _ask_events(self) -> None:
        if not self._asked:
            self._asked = True
            after = self._desk.newest if self._desk is not None else 0
            question = {"id": own_id(self._name), "query": "events", "after": after}
            self._publish(f"ask/{self._name}", question)

    async def _told(self, about: str, given: dict[str, Any]) -> bool:
        """Take one message in; True: the session is over, or another one runs there now."""
        match about, given:
            case "state", {"session": str(session), "online": bool(online), "over": bool(over)}:
                theirs = given.get("version", "")
                if online and theirs != INSTALLED:
                    return self._of_another_version(str(theirs))
                return self._stands(session, online=online, over=over)
            case "view", _:
                await self._show(given)
            case "event", {"session": str(session)}:
                if self._session in {"", session}:
                    self._early.append(event_from_dict(given))
                    return await self._in_order()
            case _, {"view": dict(view)}:
                await self._show(view)
            case _, {"events": list(events), "newest": int(newest), "over": bool(over)}:
                self._asked = False
                self._early += [event_from_dict(event) for event in events]
                ended = await self._in_order()
                if self._newest < newest and events:
                    self._ask_events()
                return ended or (over and self._newest >= newest)
            case _, {"result": "refused", "id": str(number), "why": str(why)}:
                self._refused(number, why)
        return False

    @property
    def _newest(self) -> int:
        return self._desk.newest if self._desk is not None else 0

    def _stands(self, session: str, *, online: bool, over: bool) -> bool:
        """Note whether the service is there; True: the session is over, or another runs there."""
        if session != self._session and self._session:
            return online
        if not online:
            self._failure = "the service is not there"
            self._patience.reschedule(asyncio.get_running_loop().time() + GIVEN_UP_S)
            return over and self._desk is not None
        self._patience.reschedule(None)
        if self._failure:
            self._failure = ""
            self._begin()
        self._session = session
        return False

    def _of_another_version(self, theirs: str) -> bool:
        """Say so, and give up: what it shows would be read wrong."""
        self._failure = (
            f"the service there is stillblade {plain(theirs)[:20] or 'of an older version'}, this is "
            f"{INSTALLED}: install the same"
        )
        self._shown.set()  # who waits for a picture gets none
        return True

    async def _show(self, values: dict[str, Any]) -> None:
        view = VIEWS.validate_python(values)
        if asyncio.get_running_loop().time() < self._refused_until:
            view = replace(view, notices=(*view.notices, self._refusal))
        if self._desk is None:
            self._desk = Counter(self, [], view)
            self._shown.set()
            await self._in_order()
        else:
            await self._desk.tell([], view)

    async def _in_order(self) -> bool:
        """Announce what follows on what was announced; True: the session's last is among it."""
        if self._desk is None:
            return False
        waiting = {event.n: event for event in self._early if event.n > self._desk.newest}
        ready: list[Event] = []
        while (n := self._desk.newest + len(ready) + 1) in waiting:
            ready.append(waiting.pop(n))
        self._early = list(waiting.values())
        if ready:
            await self._desk.tell(ready, self._desk.view)
        elif self._early:
            self._ask_events()
        return any(isinstance(event.body, Summary) for event in ready)

    def _refused(self, number: str, why: str) -> None:
        """A command that never reached the engine has no event: tell whoever asked for it."""
        log.warning("not done: %s", plain(why))
        self._refusal = f"not done: {why}"
        self._refused_until = asyncio.get_running_loop().time() + SHOWN_S
        if self._desk is not None:
            self._desk.answer(Answered(number, self._name, "refused", why))
