"""The Desk: all that any face (terminal, page, broker, attached screen) is given."""

from collections.abc import AsyncIterator
from typing import Protocol

from shared.events import Answered, Event
from shared.inputs import Command
from shared.view import View


class Desk(Protocol):
    """Look, listen, ask. Nothing else is needed, and nothing else is given."""

    def views(self) -> AsyncIterator[View]:
        """Yield the newest view, at most 50 times a second; a slow reader skips views."""
        ...

    def events(self, after: int) -> AsyncIterator[Event]:
        """Yield every event with n > `after`, in order, none left out; ends with the session."""
        ...

    async def send(self, command: Command) -> Answered:
        """Put a command in and wait for its answer."""
        ...
