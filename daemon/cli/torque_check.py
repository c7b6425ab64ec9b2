"""`stillblade torque-check`: bolts were looked at again between two settings."""

from pathlib import Path

from shared.errors import BadInputError


def torque_check(
    hub: str,
    /,
    *,
    on: str,
    by: str,
    hours: str = "",
    torque: str = "",
    wrench: str = "",
    found: str = "",
    folder: Path = Path(),
) -> int:
    """Keep what somebody says of a torque check between settings, for the history of the hub.

    Parameters
    ----------
    hub
        Its serial number, as its jobs have it.
    on
        Date, as 2031-06-01.
    by
        Who did it.
    hours
        Of the aircraft or the propeller, as its log has them.
    torque
        As the manual has it, such as "25 N·m".
    wrench
        Which one, and until when it is calibrated.
    found
        What was seen: whether a bolt turned, the locking, the witness marks.
    folder
        Where the hub's sessions are.
    """
    from pydantic import ValidationError

    from daemon.sheet.shelf import settings_in
    from daemon.sheet.torque_checks import TorqueCheck, add, told
    from shared.model import first_problem
    from shared.plain import plain

    hubs = {one.hub for one in settings_in(folder)[0] if one.hub}
    if hub not in hubs:
        known = ", ".join(sorted(hubs)) or "none"
        raise BadInputError(
            "command line", "HUB", f"no session in {folder} set hub {hub}", f"there are: {known}"
        )
    words = {"hours": hours, "torque": torque, "wrench": wrench, "found": found}
    try:
        check = TorqueCheck.model_validate({"on": on, "by": by, **words})
    except ValidationError as error:
        key, problem, remedy = first_problem(error)
        raise BadInputError("command line", f"--{key}", problem, remedy) from error
    path, _ = add(folder, hub, check)
    print(plain(f"{path}: {next(told([check]))}"))
    return 0
