"""What is largest at each moment, row by row of the catalogue."""

from dataclasses import replace
from typing import Any

import pytest

from shared.displays import LONGEST, Display, Heard, calling, display
from shared.doing import doing_now
from shared.events import REFERENCE, AlarmKind, Captured, JobResult, Watched
from shared.remembered import Remembered
from shared.view import AlarmView, Lacks, Question, View
from tests.tui import scenes


def alarm(kind: AlarmKind, **changes: Any) -> View:
    """A view with one open alarm of blade 2, which changed by -0.39 and is off by +0.45."""
    found = AlarmView(1, 2, "blade 2", kind, "say", 18.5, settable=True)
    row = scenes.blade(
        2, "white", "moved", change_deg=-0.39, error_deg=0.45, angle_deg=18.95, tolerance="out"
    )
    return replace(
        scenes.ALARM,
        press=None,
        alarms=(replace(found, **changes),),
        blades=(scenes.REFERENCE_ROW, scenes.held(1, "red", 18.5), row),
    )


@pytest.mark.parametrize(
    ("blades", "largest"),
    [((2,), "BLADE 2"), ((), "BLADE 2"), ((1, 3), "1 AND 3"), ((1, 2, 3), "BLADES 1 2 3")],
)
def test_an_alarm_that_the_level_answered_says_what_is_set_again_and_how_to_leave_it(
    blades: tuple[int, ...], largest: str
) -> None:
    view = replace(alarm("out", blades=blades), turnover="leave")
    shown = display(view)
    assert shown == Display(largest, "SET AGAIN", "over: leave it", "‼", "warn")


@pytest.mark.parametrize(
    ("view", "lines"),
    [
        (alarm("moved"), ("BLADE 2", "MOVED", "0.39 FINER")),
        (alarm("turned"), ("BLADE 2", "TURNED", "0.39 FINER")),
        (alarm("not known"), ("BLADE 2", "NOT KNOWN", "")),
        (alarm("exchanged", partner=3), ("2 AND 3", "READ SWAPPED", "LOOK WHICH")),
        (alarm("out", blades=(2,)), ("BLADE 2 OUT", "TOO COARSE", "by 0.45")),
        (alarm("out", blades=(2, 3)), ("2 AND 3", "OUT: SET AGAIN", "farthest 2: 0.45 TOO COARSE")),
        (
            alarm("out", blades=(1, 2, 3)),
            ("BLADES 1 2 3", "OUT: SET AGAIN", "farthest 2: 0.45 TOO COARSE"),
        ),
        (
            alarm("out", blades=(1, 2, 3, 4)),
            ("4 BLADES", "OUT: SET AGAIN", "farthest 2: 0.45 TOO COARSE"),
        ),
        (alarm("out", blade=1, blades=(1, 3)), ("SPREAD OUT", "SET 1 AND 3 AGAIN", "")),
        (alarm("out", blade=1, blades=(1, 2, 3)), ("SPREAD OUT", "SET 1 2 3 AGAIN", "")),
        (alarm("level", blade=REFERENCE), ("LEVEL", "LOOK AT IT", "")),
        (alarm("shifted", blade=REFERENCE), ("REFERENCE", "SHIFTED", "")),
        (alarm("creeping"), ("BLADE 2", "CREEPING", "")),
    ],
)
def test_an_alarm_names_the_blade_what_and_by_how_much(
    view: View, lines: tuple[str, str, str]
) -> None:
    """Never the number of a level that is in somebody's hand."""
    found = display(replace(view, live=replace(scenes.AIMING, motion="in hand")))
    assert found is not None
    assert (found.largest, found.second, found.third) == lines
    assert (found.tone, found.is_value) == ("bad", False)


@pytest.mark.parametrize(
    ("view", "lines"),
    [
        (scenes.TORQUE, ("21.3 N·m", "HUB BOLTS", "pass 2 of 3")),
        (scenes.BOLT_BY_BOLT, ("25.0 N·m", "HUB BOLT 2", "3 of 6")),
        (scenes.WRENCH, ("21.3 N·m", "TWO PERSONS", "read the wrench")),
        (scenes.CHECK_OFF, ("CHECK OFF", "1 of 2", "rim")),
    ],
)
def test_what_the_hands_need_at_the_bolts_is_largest(
    view: View, lines: tuple[str, str, str]
) -> None:
    """What to dial where an adapter changes it, else the torque; on which bolts; how far."""
    found = display(view)
    assert found is not None
    assert (found.largest, found.second, found.third) == lines


def test_an_alarm_that_waits_does_not_hide_what_is_asked_for() -> None:
    found = display(scenes.ALARM_WAITS)
    assert found is not None
    assert found.largest == "PLACE IT"
    assert calling(scenes.ALARM_WAITS) is None


def test_a_change_while_watching_is_largest() -> None:
    """A press means "done" there, and still the alarm is what is to be seen."""
    changed = replace(scenes.MOVED, kind="changed")
    found = display(replace(scenes.WATCHING, alarms=(changed,)))
    assert found is not None
    assert (found.largest, found.second) == ("BLADE 1", "CHANGED")


def ended(result: JobResult | None, **changes: Any) -> Display:
    view = replace(scenes.FINISHED, result=result, spread_deg=0.09, spread_tolerance_deg=0.2)
    found = display(replace(view, **changes))
    assert found is not None
    return found


def test_the_result_in_one_line() -> None:
    within = ended("within")
    assert (within.largest, within.second, within.third) == ("ALL WITHIN", "spread 0.09", "of 0.20")
    out = ended("out", blades=alarm("out").blades)
    assert (out.largest, out.second) == ("BLADE 2 OUT", "TOO COARSE")
    assert out.third == "by 0.45, spread 0.09 of 0.20"
    spread = ended("out", spread_deg=0.9)
    assert (spread.largest, spread.second) == ("SPREAD OUT", "spread 0.90")
    close = ended("too close to say", blades=alarm("moved").blades)
    assert (close.largest, close.second) == ("UNDECIDED", "READ AGAIN?")
    assert close.third == "spread 0.09 of 0.20: not sure enough"
    blades = [replace(row, tolerance="too close to say") for row in alarm("moved").blades[1:3]]
    assert ended("too close to say", blades=blades).third == "blade 1 and blade 2: not sure enough"
    assert (ended("open").largest, ended("open").second) == ("OPEN", "DO NOT FLY")
    assert ended("abandoned").largest == "DO NOT FLY"
    assert ended(None).largest == "NOT JUDGED"


TAKEN = Captured(3, 1, "check", 18.09, 0.1, 20, "chord", 15.0, None, None, "normal", 1, "press")


def test_the_value_taken_stays_with_its_blade_until_the_level_is_lifted() -> None:
    """The level that lies on shows another quantity: that of the next step."""
    live = replace(scenes.TAKEN.live, angle_deg=-14.10, taken=True)
    found = display(replace(scenes.TAKEN, live=live), Heard(TAKEN))
    assert found == Display("18.09", "BLADE 1", "LIFT IT", "✓", "good", is_value=True)
    lifted = replace(live, taken=False, motion="in hand")
    in_hand = display(replace(scenes.TAKEN, live=lifted, press="take"), Heard(TAKEN))
    assert in_hand is not None
    assert in_hand.largest == "PLACE IT"


def again(angle: float, was: float | None, stage: str = "check", u95: float = 0.1) -> Display:
    """Blade 1 was just read; its level still lies there. The tolerance is 0.15."""
    reading = replace(TAKEN, angle_deg=angle, stage=stage, u95_deg=u95)
    live = replace(scenes.TAKEN.live, taken=True)
    found = display(replace(scenes.TAKEN, live=live), Heard(reading, None, was))
    assert found is not None
    return found


def test_a_surprise_is_told_at_once_and_not_three_placements_later() -> None:
    found = again(18.67, was=21.03)
    assert (found.largest, found.second, found.third) == ("BLADE 1?", "18.67 LIFT IT", "was 21.03")
    assert (found.shape, found.tone) == ("‼", "warn")


@pytest.mark.parametrize(
    ("angle", "was", "stage", "u95"),
    [
        (21.00, 21.15, "check", 0.01),  # no more than the tolerance
        (21.00, 21.30, "check", 0.16),  # no more than it could be by chance
        (18.67, 21.03, "set", 0.01),  # it is being turned
        (18.67, 21.03, "baseline", 0.01),
        (18.67, None, "check", 0.01),  # nothing is known of before
    ],
)
def test_no_surprise(angle: float, was: float | None, stage: str, u95: float) -> None:
    assert again(angle, was, stage, u95).largest == f"{angle:.2f}"


def test_hands() -> None:
    snug = display(scenes.TIGHTEN)
    assert snug is not None
    assert (snug.largest, snug.second) == ("SNUG", "HANDS OFF")
    slack = replace(scenes.TIGHTEN, stage="slacken", blade=2, label="white")
    found = display(slack)
    assert found is not None
    assert (found.largest, found.second, found.third) == (
        "SLACKEN 2",
        "WHITE",
        "hands off the others",
    )
    safe = display(scenes.PREPARE)
    assert safe is not None
    assert safe.largest == "MAKE SAFE"


def test_a_question_is_seen_from_afar() -> None:
    asked = Question(1, 2, "is that right?")
    found = display(replace(scenes.QUESTION, question=asked))
    assert found is not None
    assert (found.largest, found.second, found.third) == ("LOOK", "AT BLADE 2", "")


def test_a_question_shows_the_number_it_is_about() -> None:
    """The sentence said -18.50, as the level does, and the large number was another."""
    heard = Remembered()
    for event in scenes.ASKED:
        heard.fold(event.body)
    found = display(scenes.QUESTION, heard.heard)
    assert found is not None
    assert (found.largest, found.second, found.third) == ("LAID RIGHT?", "BLADE 2", "shows -18.50")
    assert "-18.50" in scenes.LOOK
    later = display(replace(scenes.QUESTION, question=Question(6, 2, "which blade?")), heard.heard)
    assert later is not None
    assert later.third == ""


def test_no_signal_comes_before_a_question() -> None:
    found = display(replace(scenes.SILENT, question=Question(1, 2, "?")))
    assert found is not None
    assert found.largest == "NO SIGNAL"


def test_watching_is_not_the_absence_of_a_signal() -> None:
    live = replace(scenes.AIMING, error_deg=None, target_deg=None, words="cowl: quiet")
    found = display(replace(scenes.TIGHTEN, stage="watch", blade=None, live=live))
    assert found is not None
    assert (found.largest, found.second) == ("WATCHING", "cowl: quiet")


@pytest.mark.parametrize("view", [scenes.SET, scenes.READY, scenes.REREADING, scenes.SETTLING])
def test_a_number_to_be_followed_has_no_display_over_it(view: View) -> None:
    assert display(view) is None


def test_no_largest_line_is_longer_than_it_may_be() -> None:
    for label in ("a mark that goes on and on", "x"):
        for stage in ("tighten", "slacken", "prepare", "finished"):
            view = replace(scenes.TIGHTEN, stage=stage, label=label, blade=6)
            found = display(view)
            assert found is not None
            assert len(found.largest) <= LONGEST


def test_the_level_is_to_be_turned_over_until_something_was_read() -> None:
    in_hand = replace(scenes.REREADING.live, motion="in hand")
    view = replace(scenes.REREADING, stage="reference", turnover="proof", live=in_hand)
    found = display(view)
    assert found is not None
    assert (found.largest, found.second) == ("TURN IT OVER", "AND BACK")
    read = display(view, Heard(TAKEN))
    assert read is not None
    assert read.largest == "PLACE IT"


@pytest.mark.parametrize(("lacks", "word"), [("agreement", "LAY AGAIN"), ("a turn", "NEXT ONE?")])
def test_what_a_reading_lacks_is_the_word(lacks: Lacks, word: str) -> None:
    live = replace(scenes.REREADING.live, motion="ready", may_take=True, lacks=lacks)
    assert doing_now(replace(scenes.REREADING, live=live)).word == word


def test_watching_says_what_and_since_when() -> None:
    view = replace(scenes.WATCHING, alarms=(), step_ns=scenes.WATCHING.t_ns - 125_000_000_000)
    found = display(view)
    assert found is not None
    assert (found.largest, found.third) == ("WATCHING", "for 2 min")
    now = display(replace(view, step_ns=view.t_ns))
    assert now is not None
    assert now.third == "since just now"


def test_what_is_taken_by_itself_asks_for_no_press() -> None:
    live = replace(scenes.READY.live, by_itself=True)
    assert doing_now(scenes.READY).word == "PRESS"
    assert doing_now(replace(scenes.READY, live=live)).word == "IN"
    lying = replace(scenes.REREADING.live, motion="ready", may_take=True, by_itself=True)
    assert doing_now(replace(scenes.REREADING, live=lying)).word == "HOLD STILL"


def test_bytes_that_nobody_can_read_are_not_called_silence() -> None:
    levels = tuple(replace(level, unread=level.role != "hub") for level in scenes.SILENT.levels)
    shown = display(replace(scenes.SILENT, levels=levels))
    assert shown == Display("UNREADABLE", "blade-level", "its format, its speed?", "✗", "bad")


@pytest.mark.parametrize("kind", ["changed", "creeping", "moved"])
def test_what_a_watch_saw_is_said_with_its_size_and_side(kind: str) -> None:
    """A watch judges no round: by how much and which way was small print alone."""
    heard = Remembered()
    heard.fold(Watched("chord", 2, "changed", -0.8, 0.01, "blade 2 changed"))
    blades = tuple(replace(row, change_deg=None) for row in scenes.SET.blades)
    asked = AlarmView(1, 2, "white", kind, "it changed", None)
    view = replace(scenes.SET, stage="watch", press=None, alarms=(asked,), blades=blades)
    found = display(view, heard.heard)
    assert found is not None
    assert (found.largest, found.third) == ("BLADE 2", "0.80 FINER")
