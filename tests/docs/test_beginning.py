"""The picture of `stillblade new` is what the program prints, and README shows it."""

from pathlib import Path

from daemon.dialog import drawings
from docs.pictures.beginning import PICTURE, WIDE, drawn, rows

ROOT = Path(__file__).parents[2]


def test_the_picture_is_what_is_printed() -> None:
    assert PICTURE.read_text("utf-8") == drawn(), "python -m docs.pictures.beginning draws it again"


def test_no_line_runs_out_of_it() -> None:
    assert max(len(row.text) for row in rows()) <= WIDE


def test_it_shows_the_drawings_and_answers_that_are_asked_again() -> None:
    said = "\n".join(row.text for row in rows())
    for drawing in (drawings.LAYOUT, drawings.ROTATION, drawings.STATION):
        assert "\n".join(drawing) in said
    assert "'right' is none of these: clockwise, anticlockwise." in said


def test_the_readme_shows_it() -> None:
    assert f"docs/pictures/{PICTURE.name}" in (ROOT / "README.md").read_text("utf-8")


def test_drawings_fit_every_terminal_and_are_plain() -> None:
    for name in ("LAYOUT", "ROTATION", "STATION", "ANGLE", "CLAMPS"):
        for line in getattr(drawings, name):
            assert len(line) <= 78
            assert line.isascii()
            assert line == line.rstrip()
