"""The measuring screen of a demo that is played: the viewer's keys are the hands in the hangar."""

from collections.abc import Callable
from typing import ClassVar

from textual.binding import Binding, BindingType

from shared.hands import KEYS, Do
from tui.dialogs import HELP, Help
from tui.keys import either_case
from tui.measuring import Measuring, Session

HANDS_HELP = """\
L  O  -   lay the level where the step wants it; off; turn it over, and back
P         turn the propeller: the blade of the step horizontal
,  .      turn the blade finer, coarser, by a tenth of a degree
<  >      the same by a whole degree
K         knock another blade, behind the program's back
"""
ROOMY = 30
"""Rows in which the page has room for what the signs mean too."""


class Playing(Measuring):
    """The keys of a job, and those of the hands."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(either_case(key), f"deed('{deed}')", deed, show=False, priority=True)
        for deed, (key, _) in KEYS.items()
    ]

    def __init__(self, session: Session, now_s: Callable[[], float], do: Do) -> None:
        """Take the app, a clock in seconds, and the hands."""
        super().__init__(session, now_s)
        self._do = do

    def action_deed(self, deed: str) -> None:
        """Have the hands do it, and say what they do."""
        found = next(one for one in KEYS if one == deed)
        self._session.tell(self._do(found), "good")

    def action_keys(self) -> None:
        """Show the keys of the hands before the others."""
        keys, signs = HELP.split("\n\n")
        roomy = self.app.size.height >= ROOMY
        self._push(Help(HANDS_HELP + keys + (f"\n\n{signs}" if roomy else ""), self._view))
