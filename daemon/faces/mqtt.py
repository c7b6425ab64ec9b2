"""A connection to an MQTT broker: every call ends, however the broker hangs, and a cancel is obeyed.

The library's own time-outs are switched off (`math.inf`): they stand on `asyncio.wait_for`, which in
Python 3.11 swallows a cancel that meets an arrival.
"""

import asyncio
import contextlib
import json
import logging
import math
import os
import socket
import ssl
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiomqtt

from daemon.faces.addresses import UNIX
from shared.errors import BadInputError, unread
from shared.job import Broker

ANSWER_S = 10.0
"""A broker that has not confirmed by then is given up and tried again."""
REACH_S = 3.0
"""A connection and its handshake take no longer, or fail."""
GOODBYE_S = 0.5
KEEPALIVE_S = 10
MOST_WAITING = 1000
"""Messages that came in and nobody has looked at; further ones are dropped."""
BROKEN = (aiomqtt.MqttError, OSError, TimeoutError)
"""What a broken connection raises."""


def rarely(count: int) -> bool:
    """Whether a count is 1, 10, 100 ...: what a stranger can repeat fills no log."""
    return str(count).rstrip("0") == "1"


class Seldom(logging.Filter):
    """Lets each of the library's messages through when it comes for the 1st, 10th, 100th ... time."""

    def __init__(self) -> None:
        super().__init__()
        self._counts: Counter[str] = Counter()

    def filter(self, record: logging.LogRecord) -> bool:
        """Count it."""
        self._counts[record.msg] += 1
        return rarely(self._counts[record.msg])


def _quiet() -> logging.Logger:
    """Return a logger of the library's own for one connection."""
    log = logging.getLogger("mqtt")
    if not any(isinstance(one, Seldom) for one in log.filters):
        log.addFilter(Seldom())
    return log


class Access:
    """Where a broker is and what it wants of us, read from the job once.

    Args:
        broker: of the job.
        beside: folder that `password_file` and `ca_file` start from.

    Raises:
        BadInputError: the password or the certificate cannot be read, or others may read the password.
    """

    def __init__(self, broker: Broker, beside: Path) -> None:
        self.broker = broker
        self._password = _password(broker, beside)
        self._tls = _tls(broker, beside)

    @property
    def where(self) -> str:
        """Host and port, for people."""
        return f"{self.broker.host}:{self.broker.port}"

    def topic(self, about: str) -> str:
        """Return a topic below the job's."""
        return f"{self.broker.topic}/{about}"

    @asynccontextmanager
    async def client(
        self, identifier: str, will: aiomqtt.Will | None = None
    ) -> AsyncIterator[aiomqtt.Client]:
        """Connect with a clean session: what was asked while nobody listened is never done late.

        Raises:
            MqttError, OSError, TimeoutError: the broker is not there, hangs or does not want us.
        """
        await self._reachable()
        client = aiomqtt.Client(
            self.broker.host,
            self.broker.port,
            username=self.broker.user or None,
            password=self._password,
            tls_context=self._tls,
            identifier=identifier,
            protocol=aiomqtt.ProtocolVersion.V5,
            will=will,
            keepalive=KEEPALIVE_S,
            timeout=math.inf,
            clean_start=True,
            max_queued_incoming_messages=MOST_WAITING,
            socket_options=[(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)],
            logger=_quiet(),
        )
        async with asyncio.timeout(ANSWER_S):
            await client.__aenter__()
        try:
            yield client
        finally:
            with contextlib.suppress(*BROKEN):
                async with asyncio.timeout(GOODBYE_S):
                    await client.__aexit__(None, None, None)

    async def _reachable(self) -> None:
        """Try the way first: the library's own connecting can be neither cut short nor cancelled."""
        async with asyncio.timeout(REACH_S):
            _, writer = await asyncio.open_connection(
                self.broker.host, self.broker.port, ssl=self._tls
            )
        writer.close()
        with contextlib.suppress(OSError, TimeoutError):
            async with asyncio.timeout(GOODBYE_S):
                await writer.wait_closed()


async def trouble(access: Access) -> str:
    """Try a broker: connect, and hear what was just published below the job's topic.

    Returns:
        What is wrong and what to do, "what: remedy"; "" where nothing is.
    """
    try:
        async with access.client("stillblade-check") as client:
            topic = access.topic("check")
            await hear(client, topic)
            await say(client, topic, {"check": True})
            async with asyncio.timeout(REACH_S):
                async for _ in client.messages:
                    return ""
    except TimeoutError:
        return f"{access.where} did not answer in time: is it a broker, and does it run?"
    except aiomqtt.MqttError as error:
        return f"{access.where} refuses: {error}: correct user, password_file and its own rules"
    except ssl.SSLError as error:
        return f"{access.where} is not whom we trust: {error.reason}: correct ca_file, or its host"
    except OSError as error:
        why = os.strerror(error.errno) if error.errno else error
        return f"{access.where} cannot be reached: {why}: start it, or correct host and port"
    return ""


async def say(
    client: aiomqtt.Client, topic: str, told: Any, qos: int = 1, *, retain: bool = False
) -> None:
    """Publish; with qos 1 return when the broker has it. told: bytes, or what becomes JSON.

    Raises:
        MqttError, TimeoutError: it may have arrived or not.
    """
    payload = told if isinstance(told, bytes) else json.dumps(told)
    async with asyncio.timeout(ANSWER_S):
        await client.publish(topic, payload, qos, retain)


async def hear(client: aiomqtt.Client, topic: str) -> None:
    """Subscribe.

    Raises:
        MqttError, TimeoutError: the broker does not let us, or hangs.
    """
    async with asyncio.timeout(ANSWER_S):
        granted = await client.subscribe(topic, qos=1)
    for code in granted:
        if getattr(code, "is_failure", False):
            raise aiomqtt.MqttError(f"the broker refuses {topic}: {code}")


def _password(broker: Broker, beside: Path) -> str | None:
    if not broker.password_file:
        return None
    path = beside / broker.password_file
    try:
        mode = path.stat().st_mode
        password = path.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(
            str(path), "broker.password_file", f"cannot be read: {unread(error)}"
        ) from error
    if UNIX and mode & 0o077:
        raise BadInputError(
            str(path), "broker.password_file", "others may read it", f"chmod 600 {path.name}"
        )
    return password


def _tls(broker: Broker, beside: Path) -> ssl.SSLContext | None:
    if not broker.tls:
        return None
    path = beside / broker.ca_file if broker.ca_file else None
    try:
        return ssl.create_default_context(cafile=str(path) if path else None)
    except (OSError, ssl.SSLError) as error:
        raise BadInputError(
            str(path), "broker.ca_file", f"cannot be read: {unread(error)}"
        ) from error
