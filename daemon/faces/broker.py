"""An MQTT broker as a face: what happens is published in order, and clients may ask.

Below the job's topic:

    state            retained: {"online": true, "session": ...}; the will says false
    event            every event, QoS 1, in order; `session` and `n` tell a repeated one
    result           retained: the newest `judged` or `summary`
    alarms           retained: what is open
    job              retained: session, job, stage, blade and what to do
    levels           retained: name, role and state of each
    view             the whole picture, QoS 0, as often as the job says, only the newest
    reached/SESSION  retained until its end: up to which event it was published
    ask/CLIENT       what a client asks (`daemon/faces/asked.py`)
    answer/CLIENT    what it is answered

The session is the outbox: what the broker has not confirmed is sent when it is back. A broker that
hangs, is slow or is gone delays nothing: this has a task of its own and nobody waits for it.
"""

import asyncio
import contextlib
import json
import logging
from dataclasses import asdict, dataclass, is_dataclass, replace
from importlib.metadata import version
from typing import Any

import aiomqtt
from pydantic import TypeAdapter

from daemon.faces import asked, mqtt
from daemon.faces.mqtt import Access, rarely
from daemon.shell.counter import Counter
from shared.desk import Desk
from shared.events import Answered, BladeId, Event, Judged, Summary
from shared.inputs import Command
from shared.messages import event_to_dict
from shared.plain import plain
from shared.view import View

log = logging.getLogger(__name__)

AGAIN_S = (1.0, 2.0, 5.0, 10.0, 30.0)
"""Waits between attempts; the last one stays."""
SEARCH_S = 1.0
"""So long a retained message is waited for; a new topic has none."""
MARK_EVERY_S = 0.5
"""Between two marks of how far we are; what lies between is sent twice after a break."""

VIEWS = TypeAdapter(View)
INSTALLED = version("stillblade")
"""Looked up once: it is read from a file, and the state that names it is compared with every event."""


@dataclass(frozen=True, slots=True)
class State:
    """Whether the service can be reached, how many messages it refused, and whether more will come."""

    online: bool
    session: str
    refused: int = 0
    over: bool = False
    version: str = INSTALLED
    """Of the service: views have the shape that one version gives them."""


@dataclass(frozen=True, slots=True)
class JobState:
    """Where the job is, in a few words."""

    session: str
    job: str
    stage: str
    blade: BladeId | None
    say: str


@dataclass(frozen=True, slots=True)
class Health:
    """One level."""

    name: str
    role: str
    state: str


class Publisher:
    """Publishes one session and answers clients; `session` is the id in its header.

    recorded: it is over, and only its events are wanted: what is retained is of whatever runs now, so
    nothing of that is touched, nobody is answered, and there is no will.

    Attributes:
        reached: number of the last event that the broker confirmed; None: it was not asked yet.
        refused: how many messages were refused.
    """

    def __init__(
        self, desk: Counter, access: Access, session: str, *, recorded: bool = False
    ) -> None:
        self._desk = desk
        self._recorded = recorded
        self._access = access
        self._session = session
        self._told: dict[str, Any] = {}
        """What is retained, as it was said over this connection: said again when it changes."""
        self._turn = asyncio.Lock()
        self._over = False
        self.reached: int | None = None
        self.refused = 0

    async def run(self) -> None:
        """Publish until the session is over or this is cancelled; mend every break."""
        failures = 0
        while True:
            before = self.reached
            try:
                will = None if self._recorded else self._will()
                async with self._access.client(self._identifier, will) as client:
                    await self._serve(client)
                    return
            except mqtt.BROKEN as error:
                failures = 1 if self.reached != before else failures + 1
                if failures == 1:
                    why = plain(str(error)) or "it does not answer"
                    log.warning("broker %s: %s; it is tried again", self._access.where, why)
            await asyncio.sleep(AGAIN_S[min(failures, len(AGAIN_S)) - 1])

    def topic(self, about: str) -> str:
        """Return where something is published."""
        return self._access.topic(about)

    @property
    def missing(self) -> int:
        """How many events the broker has not confirmed."""
        return self._desk.newest - (self.reached or 0)

    @property
    def _identifier(self) -> str:
        return f"stillblade-{self._session}"[:65]

    @property
    def _state(self) -> State:
        return State(True, self._session, self.refused, self._over)

    def _will(self) -> aiomqtt.Will:
        gone = json.dumps(asdict(State(online=False, session=self._session)))
        return aiomqtt.Will(self._access.topic("state"), gone, 1, retain=True)

    async def _serve(self, client: aiomqtt.Client) -> None:
        self._told.clear()
        if self.reached is None:
            self.reached = await self._last_time(client)
        if self._recorded:
            await self._events(client)
            return
        await mqtt.hear(client, self._access.topic("ask/+"))
        await self._keep(client, "state", self._state)
        try:
            async with asyncio.TaskGroup() as group:
                others = [
                    group.create_task(self._answer(client), name="broker questions"),
                    group.create_task(self._views(client), name="broker views"),
                    group.create_task(self._marks(client), name="broker marks"),
                ]
                await self._events(client)
                self._over = True
                for task in others:
                    task.cancel()
        except ExceptionGroup as failed:
            raise failed.exceptions[0] from None
        finally:
            with contextlib.suppress(*mqtt.BROKEN):
                async with asyncio.timeout(mqtt.GOODBYE_S):
                    await self._keep(client, "state", replace(self._state, online=False))

    # --- told ---------------------------------------------------------------------------------

    async def _last_time(self, client: aiomqtt.Client) -> int:
        """Return up to which event this session was published before."""
        topic = self._access.topic(f"reached/{self._session}")
        await mqtt.hear(client, topic)
        try:
            async with asyncio.timeout(SEARCH_S):
                async for message in client.messages:
                    if message.topic.matches(topic):
                        return _number(message.payload)
        except TimeoutError:
            pass
        return 0

    async def _events(self, client: aiomqtt.Client) -> None:
        async for event in self._desk.events(self.reached or 0):
            if isinstance(event.body, Answered):
                await asyncio.sleep(0)  # whoever asked hears it first
            await mqtt.say(client, self._access.topic("event"), self._with_session(event))
            await self._stands(client, event)
            self.reached = event.n
            if isinstance(event.body, Summary):
                self._over = True
                await self._mark(client, b"")

    async def _marks(self, client: aiomqtt.Client) -> None:
        marked = None
        while True:
            if self.reached != marked and not self._over:
                marked = self.reached
                await self._mark(client, str(marked).encode())
            await asyncio.sleep(MARK_EVERY_S)

    async def _mark(self, client: aiomqtt.Client, how_far: bytes) -> None:
        topic = self._access.topic(f"reached/{self._session}")
        await mqtt.say(client, topic, how_far, retain=True)

    async def _stands(self, client: aiomqtt.Client, event: Event) -> None:
        """Keep what a client that comes late wants to know."""
        if self._recorded:
            return
        if isinstance(event.body, Judged | Summary):
            await self._keep(client, "result", self._with_session(event))
        await self._keep_picture(client)

    async def _keep_picture(self, client: aiomqtt.Client) -> None:
        async with self._turn:  # nobody writes an older picture over a newer one
            view = self._desk.view
            job = JobState(self._session, view.job, view.stage, view.blade, view.say)
            levels = tuple(Health(each.name, each.role, each.state) for each in view.levels)
            await self._keep(client, "state", self._state)
            await self._keep(client, "job", job)
            await self._keep(client, "levels", levels)
            await self._keep(client, "alarms", view.alarms)

    async def _views(self, client: aiomqtt.Client) -> None:
        async for view in self._desk.views():
            await mqtt.say(client, self._access.topic("view"), VIEWS.dump_json(view), qos=0)
            await self._keep_picture(client)
            await asyncio.sleep(self._access.broker.every_s)
        await asyncio.get_running_loop().create_future()  # it ends with the events

    async def _keep(self, client: aiomqtt.Client, about: str, told: Any) -> None:
        """Publish as retained what differs from what stands there."""
        if about not in self._told or self._told[about] != told:
            await mqtt.say(client, self._access.topic(about), _plainly(told), retain=True)
            self._told[about] = told

    def _with_session(self, event: Event) -> dict[str, Any]:
        return {**event_to_dict(event), "session": self._session}

    # --- asked --------------------------------------------------------------------------------

    async def _answer(self, client: aiomqtt.Client) -> None:
        async for message in client.messages:
            who = str(message.topic).rpartition("/ask/")[2]
            if not message.topic.matches(self._access.topic("ask/+")):
                continue  # how far we were
            answer = await self._answered(message, who)
            await mqtt.say(client, self._access.topic(f"answer/{who}"), answer)

    async def _answered(self, message: aiomqtt.Message, who: str) -> dict[str, Any]:
        if message.retain:
            return self._refuse(asked.Refusal("", "a retained message is never done"), who)
        may_act = self._access.broker.may_act
        match wanted := asked.read(message.payload, who, may_act, self._desk.newest):
            case asked.Refusal():
                return self._refuse(wanted, who)
            case asked.Query():
                return reply(self._desk, wanted)
            case Command():
                return await _done(self._desk, wanted)

    def _refuse(self, refusal: asked.Refusal, who: str) -> dict[str, Any]:
        self.refused += 1
        if rarely(self.refused):
            why = plain(refusal.why)
            log.warning("broker: message %d of %s is refused: %s", self.refused, plain(who), why)
        return asdict(refusal)


def reply(desk: Counter, query: asked.Query) -> dict[str, Any]:
    """Answer a question that changes nothing."""
    if query.query == "view":
        return {"id": query.id, "view": VIEWS.dump_python(desk.view, mode="json")}
    events = desk.since(query.after)[: asked.MOST_EVENTS]
    told = [event_to_dict(event) for event in events]
    return {"id": query.id, "events": told, "newest": desk.newest, "over": desk.closed}


def _plainly(told: Any) -> Any:
    """Return what becomes JSON."""
    if isinstance(told, tuple):
        return [_plainly(each) for each in told]
    return asdict(told) if is_dataclass(told) and not isinstance(told, type) else told


async def _done(desk: Desk, command: Command) -> dict[str, Any]:
    try:
        answer: Answered = await desk.send(command)
    except TimeoutError:
        return {"id": command.id, "result": "refused", "why": "the service is going down"}
    return {"id": command.id, "result": answer.result, "why": answer.say}


def _number(payload: Any) -> int:
    try:
        return max(0, int(payload))
    except (ValueError, TypeError):
        return 0
