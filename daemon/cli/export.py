"""`stillblade export`: a session's readings as a table, or its events as lines, for other programs."""

import sys
from pathlib import Path
from typing import Literal


def export(session: Path, *, to: Literal["csv", "jsonl"], out: Path | None = None) -> int:
    """Write what a session recorded, for other programs.

    Of a damaged session everything that is sound is written, and it exits with 2.

    Parameters
    ----------
    session
        A session file or its text form.
    to
        csv: a row a reading (RFC 4180). jsonl: an object an event.
    out
        The file to write; standard output where none is named.
    """
    from daemon.cli.lines import say_what_is_wrong
    from daemon.cli.outputs import refuse_record, write_out
    from daemon.session.exported import rows_of_events, table_of_readings
    from daemon.session.recording import read

    refuse_record(out, "--out", session)
    recording = read(session, salvage=True)
    say_what_is_wrong(session, recording)
    lines = table_of_readings(recording) if to == "csv" else rows_of_events(recording)
    if out is None:
        sys.stdout.writelines(lines)
    else:
        write_out(out, "--out", (line.encode() for line in lines))
    return 2 if recording.damage else 0
