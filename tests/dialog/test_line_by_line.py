"""Lines on a terminal of 80 columns: nothing is broken where the terminal would break it."""

import io

import pytest

from daemon.dialog.line_by_line import Lines


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Say so."""
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    monkeypatch.setenv("COLUMNS", "80")
    return Terminal()


LONG = (
    "Lay the level flat on a steady, nearly level surface, mark where it lies, and do not touch it."
)


def test_every_line_is_broken_by_itself(terminal: Terminal) -> None:
    Lines(0, terminal).write(f"\nMark one end.\n  {LONG}\nEnter when you are ready.\n")
    shown = terminal.getvalue().split("\n")
    assert shown[:2] == ["", "Mark one end."]
    assert [line[:2] for line in shown[2:4]] == ["  ", "  "]
    assert " ".join(map(str.strip, shown[2:4])) == LONG
    assert shown[4:] == ["Enter when you are ready.", ""]
    assert max(map(len, shown)) < 80


def test_what_is_no_terminal_is_not_broken() -> None:
    stream = io.StringIO()
    Lines(0, stream).write(f"{LONG}\n")
    assert stream.getvalue() == f"{LONG}\n"
