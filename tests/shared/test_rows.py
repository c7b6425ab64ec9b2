"""A line in rows: what a terminal gets between words, a pipe gets whole."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.rows import FEWEST, cells, rows

words = st.lists(st.text("abcdefgh-/", min_size=1, max_size=30), min_size=1, max_size=30)


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Say so."""
        return True


def test_the_last_cell_of_a_terminal_is_left_free_and_a_pipe_has_no_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Some terminals go on to the next row as soon as the last cell is written."""
    monkeypatch.setenv("COLUMNS", "80")
    assert cells(Terminal()) == 79
    assert cells(io.StringIO()) is None


@given(words, st.integers(FEWEST, 90), st.integers(0, 60))
def test_no_row_is_longer_than_there_is_room_but_one_of_a_single_word(
    said: list[str], width: int, indent: int
) -> None:
    line = " ".join(said)
    found = rows(line, width, indent)
    assert " ".join(found).split() == said, "no word is lost, broken or moved"
    assert all(len(row) <= width or len(row.split()) == 1 for row in found)
    assert rows(line, None, indent) == [line]


@given(words, st.integers(FEWEST, 90), st.integers(0, 60))
def test_all_rows_but_the_first_are_indented_where_there_is_room(
    said: list[str], width: int, indent: int
) -> None:
    first, *others = rows(" ".join(said), width, indent)
    before = " " * indent if width - indent >= FEWEST else ""
    assert not first.startswith(" ")
    assert all(row == before + row.lstrip() for row in others)


def test_a_line_that_just_fits_stays_as_it_is() -> None:
    line = "  two  cells, and\ta tab"
    assert rows(line, len(line)) == [line]
    assert len(rows(line, len(line) - 1)) == 2


@pytest.mark.parametrize(("width", "before"), [(29, "         "), (28, "")])
def test_an_indent_leaves_twenty_cells_or_gives_way(width: int, before: str) -> None:
    line = "13.2 s   the blade is set, hands off, lift the level and lay it on again"
    assert rows(line, width, 9)[1] == before + rows(line, width, 9)[1].strip()


def test_a_terminal_of_a_few_cells_breaks_rows_of_twenty_itself() -> None:
    line = "the blade is set, hands off, lift the level"
    assert rows(line, 5) == rows(line, 20) == ["the blade is set,", "hands off, lift the", "level"]


def test_spaces_alone_are_a_row() -> None:
    assert rows(" " * 40, 30) == [" " * 40]


def test_a_path_is_in_one_piece_and_so_is_a_word_with_a_hyphen() -> None:
    path = "/home/somebody/jobs/two-blades/harrowmere-20310504-090000-1.session"
    assert rows(f"it is kept in {path} as well-known", 30, 2) == [
        "it is kept in",
        f"  {path}",
        "  as well-known",
    ]
    first, second = rows("it was set by an ill-tempered hand", 22)
    assert (first, second) == ("it was set by an", "ill-tempered hand")
