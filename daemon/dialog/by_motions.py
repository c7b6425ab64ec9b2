"""A level that no profile describes: its profile is learned from motions, in the middle of the dialog."""

from pathlib import Path

from daemon.dialog.asking import Question, Talk
from daemon.dialog.line_by_line import Lines
from daemon.levels.guided import Dialog, way_to
from daemon.levels.unknown import Files
from daemon.levels.ways import Tempo
from drivers.links import Patience
from shared.errors import BadInputError, OutsideError

LEARN = "learn"
"""What is typed for it."""


class Mover:
    """The person at the terminal, as one who is asked for motions."""

    def __init__(self, terminal: Lines) -> None:
        self._terminal = terminal

    async def answer(self) -> str | None:
        """Return the next line; None when nothing more will come."""
        try:
            return await self._terminal.quiet_line()
        except EOFError:
            return None


async def learned(
    talk: Talk, terminal: Lines, where: str, patience: Patience, tempo: Tempo | None
) -> str:
    """Ask for the motions, and return the profile that was learned, as a path.

    Where nothing was found, or the profile is not certain and the person does not want it, the
    question for the profile comes again.
    """

    async def work() -> tuple[str, str]:
        files = _fresh()
        try:
            dialog = Dialog(way_to(where, patience), Mover(terminal), terminal.stream, tempo)
            code = await dialog.run(files)
        except (BadInputError, OutsideError) as error:
            terminal.say(f"  {error}")
            code = 1
        path = files.path(".toml")
        return (str(path.resolve()), path.name) if code == 0 else ("", "nothing was found")

    profile = await talk.step(f"learned {where}", "learned from motions", work)
    if not profile:
        talk.unsaid(f"learned {where}")
        talk.forget(f"profile {where}")
    await talk.ask(
        Question(
            f"believed {where}",
            "what was learned is believed",
            "Shall this profile read it? yes or no",
            _believed,
            ("Read what is above: what no motion has shown is not verified.",),
        )
    )
    return profile


def _believed(text: str) -> bool:
    if text.strip().lower() in {"y", "yes"}:
        return True
    raise ValueError("Then type back, and make the motions again or name another profile.")


def _fresh() -> Files:
    """Return the first names that are not taken: learned, learned-2 ..."""
    number = 1
    while True:
        files = Files(Path("learned" if number == 1 else f"learned-{number}"))
        try:
            files.fresh()
        except BadInputError:
            number += 1
        else:
            return files
