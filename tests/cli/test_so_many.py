"""How many readings a job will want, said beside the screen of one that begins."""

import logging
import threading

import pytest

from daemon.cli.so_many import Wanted
from daemon.core.foretold import foretold
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from shared.wording import so_many_readings
from tests.daemon.bench import Person, header


def desk_of(person: Person) -> Counter:
    return Counter(Inbox(lambda: 0), [], person.engine.view())


def worked_out() -> None:
    for thread in threading.enumerate():
        if thread.name == "so many":
            thread.join()


def test_it_is_said_until_the_work_has_begun(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, "stillblade")
    person = Person(header())
    assert person.step()[0] == "prepare"
    told = foretold(header())
    assert told is not None
    beside = Wanted(header(), desk_of(person))
    assert beside.about() == "", "nobody waits for it"
    worked_out()
    said = f"it wants {so_many_readings(told.fewest, told.most)}"
    assert beside.about() == said
    assert said.endswith(" readings if nothing moves")
    assert [record.getMessage() for record in caplog.records] == [said]


def test_nothing_is_worked_out_for_a_job_that_is_taken_up_later() -> None:
    person = Person(header())
    person.press("done")
    for _ in range(2):
        person.read(-3.0)
    assert person.step()[0] == "set"
    beside = Wanted(header(), desk_of(person))
    assert beside.about() == ""
    assert not [one for one in threading.enumerate() if one.name == "so many"]


def test_a_watch_has_none() -> None:
    watch = header().model_copy(update={"procedure": "watch"})
    beside = Wanted(watch, desk_of(Person(header())))
    beside.about()
    worked_out()
    assert beside.about() == ""
