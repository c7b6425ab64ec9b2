"""The budget on the screen: what it says, how long its bars are, and that nothing hides behind it.

Shares of the variance: root sum of squares of the standard uncertainties, JCGM 100:2008, 5.1.2.
"""

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.measure.angle.verdict import REMEDY
from shared.events import REFERENCE, Captured, Event
from shared.inputs import NS
from shared.view import BladeView, BudgetLine, View
from tests.tui import scenes
from tests.tui.bench import Bench, bench
from tests.tui.fake_desk import FakeDesk
from tui.budget import (
    CAUSE_WIDTH,
    CAUSES,
    OTHERS,
    bar,
    blade_in_sight,
    budget_lines,
    percent,
    shortened,
)
from tui.ink import plain, width_of
from tui.recall import Recall

SIZES = ((80, 24), (100, 30))
LINES = (
    BudgetLine("zero", 0.04, "B", common=True),
    BudgetLine("seating", 0.03, "A", common=False),
)
"""0.04 and 0.03 come to 0.05: shares of 64 and 36 percent."""
FASTEST = "read the level's zero by turning it end for end"
DOUBTFUL = replace(
    scenes.held(1, "red", 18.58),
    u95_deg=0.1,
    tolerance="too close to say",
    budget=LINES,
    settles=FASTEST,
)
TILT = replace(scenes.REFERENCE_ROW, budget=(BudgetLine("wobble", 0.016, "B", common=False),))


def with_rows(view: View, *rows: BladeView) -> View:
    given_rows = {row.blade: row for row in rows}
    return replace(view, blades=tuple(given_rows.get(row.blade, row) for row in view.blades))


AT_ONE = with_rows(replace(scenes.SET, blade=1, label="red"), TILT, DOUBTFUL)
AT_TWO = with_rows(scenes.SET, TILT, DOUBTFUL)


def flat(text: str) -> str:
    """The overlay's words without its border and line breaks."""
    return " ".join(text.replace("┃", " ").split())


async def pressed(it: Bench, *keys: str) -> str:
    await it.pilot.press(*keys)
    await it.settle()
    return it.text()


def line_of(text: str, words: str) -> str:
    return next(row for row in text.splitlines() if words in row)


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_budget_says_cause_size_and_share(size: tuple[int, int]) -> None:
    async with bench(FakeDesk(), AT_ONE, size) as it:
        text = await pressed(it, "u")
    assert "BLADE 1  red" in text
    assert "18.58° ± 0.10° (95 %)   error +0.08°  ? too close to say, for ±0.15°" in text
    zero, seating = line_of(text, "zero of the level"), line_of(text, "how the level seats")
    assert re.search(r"all +B +0\.040° +64 % █", zero)
    assert re.search(r"seats +A +0\.030° +36 % █", seating)
    assert "0.050°" in line_of(text, "together")
    assert f"Too close to say. Settled fastest: {FASTEST}." in flat(text)
    assert "ESC closes this" in text
    assert "…" not in text[text.index("┏") :]


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_bars_are_as_long_as_the_shares(size: tuple[int, int]) -> None:
    async with bench(FakeDesk(), AT_ONE, size) as it:
        text = await pressed(it, "u")
    cells = [
        line_of(text, CAUSES[one.name]).count("█") + line_of(text, CAUSES[one.name]).count("▌") / 2
        for one in LINES
    ]
    assert cells[0] / cells[1] == pytest.approx(0.64 / 0.36, rel=0.1)
    assert cells[0] >= 12


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_blade_that_was_not_read_is_said_plainly(size: tuple[int, int]) -> None:
    async with bench(FakeDesk(), AT_TWO, size) as it:
        text = await pressed(it, "u")
    assert "Blade 2 white has not been read yet" in flat(text)
    assert "together" not in text


async def test_before_anything_is_read_the_reference_is_asked_for() -> None:
    rows = tuple(scenes.blade(n, "") for n in (1, 2, 3))
    tilt = replace(scenes.REFERENCE_ROW, angle_deg=None, u95_deg=None)
    async with bench(FakeDesk(), replace(scenes.PREPARE, blades=(tilt, *rows))) as it:
        text = await pressed(it, "u")
        assert "Reference has not been read yet" in text
        assert "Blade 1 has not been read yet" in await pressed(it, "down")


async def test_before_the_first_view_there_is_no_budget() -> None:
    async with bench(FakeDesk(), None) as it:
        await pressed(it, "u")
        assert not it.app.screen.is_modal


async def test_the_arrows_go_through_all_blades_and_round() -> None:
    desk = FakeDesk()
    async with bench(desk, AT_ONE) as it:
        await pressed(it, "u")
        said = [await pressed(it, "down") for _ in range(4)]
        assert "Blade 2 white has not been read" in said[0]
        assert "BLADE 3  blue" in said[1]
        assert "no tolerance: blades are read from it" in said[2]
        assert "wobble of the reference" in said[2]
        assert "18.58° ± 0.10°" in said[3]
        assert "REFERENCE" in await pressed(it, "up")
        assert desk.sent == []  # a pedal sends arrows: nothing is taken behind the overlay


async def test_it_follows_the_views_and_the_step() -> None:
    desk = FakeDesk()
    async with bench(desk, AT_TWO) as it:
        await pressed(it, "u")
        white = replace(DOUBTFUL, blade=2, label="white", angle_deg=18.44, settles="")
        white = replace(white, error_deg=-0.06, tolerance="in", working=True)
        desk.push(replace(with_rows(AT_TWO, white), t_ns=126 * NS))
        await it.settle()
        text = it.text()
        assert "18.44° ± 0.10° (95 %)   error -0.06°  = within ±0.15°" in text
        assert "Too close" not in text
        desk.push(replace(AT_ONE, t_ns=127 * NS))
        await it.settle()
        assert "18.58°" in it.text()


async def test_a_chosen_blade_stays_when_the_step_goes_on() -> None:
    desk = FakeDesk()
    async with bench(desk, AT_TWO) as it:
        assert "18.58°" in await pressed(it, "u", "up")
        desk.push(replace(AT_TWO, t_ns=126 * NS, blade=3, label="blue"))
        await it.settle()
        assert "BLADE 1  red  uncertainty" in it.text()


@pytest.mark.parametrize("leave", ["u", "escape"])
async def test_the_same_key_or_escape_closes_it(leave: str) -> None:
    async with bench(FakeDesk(), AT_ONE) as it:
        assert it.app.screen.is_modal is False
        await pressed(it, "u")
        assert it.app.screen.is_modal
        text = await pressed(it, leave)
        assert not it.app.screen.is_modal
        assert "together" not in text
        assert "0.42 too fine" in text
        assert "together" in await pressed(it, "u")


async def test_keys_of_the_work_do_nothing_behind_it() -> None:
    desk = FakeDesk()
    async with bench(desk, AT_ONE) as it:
        await pressed(it, "u", "space", "enter", "a", "d", "2", "s")
        assert desk.sent == []
        assert it.app.screen.is_modal


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_an_open_alarm_is_still_called(size: tuple[int, int]) -> None:
    desk = FakeDesk()
    async with bench(desk, with_rows(scenes.ALARM, TILT), size) as it:
        desk.tell(*scenes.ALARMED)
        text = await pressed(it, "u", "up")
        assert "!! ALARM  BLADE 1  red: MOVED" in text[text.index("┏") :]
        assert "ESC, then answer it" in text
        await pressed(it, "escape", "s")
        assert [one.kind for one in desk.sent] == ["acknowledge"]


async def test_an_alarm_that_comes_meanwhile_is_called_at_once() -> None:
    desk = FakeDesk()
    async with bench(desk, AT_ONE) as it:
        assert "ALARM" not in await pressed(it, "u")
        question = scenes.QUESTION.question
        urgent = replace(AT_ONE, t_ns=126 * NS, alarms=(scenes.MOVED,) * 2, question=question)
        desk.push(urgent)
        await it.settle()
        overlay = it.text()[it.text().index("┏") :]
        assert "MOVED and 1 more" in overlay
        assert "a question is open" in overlay


async def test_in_a_dialog_the_key_is_only_a_letter() -> None:
    async with bench(FakeDesk(), scenes.ALARM) as it:
        text = await pressed(it, "c", "u")
        assert "Your name" in text
        assert "uncertainty budget" not in text


async def test_help_names_the_key() -> None:
    async with bench(FakeDesk(), AT_ONE) as it:
        assert re.search(r"U +where the uncertainty", await pressed(it, "f1"))


async def test_a_target_that_is_hidden_stays_hidden_here() -> None:
    row = replace(scenes.REREADING.blades[2], budget=LINES)
    async with bench(FakeDesk(), with_rows(scenes.REREADING, row)) as it:
        text = await pressed(it, "u")
        assert "18.46° ± 0.07°" in text
        assert "18.50" not in text
        assert "-0.04" not in text


def test_every_cause_of_the_daemon_has_trade_words() -> None:
    assert set(REMEDY) <= set(CAUSES)
    assert all(len(words) < CAUSE_WIDTH for words in CAUSES.values())


def test_without_a_blade_in_the_step_the_newest_read_is_shown() -> None:
    recall = Recall()
    idle = replace(scenes.SET, blade=None)
    assert blade_in_sight(idle, recall) == REFERENCE
    first = scenes.HISTORY[2].body
    assert isinstance(first, Captured)
    recall.hear(Event(1, NS, first))
    recall.hear(Event(2, NS, replace(first, id=2, blade=3)))
    assert blade_in_sight(idle, recall) == 3
    assert blade_in_sight(scenes.SET, recall) == 2


sizes_of_lines = st.lists(st.floats(1e-6, 2.0), min_size=1, max_size=20)


@given(sizes_of_lines, st.integers(1, 20))
def test_putting_lines_together_keeps_the_variance(sizes: list[float], rows: int) -> None:
    lines = [BudgetLine(f"cause {n}", u, "B", common=False) for n, u in enumerate(sizes)]
    kept = shortened(lines, rows)
    assert len(kept) == min(rows, len(lines))
    whole = math.sqrt(math.fsum(u * u for u in sizes))
    assert math.sqrt(math.fsum(one.u_deg**2 for one in kept)) == pytest.approx(whole)
    assert (OTHERS in {one.name for one in kept}) == (len(lines) > rows)


@given(sizes_of_lines, st.integers(36, 96), st.integers(12, 40), st.booleans())
def test_it_fits_whatever_there_is(sizes: list[float], width: int, most: int, alarm: bool) -> None:
    causes = tuple(BudgetLine(f"cause {n}", u, "A", common=True) for n, u in enumerate(sizes))
    row = replace(DOUBTFUL, budget=causes)
    view = replace(with_rows(AT_ONE, row), alarms=(scenes.MOVED,) if alarm else ())
    lines = budget_lines(view, 1, width, most)
    assert len(lines) <= most
    assert all(width_of(one) in {0, width} for one in lines)
    assert "cause 0" in "\n".join(plain(lines)) or len(sizes) > 1


@given(st.floats(0.0, 1.0), st.integers(1, 100))
def test_a_bar_is_as_long_as_its_share_to_half_a_cell(share: float, width: int) -> None:
    drawn = bar(share, width)
    cells = drawn.count("█") + drawn.count("▌") / 2
    assert abs(cells - share * width) <= 0.25 + 1e-9
    assert len(drawn) <= width


@pytest.mark.parametrize(
    ("share", "words"), [(0.0, "0 %"), (0.004, "<1 %"), (0.36, "36 %"), (1.0, "100 %")]
)
def test_shares_in_words(share: float, words: str) -> None:
    assert percent(share) == words


def test_of_a_session_that_has_been_nothing_is_to_be_answered() -> None:
    view = replace(scenes.ALARM, question=scenes.QUESTION.question)
    said = "\n".join(plain(budget_lines(view, 1, 76, past=True)))
    assert "!! ALARM  BLADE 1  red: MOVED" in said
    assert "a question is open" in said
    assert "answer it" not in said
    assert "ESC, then answer it" in "\n".join(plain(budget_lines(view, 1, 76)))
