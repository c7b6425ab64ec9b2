"""Publishing to a broker, and what its clients may ask: against Debian's mosquitto and against none."""

import asyncio
import contextlib
import json
import random
import signal
import socket
import subprocess
import tracemalloc
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from typing import Any

import aiomqtt
import jsonschema
import pytest

from daemon.cli.attachable import publisher_of
from daemon.cli.json_schemas import schema_of
from daemon.faces import broker as publishing_module
from daemon.faces import mqtt
from daemon.faces import subscribed as over_broker
from daemon.faces.broker import Publisher
from daemon.faces.mqtt import Access
from shared.errors import BadInputError, OutsideError
from shared.events import Summary
from shared.job import Broker
from shared.view import AlarmView, LevelView
from tests.daemon.bench import header
from tests.faces.hosts import BROKER_TOPIC as TOPIC
from tests.faces.hosts import Service
from tests.faces.mosquitto import Mosquitto, free_port
from tests.faces.test_desk import PATIENCE_S, until

END = replace(Summary("finished", [], None, None, None, None, [], [], 0), result="within")
FAR = 10**15
"""A session time that never comes."""


def told_to(port: int, **more: Any) -> Broker:
    return Broker(
        host="127.0.0.1", port=port, topic=TOPIC, **{"anonymous": True, "every_s": 0.05, **more}
    )


@asynccontextmanager
async def publishing(
    service: Service, broker: Broker, beside: Path = Path()
) -> AsyncIterator[Publisher]:
    """Publish meanwhile; `task` is on the publisher for those who wait for its end."""
    async with asyncio.TaskGroup() as group:
        made = Publisher(service.desk, Access(broker, beside), "job-1")
        task = group.create_task(made.run(), name="publisher")
        made.task = task  # type: ignore[attr-defined]
        yield made
        task.cancel()


# --- no broker --------------------------------------------------------------------------------


async def test_a_broker_that_is_not_there_delays_nothing(caplog: pytest.LogCaptureFixture) -> None:
    service = Service()
    async with publishing(service, told_to(free_port())):
        await until(lambda: "is tried again" in caplog.text)
        async with asyncio.timeout(PATIENCE_S):
            await service.say(1000)
    assert service.desk.newest == 1000
    assert caplog.text.count("is tried again") == 1


async def test_a_broker_that_hangs_delays_nothing(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(mqtt, "ANSWER_S", 0.3)
    service = Service()
    with socket.socket() as mute:  # it takes the connection and never says a word
        mute.bind(("127.0.0.1", 0))
        mute.listen()
        async with publishing(service, told_to(mute.getsockname()[1])):
            await until(lambda: "is tried again" in caplog.text)
            async with asyncio.timeout(PATIENCE_S):
                await service.say(1000)
    assert service.desk.newest == 1000


async def test_an_outage_of_a_day_is_paid_with_no_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """24 hours of pictures, one in ten seconds, and attempts as often; nothing is queued."""
    monkeypatch.setattr(publishing_module, "AGAIN_S", (0.001,))
    service = Service()
    async with publishing(service, told_to(free_port())):
        for _ in range(640):
            await service.show()
        await asyncio.sleep(0.2)
        tracemalloc.start()
        before = tracemalloc.get_traced_memory()[0]
        for _ in range(8000):
            await service.show()
        await asyncio.sleep(0.2)
        after = tracemalloc.get_traced_memory()[0]
        tracemalloc.stop()
    assert after - before < 200_000  # 8,000 views of 2,000 bytes would be 16 MB


DAY_S = 24 * 3600
EVENT_EVERY_S = 30
"""In a job there are fewer."""


async def a_day(service: Service) -> int:
    """A picture a second and an event in half a minute; return the bytes that were kept of it."""
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for second in range(DAY_S):
        await service.show()
        if second % EVENT_EVERY_S == 0:
            await service.say(1)
        if second % 3600 == 0:
            await asyncio.sleep(0.05)  # an attempt or more, in every hour
    await asyncio.sleep(0.2)
    kept = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    return kept


@pytest.mark.real
@pytest.mark.long
async def test_after_a_day_without_the_broker_everything_arrives_and_nothing_was_kept_for_it(
    mosquitto: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same day beside nobody who publishes keeps its events too: they are the session's own."""
    monkeypatch.setattr(publishing_module, "AGAIN_S", (0.01,))
    alone = Service()
    await alone.say(50)
    kept_alone = await a_day(alone)
    service = Service()
    async with publishing(service, told_to(mosquitto.port)) as made:
        async with subscribed(mosquitto.port) as heard:
            await service.say(50)
            await until(lambda: heard.numbers() == [*range(1, 51)])
        await until(lambda: made.missing == 0)
        await asyncio.to_thread(mosquitto.stop)
        kept = await a_day(service)
        assert made.missing == DAY_S // EVENT_EVERY_S
        await asyncio.to_thread(mosquitto.start)
        async with subscribed(mosquitto.port) as heard:
            await until(lambda: heard.numbers() == [*range(51, service.desk.newest + 1)])
    assert kept - kept_alone < 500_000, (kept, kept_alone)


def test_what_cannot_be_read_is_bad_input(tmp_path: Path) -> None:
    broker = told_to(1, user="nose", password_file="nowhere.txt")
    with pytest.raises(BadInputError, match=r"nowhere\.txt.*password_file"):
        Access(broker, tmp_path)
    broker = told_to(1, tls=True, ca_file="nowhere.pem")
    with pytest.raises(BadInputError, match=r"nowhere\.pem.*ca_file"):
        Access(broker, tmp_path)


def test_a_password_that_others_may_read_is_refused(tmp_path: Path) -> None:
    (tmp_path / "open.txt").write_text("secret")
    (tmp_path / "open.txt").chmod(0o644)
    with pytest.raises(BadInputError, match=r"others may read it.*chmod 600 open\.txt") as refused:
        Access(told_to(1, user="nose", password_file="open.txt"), tmp_path)
    assert "secret" not in str(refused.value)


@pytest.mark.parametrize(
    ("wrong", "what"),
    [
        *(({"topic": topic}, "topic") for topic in ("", "/x", "a/#", "a/+/b", "x" * 201)),
        ({"anonymous": False}, "user is missing"),
        ({"user": "nose"}, "go together"),
        ({"ca_file": "x.pem"}, "tls"),
        ({"port": 0}, "port"),
        ({"host": ""}, "host"),
        ({"every_s": 0}, "every_s"),
        ({"may_act": ["a/b"]}, "may_act"),
        ({"pasword": "x"}, "pasword"),
    ],
)
def test_tables_that_cannot_be(wrong: dict[str, Any], what: str) -> None:
    with pytest.raises(ValueError, match=what):
        Broker.model_validate({"host": "127.0.0.1", "anonymous": True, **wrong})


# --- mosquitto --------------------------------------------------------------------------------


@pytest.fixture
def mosquitto() -> Iterator[Mosquitto]:
    with Mosquitto() as made:
        yield made


class Subscriber:
    """Keeps what a broker sends below the topic, over every break, in a session of its own."""

    def __init__(self, port: int, identity: str = "keeper", topic: str = TOPIC) -> None:
        self._port = port
        self._identity = identity
        self._topic = topic
        self.heard: dict[str, list[Any]] = {}
        self.client: aiomqtt.Client | None = None
        self.breaks = 0

    async def run(self) -> None:
        while True:
            with contextlib.suppress(aiomqtt.MqttError, OSError, TimeoutError):
                async with aiomqtt.Client(
                    "127.0.0.1", self._port, identifier=self._identity, clean_session=False,
                    timeout=5, socket_options=[(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)],
                ) as client:  # fmt: skip
                    await client.subscribe(f"{self._topic}/#", qos=1)
                    self.client = client
                    async for message in client.messages:
                        about = str(message.topic).removeprefix(f"{self._topic}/")
                        if about.startswith("ask/"):
                            continue
                        if message.payload:
                            told = json.loads(message.payload)
                            self.heard.setdefault(about, []).append(told)
                        else:
                            self.heard.pop(about, None)
            self.breaks += 1
            self.client = None
            await asyncio.sleep(0.05)

    def newest(self, about: str) -> Any:
        return self.heard.get(about, [None])[-1]

    def numbers(self) -> list[int]:
        """Return the events heard, each once, in the order in which they first came."""
        return list(dict.fromkeys(one["n"] for one in self.heard.get("event", [])))

    async def ask(self, told: Any, who: str = "tablet", *, retain: bool = False) -> Any:
        """Ask, and return the answer."""
        about = f"answer/{who}"
        before = len(self.heard.get(about, []))
        payload = told if isinstance(told, bytes) else json.dumps(told)
        assert self.client is not None
        await self.client.publish(f"{TOPIC}/ask/{who}", payload, 1, retain=retain)
        await until(lambda: len(self.heard.get(about, [])) > before)
        return self.heard[about][before]


@asynccontextmanager
async def subscribed(
    port: int, identity: str = "keeper", topic: str = TOPIC
) -> AsyncIterator[Subscriber]:
    async with asyncio.TaskGroup() as group:
        made = Subscriber(port, identity, topic)
        task = group.create_task(made.run(), name="subscriber")
        await until(lambda: made.client is not None)
        yield made
        task.cancel()


async def online(heard: Subscriber) -> None:
    await until(lambda: (heard.newest("state") or {}).get("online") is True)


ALARM = AlarmView(1, 2, "blade 2", "moved", "Blade 2 moved by 0.39 finer.", 17.0, settable=True)
LEVEL = LevelView("tip", "blade", "streaming", 17.0, 0.1, 10.0, None, 0)


@pytest.mark.real
@pytest.mark.parametrize(("theirs", "named"), [("9.9.9", "9.9.9"), ("", "of an older version")])
async def test_a_face_of_another_version_is_told_so_and_shows_nothing(
    mosquitto: Mosquitto, theirs: str, named: str
) -> None:
    access = Access(told_to(mosquitto.port), Path())
    told = {"session": "job-1", "online": True, "over": False, "version": theirs}
    async with access.client("another") as client:
        await mqtt.say(client, f"{TOPIC}/state", told, retain=True)
    with pytest.raises(ExceptionGroup) as found:
        async with over_broker.subscribed(access, "face"):
            raise AssertionError("there is nothing to show")
    said = f"is stillblade {named}, this is .*: install the same"
    assert found.group_contains(OutsideError, match=said)


def test_what_watches_publishes_beside_the_job_of_the_same_file(tmp_path: Path) -> None:
    broker = told_to(1883)
    for procedure, topic in (
        ("set", TOPIC),
        ("watch", f"{TOPIC}/watch"),
        ("read", f"{TOPIC}/read"),
    ):
        head = header(broker=broker.model_dump()).model_copy(update={"procedure": procedure})
        made = publisher_of(Service().desk, head, tmp_path / "a.session")
        assert made is not None
        assert made.topic("state") == f"{topic}/state"


@pytest.mark.real
async def test_what_is_published_is_what_the_docs_say(mosquitto: Mosquitto) -> None:
    service = Service()
    async with subscribed(mosquitto.port) as heard:
        async with publishing(service, told_to(mosquitto.port)) as made:
            await online(heard)
            await service.say(50)
            await service.show(say="Torque in star order.", alarms=(ALARM,), levels=(LEVEL,))
            await until(lambda: bool(heard.newest("alarms")))
            await until(lambda: heard.newest("reached/job-1") == 50)
            await service.show(alarms=())
            await until(lambda: heard.newest("alarms") == [])
            await service.tell(END)
            await until(made.task.done)  # type: ignore[attr-defined]
        await until(lambda: heard.numbers() == [*range(1, 52)])
        await until(lambda: heard.newest("state") == {
            "online": False, "session": "job-1", "refused": 0, "over": True,
            "version": version("stillblade"),
        })  # fmt: skip
        assert "reached/job-1" not in heard.heard
        assert heard.newest("view")["say"] == "Torque in star order."
        assert heard.newest("job")["say"] == "Torque in star order."
        assert heard.newest("levels") == [{"name": "tip", "role": "blade", "state": "streaming"}]
        schema = schema_of("broker")
        jsonschema.Draft202012Validator.check_schema(schema)
        assert {"event", "view", "state", "job", "levels", "alarms", "result"} <= set(heard.heard)
        for about, messages in heard.heard.items():
            one = {**schema["properties"][about], "$defs": schema["$defs"]}
            for told in (messages[0], messages[-1]):
                assert not [*jsonschema.Draft202012Validator(one).iter_errors(told)], about
    async with subscribed(mosquitto.port, "late") as late:
        await until(lambda: "result" in late.heard and "state" in late.heard)
        assert late.newest("result")["result"] == "within"
        assert "event" not in late.heard


@pytest.mark.real
async def test_the_will_says_so_where_the_program_is_gone(mosquitto: Mosquitto) -> None:
    async with subscribed(mosquitto.port) as heard:
        publisher = Publisher(Service().desk, Access(told_to(mosquitto.port), Path()), "job-1")
        with contextlib.suppress(aiomqtt.MqttError):
            async with publisher._access.client("it", publisher._will()) as client:
                await mqtt.say(client, f"{TOPIC}/state", {"online": True}, retain=True)
                await online(heard)
                client._client._sock.shutdown(socket.SHUT_RDWR)  # type: ignore[union-attr]
        await until(lambda: heard.newest("state")["online"] is False)


@pytest.mark.real
async def test_a_stop_is_said_and_obeyed_at_any_moment(mosquitto: Mosquitto) -> None:
    """Cancelled 60 times amid publishing: each ends, and the state says that it is gone."""
    service, rng = Service(), random.Random(5)
    async with subscribed(mosquitto.port) as heard:
        for _ in range(60):
            async with asyncio.timeout(PATIENCE_S), publishing(service, told_to(mosquitto.port)):
                await service.say(20)
                await asyncio.sleep(rng.uniform(0, 0.03))
        async with publishing(service, told_to(mosquitto.port)):
            await until(lambda: len(heard.numbers()) == 1200)
        await until(lambda: heard.newest("state")["online"] is False)
        assert heard.newest("state")["over"] is False
    assert heard.numbers() == [*range(1, 1201)]


@pytest.mark.real
async def test_a_hung_broker_delays_nothing_and_is_left(
    mosquitto: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mqtt, "ANSWER_S", 0.5)
    monkeypatch.setattr(publishing_module, "AGAIN_S", (0.1,))
    service = Service()
    async with subscribed(mosquitto.port) as heard:
        async with publishing(service, told_to(mosquitto.port)) as made:
            await until(lambda: made.reached is not None)
            mosquitto.signal(signal.SIGSTOP)
            async with asyncio.timeout(PATIENCE_S):
                await service.say(300)
            await asyncio.sleep(1.0)
            assert made.missing > 0
            mosquitto.signal(signal.SIGCONT)
            await until(lambda: made.missing == 0)
        await until(lambda: heard.numbers() == [*range(1, 301)])


@pytest.mark.real
async def test_who_may_publish(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    made = Mosquitto("password_file {folder}/passwords")
    made._more = (f"password_file {made.folder}/passwords",)
    path = made.write("passwords", "nose:secret\n")
    await asyncio.to_thread(
        subprocess.run, ["mosquitto_passwd", "-U", str(path)], check=True, timeout=20
    )
    made.write("passwords", path.read_text("utf-8"))
    with made:
        for name, password in (("wrong", "guess"), ("right", "secret")):
            (tmp_path / name).write_text(f"{password}\n")
            (tmp_path / name).chmod(0o600)
        broker = told_to(made.port, user="nose", anonymous=False, password_file="wrong")
        async with publishing(Service(), broker, tmp_path):
            await until(lambda: "is tried again" in caplog.text)
        assert "guess" not in caplog.text
        service = Service()
        right = broker.model_copy(update={"password_file": "right"})
        async with publishing(service, right, tmp_path) as publisher:
            await service.tell(END)
            await until(publisher.task.done)  # type: ignore[attr-defined]


# --- asked ------------------------------------------------------------------------------------


@pytest.mark.real
async def test_notes_and_questions_of_anybody_are_answered(mosquitto: Mosquitto) -> None:
    service = Service()
    await service.say(3)
    async with (
        subscribed(mosquitto.port) as heard,
        publishing(service, told_to(mosquitto.port)),
    ):
        await online(heard)
        note = {"id": "7", "kind": "note", "args": {"text": "wind 3 kt"}, "until": FAR}
        assert await heard.ask(note) == {"id": "7", "result": "done", "why": "note"}
        assert [(each.kind, each.client, each.until) for each in service.asked] == [
            ("note", "tablet", FAR)
        ]
        answer = await heard.ask({"id": "8", "query": "events", "after": 1})
        assert [each["n"] for each in answer["events"]] == [2, 3, 4]
        assert (answer["newest"], answer["over"]) == (4, False)
        assert (await heard.ask({"id": "9", "query": "view"}))["view"]["job"]


@pytest.mark.real
async def test_only_who_is_named_may_act_and_nothing_is_done_twice(mosquitto: Mosquitto) -> None:
    service = Service()
    take = {"id": "1", "kind": "take", "until": FAR}
    broker = told_to(mosquitto.port, may_act=["nose"])
    async with subscribed(mosquitto.port) as heard, publishing(service, broker):
        await online(heard)
        refused = await heard.ask(take, "tablet")
        assert refused["result"] == "refused"
        assert "may not take" in refused["why"]
        assert (await heard.ask(take, "nose"))["result"] == "done"
        assert [each.client for each in service.asked] == ["nose"]


REFUSED = [
    b"",
    b"{",
    b"[1]",
    b"\xff",
    b"null",
    b'{"kind": "note", "until": 5}',
    b'{"id": "", "kind": "note", "until": 5}',
    b'{"id": 7, "kind": "note", "until": 5}',
    b'{"id": "1", "kind": "note"}',
    b'{"id": "1", "kind": "note", "until": NaN}',
    b'{"id": "1", "kind": "note", "until": 1e999}',
    b'{"id": "1", "kind": "launch", "until": 5}',
    b'{"id": "1", "kind": "note", "until": 5, "version": 2}',
    b'{"id": "1", "kind": "note", "until": 5, "client": "nose"}',
    b'{"id": "1", "query": "secrets"}',
    b'{"id": "1", "query": "events", "after": -1}',
    b'{"id": "1", "query": "events", "after": "1"}',
    b'{"id": "1", "query": "view", "extra": 1}',
    b'{"id": "\\ud800", "query": "view"}',
    b"[" * 50_000,
    b'{"id": "1", "kind": "note", "until": 5, "args": {"text": "' + b"x" * 100_000 + b'"}}',
]


@pytest.mark.real
async def test_a_flood_of_nonsense_is_counted_and_fills_no_log(
    mosquitto: Mosquitto, caplog: pytest.LogCaptureFixture
) -> None:
    service, many = Service(), 120
    async with (
        subscribed(mosquitto.port) as heard,
        publishing(service, told_to(mosquitto.port)),
    ):
        await online(heard)
        for _ in range(many):
            await heard.ask(b"[")
        await heard.ask({"id": "2", "kind": "note", "until": FAR})
        await until(lambda: heard.newest("state")["refused"] == many)
    said = [one for one in caplog.messages if "is refused" in one]
    assert [one.split()[2] for one in said] == ["1", "10", "100"]


@pytest.mark.real
async def test_strangers_are_refused_counted_and_answered(mosquitto: Mosquitto) -> None:
    service = Service()
    async with (
        subscribed(mosquitto.port) as heard,
        publishing(service, told_to(mosquitto.port, may_act=["tablet"])),
    ):
        await online(heard)
        for payload in REFUSED:
            answer = await heard.ask(payload)
            assert answer["result"] == "refused", payload[:80]
            assert answer["why"], payload[:80]
        note = {"id": "2", "kind": "note", "until": FAR}
        assert (await heard.ask(note, retain=True))["result"] == "done"  # it came as it was sent
        await until(lambda: heard.newest("state")["refused"] == len(REFUSED))
        assert len(service.asked) == 1
    async with (
        subscribed(mosquitto.port, "second") as heard,
        publishing(service, told_to(mosquitto.port)),
    ):
        await until(lambda: "answer/tablet" in heard.heard)  # what the broker had kept
        assert "retained" in heard.newest("answer/tablet")["why"]
        assert len(service.asked) == 1


# --- kills ------------------------------------------------------------------------------------


async def through_kills(mosquitto: Mosquitto, count: int, kills: int, seed: int) -> Subscriber:
    """Publish while broker, publisher and subscriber are killed at random moments."""
    rng, service, done = random.Random(seed), Service(), 0
    cuts = sorted(rng.sample(range(20, count - 20), kills))
    async with subscribed(mosquitto.port) as heard:
        for number, cut in enumerate([*cuts, count]):
            async with publishing(service, told_to(mosquitto.port)):
                await service.say(cut - done)
                done = cut
                await until(lambda at=cut - 15: len(heard.numbers()) > at)  # type: ignore[misc]
                if cut == count:
                    await until(lambda: heard.numbers() == [*range(1, count + 1)])
                elif number % 3 == 0:
                    await asyncio.sleep(1.1)  # mosquitto's own record is a second behind
                    mosquitto.stop(rng.choice([signal.SIGTERM, signal.SIGKILL]))
                    mosquitto.start()
                elif number % 3 == 1 and heard.client is not None:
                    heard.client._client._sock.shutdown(socket.SHUT_RDWR)  # type: ignore[union-attr]
    return heard


@pytest.mark.real
async def test_nothing_is_lost_through_kills(
    mosquitto: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    """500 events, 9 kills of broker, service and subscriber."""
    monkeypatch.setattr(publishing_module, "AGAIN_S", (0.1,))
    heard = await through_kills(mosquitto, 500, 9, 3)
    assert heard.numbers() == [*range(1, 501)]
    assert heard.breaks >= 3


@pytest.mark.real
@pytest.mark.long
async def test_nothing_is_lost_in_a_day(
    mosquitto: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    """5,000 events, 20 kills."""
    monkeypatch.setattr(publishing_module, "AGAIN_S", (0.1,))
    heard = await through_kills(mosquitto, 5000, 20, 11)
    assert heard.numbers() == [*range(1, 5001)]
    assert heard.breaks >= 7
