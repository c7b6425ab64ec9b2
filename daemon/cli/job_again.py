"""`stillblade job`: the job of a session as a job file, to start the next one from."""

from pathlib import Path
from typing import Any

from daemon.cli.options import check

BY_FLIGHTS = " by trial flights, confirmed by "


def job(session: Path, *, out: Path) -> int:
    """Write the job file that a session was done by: the next job of a hub starts from its last.

    Parameters
    ----------
    session
        A session file or its text form.
    out
        The job file to be written; one that is there is not written over.
    """
    import tomli_w

    from daemon.cli.outputs import write_out
    from daemon.session.recording import read

    check(not out.exists(), "--out", f"{out} is there already", "name a new file")
    header = read(session, salvage=True).header
    tables: dict[str, Any] = {
        "stillblade_job": 1,
        **header.job.model_dump(mode="json", exclude_defaults=True),
    }
    when = header.started[:10] or "an unknown day"
    about = (
        f"# The job of session {header.session} of {when}. Hours, notes and people are of then.\n"
        "# What a procedure file gave stands in [plan]. A profile of its own is a path beside this file.\n\n"
    )
    write_out(out, "--out", [about.encode(), tomli_w.dumps(_whole(tables)).encode()])
    print(f"{out}: written; look it through, then stillblade run {out}")
    return 0


def _whole(tables: dict[str, Any]) -> dict[str, Any]:
    """Leave the procedure file out, whose content is in the plan, and what TOML has no word for."""
    plan = tables.get("plan")
    if isinstance(plan, dict):
        tables["plan"] = {key: value for key, value in plan.items() if key != "procedure"}
    return {key: value for key, value in tables.items() if value is not None}


def proposed(session: Path, out: Path, target_deg: float, confirmed_by: str) -> None:
    """Write the next job of a hub from a session, with another target.

    confirmed_by: who confirms the target; "": nobody yet, so that it stands as a remark and the file cannot be run.
    """
    import tomli_w

    from daemon.cli.outputs import write_out
    from daemon.session.recording import read
    from shared.plain import plain

    header = read(session).header
    tables = _whole(header.job.model_dump(mode="json", exclude_defaults=True))
    tables.pop("stillblade_job", None)
    target = tables.pop("target")
    before = target.pop("angle_deg")
    notes = str(tables.pop("notes", "")).splitlines()
    line = f"angle_deg = {target_deg:.2f}"
    notes = [one for one in notes if not (one.startswith("Target ") and BY_FLIGHTS in one)]
    if confirmed_by:
        notes.append(f"Target {target_deg:.2f}{BY_FLIGHTS}{confirmed_by}.")
    else:
        line = (
            "# Proposed by trial flights; who answers for it takes the # away, or enters another:\n"
            f"# {line}"
        )
    if notes:
        tables["notes"] = "\n".join(notes)
    text = (
        f"# The next job of session {header.session}, which aimed at {before:g} degrees.\n"
        f"stillblade_job = 1\n{tomli_w.dumps(tables)}\n[target]\n{line}\n{tomli_w.dumps(target)}"
    )
    write_out(out, "--job", [text.encode()])
    state = f"confirmed by {confirmed_by}" if confirmed_by else "not confirmed: enter it by hand"
    print(plain(f"{out}: written, target {target_deg:.2f} degrees, {state}"))
