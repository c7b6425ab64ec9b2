"""`stillblade history` and `stillblade compare`: what a hub was set to, then and now."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson
from shared.errors import BadInputError

if TYPE_CHECKING:
    from daemon.sheet.settings_of_hub import Setting


def history(
    hub: str = "", /, *, folder: Path = Path(), json_: AsJson = False, svg: Path | None = None
) -> int:
    """Say what a hub was found at and set to in every finished session of a folder, what changed, and torque checks.

    Exits with 1 where there is no session of it.

    Parameters
    ----------
    hub
        Its serial number, as the jobs have it; without one, all hubs are listed, or the only one told.
    folder
        Where the sessions are; this folder where none is named.
    json_
        One JSON object a session, then one a torque check.
    svg
        Also write a picture of it to this file.
    """
    from daemon.cli.outputs import refuse_record, write_out
    from daemon.sheet import flights_drawn
    from daemon.sheet import flights_said as said
    from daemon.sheet import history_drawn as drawn
    from daemon.sheet.flights import flown_beside
    from daemon.sheet.settings_of_hub import to_data, told
    from daemon.sheet.shelf import settings_in
    from daemon.sheet.torque_checks import checks_beside
    from daemon.sheet.torque_checks import told as checks_told
    from shared.plain import plain

    refuse_record(svg, "--svg")
    settings, unread = settings_in(folder)
    for words in unread:
        print(plain(words), file=sys.stderr)
    hubs = sorted({one.hub for one in settings})
    if not hub and len(hubs) > 1:
        for one in hubs:
            count = sum(each.hub == one for each in settings)
            print(plain(f"{one or 'no hub named'}: {count} sessions"))
        return 0
    chosen = [one for one in settings if one.hub == hub] if hub else settings
    if not chosen:
        print(
            plain(f"there is no finished session of {hub or 'any hub'} in {folder}"),
            file=sys.stderr,
        )
        return 1
    flown, wrong = flown_beside(folder, chosen[-1].hub)
    checks, unread_checks = checks_beside(folder, chosen[-1].hub)
    for words in filter(None, (wrong, unread_checks)):
        print(plain(words), file=sys.stderr)
    lines = [json.dumps(to_data(one)) for one in chosen]
    lines += [json.dumps({"torque_check": one.model_dump(mode="json")}) for one in checks]
    if not json_:
        days = [str(one.on) for one in checks]
        meanwhile = list(zip(days, checks_told(checks), strict=True))
        lines = [*told(chosen, meanwhile), *drawn.in_characters(chosen)]
        if flown:
            lines += ["trial flights", *said.told(flown), *flights_drawn.in_characters(flown)]
    for line in lines:
        print(line if json_ else plain(line))
    if svg is not None:
        write_out(svg, "--svg", [flights_drawn.below(drawn.plotted(chosen), flown).encode()])
    return 0


def compare(earlier: Path, later: Path) -> int:
    """Hold two sessions against each other, blade by blade.

    Exits with 1 where they are of another hub, station, side, face or kind of level, or have other parts.

    Parameters
    ----------
    earlier
        A session file or its text form.
    later
        Another one.
    """
    from daemon.sheet.settings_of_hub import compared, not_alike
    from shared.plain import plain

    one, other = _setting(earlier), _setting(later)
    for line in compared(one, other):
        print(plain(line))
    return 1 if not_alike(one, other) else 0


def _setting(session: Path) -> "Setting":
    from daemon.session.recording import read
    from daemon.sheet.settings_of_hub import setting_of

    found = setting_of(session.name, read(session))
    if found is None:
        raise BadInputError(str(session), "", "has no result", "finish it first: run its job")
    return found
