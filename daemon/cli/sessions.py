"""`stillblade sessions`: which sessions a folder keeps, and one of them on the screen."""

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson, check

if TYPE_CHECKING:
    from daemon.session.kept import Kept


def sessions(
    folder: Path = Path(),
    /,
    *,
    open_: int = 0,
    json_: AsJson = False,
) -> int:
    """List the sessions that a folder keeps, the newest first, or open one of them.

    Parameters
    ----------
    folder
        Where to look; this folder where none is named.
    open_
        Play the session with this number of the list, as `replay` does.
    json_
        One JSON object a line on standard output.
    """
    from daemon.session.kept import sessions_in

    found = sessions_in(folder)
    if open_:
        many = f"there are {len(found)} sessions" if found else "there is no session"
        check(1 <= open_ <= len(found), "--open", f"{many} in {folder}", "see the list without it")
        from daemon.cli.replay_session import replay

        return replay(found[open_ - 1].path, json_=json_)
    _print_json(found) if json_ else _print(folder, found)
    return 0


def _print(folder: Path, found: "list[Kept]") -> None:
    from shared.plain import plain
    from shared.rows import cells, rows

    if not found:
        print(plain(f"there is no session in {folder}"))
        return
    print(f"{'':>4} {'begun':16} {'minutes':>7} {'readings':>8} {'alarms':>6}  came to, job, file")
    width = cells(sys.stdout)
    for number, one in enumerate(found, 1):
        begun = one.started[:16].replace("T", " ")
        figures = f"{one.minutes:7.1f} {one.readings:8} {one.alarms:6}"
        words = "  ".join(word for word in (one.came_to, one.job, one.path.name) if word)
        print(*rows(plain(f"{number:4} {begun:16} {figures}  {words}"), width, BESIDE), sep="\n")
    where = "" if folder == Path() else f" {folder}"
    if sys.stdout.isatty():
        print(plain(f"on the screen, at any moment of it: stillblade sessions{where} --open 1"))


BESIDE = 47
"""Cells of the columns before what is told in words."""


def _print_json(found: "list[Kept]") -> None:
    for number, one in enumerate(found, 1):
        print(
            json.dumps({"event": "session", "number": number, **asdict(one), "path": str(one.path)})
        )
