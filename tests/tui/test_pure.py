"""Bitmap, strip, lines, ageing, keys, recall: the parts without a terminal."""

from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from shared.displays import Heard, display
from shared.doing import doing_now
from shared.events import (
    Answered,
    Body,
    Captured,
    Event,
    Held,
    Judged,
    Noted,
    StepChanged,
    Unknown,
    Withdrawn,
)
from shared.inputs import NS, CommandKind
from shared.sentences import answer_words, clock, sentence
from shared.view import LevelView, Turnover, View
from tests.tui import scenes
from tui.bitmap import GLYPHS, HALVES, ROWS, columns_of, large, pixels, scale_for
from tui.blades import age_words, figure
from tui.hero import figures, number_ink
from tui.ink import Span, apart, centred, fit, line, plain, width_of, wrapped
from tui.keys import Pause, command, offers
from tui.recall import Recall
from tui.shown import ALIVE_S, aged, is_alive
from tui.strip import SPAN, band_columns, needle_column, strip

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
angles = st.floats(-99.0, 99.0)


def unfolded(lines: list[str]) -> list[str]:
    """Turn half blocks back into rows of pixels."""
    halves = {char: pair for pair, char in HALVES.items()}
    rows = []
    for text in lines:
        rows.append("".join("#" if halves[char][0] else " " for char in text))
        rows.append("".join("#" if halves[char][1] else " " for char in text))
    return rows


@given(st.sampled_from(sorted(GLYPHS)), st.integers(1, 5), st.integers(1, 5))
def test_half_blocks_draw_exactly_the_bitmap(char: str, across: int, down: int) -> None:
    drawn = ["".join(span.text for span in row) for row in large(char, across, down, "number")]
    rows = unfolded(drawn)
    assert rows[: ROWS * down] == pixels(char, across, down)
    assert all(not row.strip() for row in rows[ROWS * down :])


def test_every_glyph_has_seven_rows_of_one_width() -> None:
    for char, rows in GLYPHS.items():
        assert len(rows) == ROWS, char
        assert len({len(row) for row in rows}) == 1, char


def test_figures_are_told_apart_by_at_least_three_pixels() -> None:
    """A smudge or a lost pixel must not turn one figure into another."""
    figures_drawn = ["".join(GLYPHS[char]) for char in "0234569"] + ["".join(GLYPHS["8"])]
    for index, one in enumerate(figures_drawn):
        for other in figures_drawn[index + 1 :]:
            assert sum(a != b for a, b in zip(one, other, strict=True)) >= 3


@given(st.integers(1, 60), st.integers(1, 240), st.integers(1, 60))
def test_a_scale_fits_and_no_larger_one_does(columns: int, width: int, height: int) -> None:
    across, down = scale_for(columns, width, height)
    if (across, down) == (0, 0):
        assert columns > width or height < 4
        return
    assert columns * across <= width
    assert (ROWS * down + 1) // 2 <= height
    assert across <= down <= 2 * across
    assert columns * (across + 1) > width or ROWS * (down + 1) / 2 > height


@given(angles)
def test_the_number_keeps_its_place_at_every_angle(angle: float) -> None:
    text = figures(angle)
    assert float(text.replace("~", "").replace("_", "")) == pytest.approx(angle, abs=0.005001)
    assert abs(columns_of(text) - columns_of("-88.88")) == 0


@given(st.floats(-20, 20), st.floats(0.05, 2.0), st.integers(20, 200))
def test_the_needle_is_in_the_band_exactly_when_in_tolerance(
    error: float, tolerance: float, width: int
) -> None:
    column = needle_column(error, tolerance, width)
    low, high = band_columns(width)
    assert 0 <= column < width
    if abs(error) <= tolerance:
        assert low <= column <= high
    if abs(error) >= tolerance * (1 + 2 * SPAN / (width - 1)):
        assert not low < column < high


@given(st.floats(-20, 20), st.floats(0.05, 2.0), st.integers(24, 200), st.integers(1, 6))
def test_the_strip_fills_its_rows(error: float, tolerance: float, width: int, rows: int) -> None:
    drawn = strip(error, tolerance, width, rows)
    assert len(drawn) == rows
    assert {width_of(row) for row in drawn} == {width}


def test_beyond_the_strip_the_needle_points_outwards() -> None:
    assert "◀" in plain(strip(-5.0, 0.1, 60, 2))[0]
    assert "▶" in plain(strip(5.0, 0.1, 60, 2))[0]
    assert "▼" in plain(strip(0.05, 0.1, 60, 2))[0]


@given(words, words, st.integers(1, 80))
def test_lines_are_exactly_as_wide_as_asked(one: str, two: str, width: int) -> None:
    both = line(one, Span(two, "bad"))
    assert width_of(fit(both, width)) == width
    assert width_of(centred(both, width)) == width
    assert width_of(apart(line(one), fit(line(two), min(5, width - 1)), width)) == width


@given(words, st.integers(8, 80), st.integers(0, 4))
def test_wrapping_keeps_to_its_rows_and_loses_no_word_that_fits(
    text: str, width: int, most: int
) -> None:
    rows = wrapped(text, width, most, lead="  ")
    assert len(rows) <= most
    assert all(width_of(row) == width for row in rows)
    whole = " ".join(plain(rows)).split()
    short = all(cell_len(word) <= width - 2 for word in text.split())
    if most and short and "…" not in "".join(plain(rows)):
        kept = "".join(char if char.isprintable() else " " for char in text).split()
        assert whole == kept


def test_names_cannot_move_the_cursor() -> None:
    (span,) = line("red\x1b[2J\nblue")
    assert span.text == "red [2J blue"


@given(
    st.lists(st.one_of(st.none(), st.floats(0, 5)), max_size=3),
    st.floats(0, 5),
    st.one_of(st.none(), angles),
)
def test_nothing_older_than_a_second_is_alive(
    ages: list[float | None], age_s: float, angle: float | None
) -> None:
    """The rule of the trade: a number that is a minute old looks like any other number."""
    levels: tuple[LevelView, ...] = tuple(scenes.level(age_s=one) for one in ages)
    live = replace(scenes.AIMING, angle_deg=angle)
    view = replace(scenes.SET, levels=levels, live=live)
    shown = aged(view, age_s)
    fresh = [one for one in ages if one is not None and one + age_s <= ALIVE_S]
    if angle is None or age_s > ALIVE_S or not fresh:
        assert not is_alive(view, age_s)
        assert shown.live.angle_deg is None
        assert shown.live.error_deg is None
        assert not shown.live.may_take
        found = display(shown)
        assert found is not None
        assert found.largest == "NO SIGNAL"
    else:
        assert shown.live == live
    assert all(
        level.tilt_deg is None
        for level in shown.levels
        if level.age_s is None or level.age_s > ALIVE_S
    )


def test_a_hub_witness_does_not_keep_the_blade_number_alive() -> None:
    levels = (scenes.level(age_s=2.0), scenes.level(name="hub", role="hub", age_s=0.0))
    assert not is_alive(replace(scenes.SET, levels=levels), 0.0)


@given(st.lists(st.floats(0.0, 2.0), min_size=1, max_size=60))
def test_presses_closer_than_the_pause_count_once(gaps: list[float]) -> None:
    pause, now_s, accepted = Pause(), 0.0, []
    for gap in gaps:
        now_s += gap
        accepted.append(pause.press(now_s))
    assert accepted[0]
    at_s = [sum(gaps[: index + 1]) for index in range(len(gaps))]
    for index in range(1, len(gaps)):
        assert accepted[index] == (at_s[index] - at_s[index - 1] >= pause.least_s) or (
            abs(gaps[index] - pause.least_s) < 1e-9
        )


@pytest.mark.parametrize("press", ["take", "done"])
def test_the_footer_offers_what_a_press_does(press: CommandKind) -> None:
    assert ("SPACE", press) in offers(replace(scenes.SET, press=press, offers=(press,)))


def test_a_press_is_not_offered_while_the_level_lies_where_it_was_read() -> None:
    """It would be refused: the level is to be lifted first."""
    taken = replace(scenes.SET, press="take", offers=("again",))
    assert "SPACE" not in dict(offers(taken))


def test_no_key_is_offered_that_would_be_refused() -> None:
    bare = replace(scenes.SET, press=None, offers=(), alarms=(), question=None)
    assert offers(bare) == [("U", "budget"), ("T", "theme")]
    assert offers(None) == []
    only_back = replace(bare, offers=("back",))
    assert offers(only_back) == [("B", "back"), ("U", "budget"), ("T", "theme")]


def test_an_alarm_that_no_setting_answers_is_only_accepted() -> None:
    alarm = replace(scenes.MOVED, settable=False)
    keys = [key for key, _ in offers(replace(scenes.ALARM, alarms=(alarm,)))]
    assert not [key for key in keys if "S" in key]
    assert "C" in keys
    assert ("SPACE S", "set again") in offers(scenes.ALARM)
    assert offers(scenes.ALARM_WAITS)[0] == ("SPACE", "take")


def test_the_first_answer_to_exchanged_labels_is_the_exchange() -> None:
    alarm = replace(scenes.MOVED, kind="exchanged", partner=2)
    view = replace(scenes.ALARM, alarms=(alarm,))
    assert offers(view)[0] == ("SPACE G", "exchange")
    assert "SPACE G" not in [key for key, _ in offers(scenes.ALARM)]


def test_only_a_take_goes_stale_by_itself() -> None:
    assert command(scenes.SET, "i", "c", "take").until == scenes.SET.t_ns + 2 * NS
    assert command(scenes.SET, "i", "c", "done").until is None


PRESSABLE = replace(scenes.REREADING.live, motion="ready", words="ready: press", may_take=True)


@pytest.mark.parametrize(
    ("view", "word"),
    [
        (scenes.SET, "COARSER"),
        (replace(scenes.SET, live=replace(scenes.AIMING, error_deg=0.4)), "FINER"),
        (replace(scenes.SET, live=replace(scenes.AIMING, error_deg=0.1)), "IN"),
        (scenes.SETTLING, "HOLD STILL"),
        (scenes.READY, "PRESS"),
        (scenes.TAKEN, "TAKEN LIFT"),
        (scenes.REREADING, "HOLD STILL"),
        (replace(scenes.SETTLING, live=replace(scenes.SETTLING.live, may_take=True)), "HOLD STILL"),
        (replace(scenes.SET, live=replace(scenes.AIMING, may_take=True)), "COARSER"),
        (replace(scenes.REREADING, live=PRESSABLE), "PRESS"),
        (replace(scenes.REREADING, live=replace(PRESSABLE, motion="moving")), "MOVING"),
        (replace(scenes.REREADING, live=replace(PRESSABLE, words="hold still")), "HOLD STILL"),
    ],
)
def test_the_large_word_says_what_hands_do_next(view: View, word: str) -> None:
    assert doing_now(view).word == word


def test_a_level_in_the_hand_says_nothing_of_the_blade() -> None:
    """However far off it swings, nobody is told to turn a blade by it, nor that it is right."""
    for error in (-40.0, -0.05, 0.0, 40.0):
        live = replace(scenes.AIMING, motion="in hand", error_deg=error)
        view = replace(scenes.SET, live=live)
        assert doing_now(view).word == "PLACE IT"
        assert number_ink(view) == "number"


def test_an_event_is_folded_once() -> None:
    recall = Recall()
    for event in [*scenes.HISTORY, *scenes.HISTORY]:
        recall.hear(event)
    assert len(recall.log) == len(scenes.HISTORY)
    assert recall.cautions == [scenes.CAUTION.say]


def test_cautions_belong_to_their_step() -> None:
    recall = Recall()
    step = StepChanged(5, "check", 1, "red", 1, 1, "Read blade 1.")
    for event in scenes.told(scenes.CAUTION, step, Noted("note", "a note")):
        recall.hear(event)
    assert recall.cautions == []


def test_a_withdrawn_reading_is_not_offered_again() -> None:
    recall = Recall()
    for event in [*scenes.HISTORY, Event(7, NS, Withdrawn(1, "slipped"))]:
        recall.hear(event)
    assert recall.readings == []


def test_a_kind_of_a_later_version_is_logged_by_its_name() -> None:
    assert sentence(Unknown("weighed", {"kg": 3})) == "(weighed)"


@pytest.mark.parametrize(
    ("result", "expected"),
    [
        ("done", ""),
        ("stale", "the step had already changed: nothing was done"),
        ("late", "it came too late: nothing was done"),
        ("refused", "not done"),
    ],
)
def test_answers_in_words(result: str, expected: str) -> None:
    assert answer_words(Answered("i", "c", result)) == expected  # type: ignore[arg-type]


def test_session_time_in_words() -> None:
    assert clock(0) == "0:00"
    assert clock(125 * NS) == "2:05"
    assert clock(3725 * NS) == "1:02:05"


def test_the_age_of_the_reference_is_told_in_whole_minutes() -> None:
    view = scenes.SET
    blades = {119: "read 1 min ago", 59: "", 720: "read 12 min ago"}
    for seconds, words in blades.items():
        later = replace(view, t_ns=(5 + seconds) * NS)
        assert age_words(later, later.blades[0]) == words
        assert age_words(later, later.blades[1]) == ""


def test_a_caution_lasts_for_the_step_it_explains() -> None:
    """It may come just before its step, at the same instant; the next step ends it."""
    recall = Recall()
    recall.hear(Event(1, 5 * NS, Noted("caution", "the aircraft has tilted")))
    recall.hear(Event(2, 5 * NS, StepChanged(3, "reference", "reference", "", 1, 2, "Read.")))
    assert recall.cautions == ["the aircraft has tilted"]
    recall.hear(Event(3, 9 * NS, StepChanged(4, "set", 1, "red", 1, 1, "Set.")))
    assert recall.cautions == []
    recall.hear(Event(4, 9 * NS, Noted("caution", "by a blade that is not set yet")))
    assert recall.cautions == ["by a blade that is not set yet"]


def test_where_a_blade_was_is_held_then_judged() -> None:
    """So a surprise after a judged round is one against that round, and after setting again none."""
    recall = Recall()
    row = {"blade": 1, "angle_deg": 18.40}
    judged = Judged("check", [row, {"blade": 2, "angle_deg": None}], None, None, None, None, "")
    reading = Captured(9, 1, "final", 18.1, 0.05, 40, "l", 1.0, None, None, "normal", 1, "press")
    steps: list[tuple[Body, float | None]] = [
        (reading, None),
        (Held(1, 18.52, 0.07, -0.02, "in"), 18.52),
        (judged, 18.40),
        (Held(1, 18.55, 0.07, -0.02, "in"), 18.55),
    ]
    for n, (body, was) in enumerate(steps, 1):
        recall.hear(Event(n, n, body))
        assert recall.heard == Heard(reading, None, was)


@pytest.mark.parametrize("turnover", get_args(Turnover))
def test_what_turning_the_level_over_does_stands_beside_the_keys(turnover: Turnover) -> None:
    shown = dict(offers(replace(scenes.REREADING, turnover=turnover)))
    assert ("TURNED OVER" in shown) == bool(turnover)
    assert shown["SPACE"] == "take"


@pytest.mark.parametrize(
    ("deg", "said"), [(-0.001, "0.00"), (0.004, "0.00"), (-0.006, "-0.01"), (0.2, "+0.20")]
)
def test_of_an_error_that_rounds_to_nothing_no_side_is_told(deg: float, said: str) -> None:
    assert figure(deg, signed=True) == said
    assert figure(abs(deg)) == said.removeprefix("+").removeprefix("-")
