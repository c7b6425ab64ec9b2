"""`stillblade text`: a session as JSON Lines."""

from pathlib import Path


def text(session: Path) -> int:
    """Write a session's text form (JSON Lines) to standard output.

    Of a damaged session everything that can still be read is written.

    Parameters
    ----------
    session
        A session file or its text form.
    """
    from daemon.cli.lines import say_what_is_wrong
    from daemon.session.recording import read
    from daemon.session.text import lines

    recording = read(session, salvage=True)
    for line in lines(recording):
        print(line)
    say_what_is_wrong(session, recording)
    return 2 if recording.damage else 0
