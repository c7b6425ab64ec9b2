"""`stillblade sheet` and `stillblade entry`: what is left of a job on paper."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from daemon.cli.options import Flag
from shared.errors import BadInputError

if TYPE_CHECKING:
    from daemon.sheet.content import Sheet


def sheet(
    session: Path,
    *,
    out: Path | None = None,
    html: Flag = False,
    paper: Literal["a4", "letter"] = "a4",
) -> int:
    """Print a session as one page: every angle with its uncertainty, alarms and answers, the result.

    It says what was recorded and works nothing out anew; it signs nothing off. Of a damaged session
    no sheet is made.

    Parameters
    ----------
    session
        A session file or its text form.
    out
        The file to write; beside the session where none is named.
    html
        As an HTML file instead of a PDF.
    paper
        Of the PDF.
    """
    from daemon.cli.outputs import refuse_record, write_out

    where = out or session.with_suffix(".html" if html else ".pdf")
    refuse_record(where, "--out", session)
    made = _read(session)
    if html:
        from daemon.sheet.markup import html as marked_up

        content = marked_up(made).encode()
    else:
        content = _typeset(made, paper)
    write_out(where, "--out", [content])
    print(f"{where}: {made.heading}{', ' + made.concerned if made.concerned else ''}")
    return 0


def _typeset(made: "Sheet", paper: Literal["a4", "letter"]) -> bytes:
    try:
        from daemon.sheet.typeset import pdf
    except ModuleNotFoundError as error:
        raise BadInputError(
            "command line", "sheet", f"{error.name} is not installed",
            "pip install '.[sheet]', or --html",
        ) from error  # fmt: skip
    return pdf(made, paper)


def entry(session: Path) -> int:
    """Print the lines for a logbook.

    Parameters
    ----------
    session
        A session file or its text form.
    """
    from daemon.sheet.entry import entry as lines_of
    from shared.plain import plain

    for line in lines_of(_read(session)):
        print(plain(line))
    return 0


def _read(session: Path) -> "Sheet":
    from daemon.session.recording import read
    from daemon.sheet.content import sheet_of
    from daemon.sheet.flights import flown_beside
    from daemon.sheet.flights_drawn import trial_svg
    from shared.plain import plain

    recording = read(session)
    if recording.damage:
        raise BadInputError(
            str(session),
            "",
            f"is damaged: {recording.damage[0]}",
            "see what is sound: stillblade text",
        )
    flown, wrong = flown_beside(session.parent, recording.header.job.propeller.hub)
    if wrong:
        print(plain(wrong), file=sys.stderr)
    return replace(sheet_of(recording), flights=trial_svg(flown))
