"""docs/screens.md: its arithmetic is the program's, its pictures are those that are drawn."""

import re
from pathlib import Path

import pytest

from docs.pictures.make import PICTURES, played
from tests.tui.test_screens import EVERY_SIZE
from tui.bitmap import cells_high
from tui.legible import LARGEST_ARCMIN, OTHERS_ARCMIN, SCREEN_MM, arcmin, scale_for_arcmin

TIMES, PRIME = "\u00d7", "\u2032"
DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "screens.md").read_text("utf-8")
ROWS = [
    row.strip("| ").split(" | ")
    for row in PAGE.splitlines()
    if re.match(rf"\| \d+{TIMES}\d+ ", row)
]


def test_four_sizes_are_reckoned() -> None:
    assert [row[0] for row in ROWS] == [f"{w}{TIMES}{h}" for w, h in EVERY_SIZE]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row[0]))
def test_the_arithmetic_is_what_the_layouts_use(row: list[str]) -> None:
    columns = int(row[0].split(TIMES)[0])
    large, small = (scale_for_arcmin(n, columns) for n in (LARGEST_ARCMIN, OTHERS_ARCMIN))
    reckoned = [f"{SCREEN_MM / columns:.2f}", str(large), str(cells_high(large))]
    reckoned += [f"{arcmin(large, columns, mm):.0f}{PRIME}" for mm in (310, 380)]
    reckoned += [str(cells_high(small))]
    reckoned += [f"{arcmin(small, columns, mm):.0f}{PRIME}" for mm in (310, 380)]
    assert row[1:] == reckoned


def test_a_letter_of_ten_millimetres_subtends_what_trigonometry_says() -> None:
    """10 mm at 4 m: 2 atan(1/800) = 8.594 minutes of arc."""
    assert arcmin(1, 7, 10.0) == pytest.approx(8.594, abs=0.001)


def test_every_picture_is_drawn_and_shown() -> None:
    shown = set(re.findall(r"pictures/(\w+)\.png", PAGE))
    readme = (DOCS.parent / "README.md").read_text("utf-8")
    shown |= set(re.findall(r"pictures/(\w+)\.png", readme))
    assert shown == set(PICTURES)
    drawn = {path.stem for path in (DOCS / "pictures").glob("*.png")}
    of_a_browser = {name for name in drawn if name.startswith("page-")}
    assert drawn - of_a_browser == set(PICTURES)
    page = "".join((DOCS / name).read_text("utf-8") for name in ("page.md", "sheet.md"))
    assert of_a_browser == set(re.findall(r"pictures/(page-\w+)\.png", page))


@pytest.mark.parametrize("name", ["alarm", "watching"])
def test_a_job_of_the_pictures_is_played_whole(name: str) -> None:
    one = PICTURES[name]
    assert played(one.scenario, one.seed).complete
