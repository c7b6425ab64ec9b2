"""`stillblade replay`: a session again, from its recorded inputs."""

import json
import sys
from pathlib import Path

from daemon.cli.options import AsJson, Flag


def replay(
    session: Path,
    *,
    json_: AsJson = False,
    verify: Flag = False,
) -> int:
    """Replay a session from its recorded inputs.

    Of a damaged session the recorded outputs that are sound are printed, and it exits with 2.

    Parameters
    ----------
    session
        A session file or its text form.
    json_
        One JSON object a line on standard output.
    verify
        Compare with the recorded outputs; exit 1 where they differ.
    """
    from daemon.cli.lines import Printer, say_what_is_wrong
    from daemon.session.recording import read
    from daemon.session.replay import replay as replayed_from
    from daemon.session.replay import verify as compare

    recording = read(session, salvage=not verify)
    say_what_is_wrong(session, recording)
    events = recording.events if recording.damage else replayed_from(recording)
    if not verify:
        printer = Printer(sys.stdout, as_json=json_)
        for event in events:
            printer.tell(event)
        return 2 if recording.damage else 0
    found = compare(recording, events)
    if json_:
        print(json.dumps({"event": "verified", "agrees": found.agrees, "say": found.say}))
    else:
        print(found.say)
    return 0 if found.agrees else 1
