"""Questions to a person, one after the other; every answer can be taken back.

A conversation is a function that asks and makes something of the answers. Taking an answer back
forgets it and runs the function again: what was answered is not asked again, so branches need no
rules of their own. Answers are kept as they were typed, and understood anew each time.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, NoReturn, Protocol, TypeVar

Value = TypeVar("Value")
Result = TypeVar("Result")
BACK, HELP = "back", "?"


class Terminal(Protocol):
    """Where the person sits."""

    def say(self, *lines: str) -> None:
        """Print lines."""
        ...

    async def line(self, asked: str, live: Callable[[], str] | None = None) -> str:
        """Print what is asked; return what was typed, stripped.

        live: one line between, always anew.

        Raises:
            EOFError: nothing more will come.
        """
        ...


class TakenBackError(Exception):
    """The person took an answer back: the conversation runs again."""


@dataclass(frozen=True, slots=True)
class Question(Generic[Value]):
    """One question.

    Attributes:
        key: by which its answer is kept.
        label: the question in two or three words, for the list at the end.
        ask: the question, one line.
        read: understands an answer; raises ValueError with a sentence.
        explain: shown before it is asked, and again at "?": words and drawings.
        default: stands for an empty answer; None: something has to be typed.
        keep: how the answer is kept where what was typed would mean something else the next time.
    """

    key: str
    label: str
    ask: str
    read: Callable[[str], Value]
    explain: Sequence[str] = ()
    default: str | None = None
    keep: Callable[[Value], str] | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of this run with its answer as shown."""

    key: str
    label: str
    shown: str


class Talk:
    """The answers so far, and the person.

    Attributes:
        terminal: where the person sits.
        path: what was asked in this run, in order.
    """

    def __init__(self, terminal: Terminal) -> None:
        self.terminal = terminal
        self.path: list[Asked] = []
        self._answers: dict[str, Any] = {}
        self._settled: dict[str, tuple[Any, tuple[Asked, ...]]] = {}

    async def run(self, conversation: Callable[["Talk"], Awaitable[Result]]) -> Result:
        """Hold a conversation to its end, however often answers are taken back."""
        while True:
            self.path.clear()
            try:
                return await conversation(self)
            except TakenBackError:
                continue

    async def ask(self, question: Question[Value], live: Callable[[], str] | None = None) -> Value:
        """Return the answer to a question, asked until it is understood."""
        known = self._known(question)
        if known is not None:
            return known[0]
        self.terminal.say("", *question.explain)
        while True:
            typed = await self.line(question, live)
            try:
                value = question.read(typed)
            except ValueError as error:
                self.terminal.say(f"  {error}")
                continue
            typed = question.keep(value) if question.keep else typed
            self._answers[question.key] = typed
            self.path.append(Asked(question.key, question.label, shown(value, typed)))
            return value

    async def line(self, question: Question[Any], live: Callable[[], str] | None = None) -> str:
        """Return a line for a question; "back" and "?" are seen to."""
        ends = f"  [Enter: {question.default or 'none'}]" if question.default is not None else ""
        while True:
            typed = await self.terminal.line(f"{question.ask}{ends}", live)
            if typed.lower() == BACK:
                self.back()
            if typed == HELP:
                more = question.explain or ("  There is nothing more to say to this one.",)
                self.terminal.say(*more)
            elif typed or question.default is None:
                return typed
            else:
                return question.default

    async def step(
        self, key: str, label: str, work: Callable[[], Awaitable[tuple[Value, str]]]
    ) -> Value:
        """Do something once, such as a check of the level; its result is an answer too.

        work: returns the result and how it is shown.
        """
        if key not in self._answers:
            self._answers[key] = await work()
        value, shown = self._answers[key]
        self.path.append(Asked(key, label, shown))
        kept: Value = value
        return kept

    async def settled(self, key: str, work: Callable[[], Awaitable[Value]]) -> Value:
        """Do something that asks, once: until an answer given in it is taken back, its result holds."""
        value, asked = self._settled.get(key, (None, ()))
        if key in self._settled and all(one.key in self._answers for one in asked):
            self.path += asked
            kept: Value = value
            return kept
        before = len(self.path)
        made = await work()
        self._settled[key] = (made, tuple(self.path[before:]))
        return made

    def back(self) -> None:
        """Take the last answer of this run back; raises TakenBackError where there is one."""
        if not self.path:
            self.terminal.say("  This is the first question: there is nothing to take back.")
            return
        last = self.path[-1]
        self.terminal.say(f"  taken back: {last.label}, which was {last.shown or 'nothing'}")
        self.forget(last.key)

    def forget(self, key: str) -> NoReturn:
        """Take one answer back.

        Raises:
            TakenBackError: always.
        """
        self._answers.pop(key, None)
        raise TakenBackError

    def unsaid(self, key: str) -> None:
        """Forget an answer that was a wish of the moment, and ask on."""
        self._answers.pop(key, None)
        self.path[:] = [one for one in self.path if one.key != key]

    def _known(self, question: Question[Value]) -> tuple[Value] | None:
        """Return what was answered before, if it still is an answer."""
        if question.key not in self._answers:
            return None
        typed = self._answers[question.key]
        try:
            value = question.read(typed)
        except ValueError as error:
            self.terminal.say(f"  {question.label} was {typed!r}, which no longer fits: {error}")
            del self._answers[question.key]
            return None
        self.path.append(Asked(question.key, question.label, shown(value, typed)))
        return (value,)


def shown(value: object, typed: str) -> str:
    """Return an answer for the list at the end: as it was understood where that is a word."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else typed
