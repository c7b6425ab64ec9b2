"""A person who types lines, without a terminal."""

import io
from collections.abc import Callable, Iterable

from daemon.dialog.line_by_line import Lines


class Person(Lines):
    """Types what is given, one line a question, and then nothing more.

    Attributes:
        asked: every question that was put.
    """

    def __init__(self, answers: Iterable[str]) -> None:
        self.out = io.StringIO()
        super().__init__(-1, self.out)
        self.answers = list(answers)
        self.asked: list[str] = []

    async def line(self, asked: str, live: Callable[[], str] | None = None) -> str:
        self.say(asked, *([live()] if live else []))
        self.asked.append(asked)
        if not self.answers:
            raise EOFError
        return self.answers.pop(0)

    def forget_typed(self) -> None:
        """Nothing is typed ahead."""
