"""What a stranger can repeat fills no log."""

import logging

from daemon.faces.mqtt import Seldom, rarely


def test_the_first_the_tenth_the_hundredth() -> None:
    assert [count for count in range(1, 1001) if rarely(count)] == [1, 10, 100, 1000]


def test_each_message_of_the_library_by_itself() -> None:
    seldom = Seldom()
    full = logging.makeLogRecord({"msg": "queue is full"})
    other = logging.makeLogRecord({"msg": "disconnected"})
    assert sum(bool(seldom.filter(full)) for _ in range(25)) == 2
    assert seldom.filter(other)
