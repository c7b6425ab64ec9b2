"""The open alarms: numbered, answered one by one, and what waits for its moment."""

from daemon.workflow.alarms import Alarms, OpenAlarm
from shared.events import Alarm, Body, Cleared


def called() -> tuple[Alarms, list[Body]]:
    """Two alarms of blade 1 and one of blade 2, and what was said."""
    said: list[Body] = []

    def say(body: Body) -> int:
        said.append(body)
        return len(said)

    alarms = Alarms(say)
    alarms.call(1, "moved", "it moved", 20.00000049)
    alarms.call(2, "out", "it is out", blades=(2, 3))
    alarms.call(1, "not known", "who knows", partner=2)
    return alarms, said


def waiting(of: Alarms) -> tuple[OpenAlarm | None, int | None]:
    return of.waits, of.due_ns


def test_alarms_are_numbered_from_one_and_found_by_number_and_by_blade() -> None:
    alarms, said = called()
    assert [alarm.id for alarm in alarms] == [1, 2, 3]
    assert [alarm.id for alarm in alarms.of(1)] == [1, 3]
    assert alarms.of(3) == []
    assert (alarms.get(4), len(alarms)) == (None, 3)
    assert said[0] == Alarm(1, 1, "moved", 20.0, "it moved")
    assert said[1] == Alarm(2, 2, "out", None, "it is out", None, (2, 3))
    assert said[2] == Alarm(3, 1, "not known", None, "who knows", 2)


def test_an_answer_that_waits_is_gone_with_its_alarm_and_stays_when_another_is_answered() -> None:
    alarms, said = called()
    first, second, third = alarms
    assert waiting(alarms) == (None, None)
    alarms.wait(second, 7)
    assert waiting(alarms) == (second, 7)
    alarms.clear(first, "accept", "Ada", "seen")
    assert said[-1] == Cleared(1, "accept", "Ada", "seen")
    assert waiting(alarms)[0] == second
    alarms.clear(second, "re-reading")
    assert waiting(alarms) == (None, None)
    assert list(alarms) == [third]
    alarms.wait(third, 9)
    alarms.leave()
    assert waiting(alarms) == (None, None)
    assert list(alarms) == [third], "left is not answered"
