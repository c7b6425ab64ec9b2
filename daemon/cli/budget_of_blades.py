"""`stillblade budget`: where the uncertainty of every blade angle comes from, line by line."""

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from daemon.cli.options import AsJson
from shared.angles import stated
from shared.errors import BadInputError
from shared.plain import plain

if TYPE_CHECKING:
    from daemon.core.engine import Engine
    from daemon.measure.angle.budget import Budget


def budget(session: Path, *, json_: AsJson = False) -> int:
    """Show where the uncertainty of every blade angle of a session comes from.

    Parameters
    ----------
    session
        A session file or its text form.
    json_
        One JSON object a line on standard output.
    """
    from daemon.session.recording import read
    from daemon.session.replay import rebuilt

    engine, _ = rebuilt(read(session))
    rows = _rows(engine)
    if not rows:
        raise BadInputError(str(session), "", "no blade has been read in this session")
    spread = _spread(engine)
    if json_:
        for row in rows:
            print(json.dumps(row))
        if spread:
            print(json.dumps({"event": "spread", "say": spread}))
    else:
        _print(rows)
        if spread:
            print(plain(spread))
    return 0


def _rows(engine: "Engine") -> list[dict[str, Any]]:
    """Return the budget of every blade, and of every difference between two blades."""
    from daemon.measure.angle.budget import difference
    from daemon.measure.angle.verdict import judge, settles
    from daemon.workflow.words import named

    angles = engine.angles()
    job = engine.header.job
    rows = []
    for blade, angle in angles.items():
        error = angle.angle_deg - job.target.angle_deg
        u95 = angle.budget.u95_deg
        rows.append(
            {
                "event": "budget",
                "what": named(job, blade),
                "angle_deg": stated(angle.angle_deg),
                "error_deg": stated(error),
                "tolerance": judge(error, u95, job.target.tolerance_deg),
                "settles": settles(error, angle.budget, job.target.tolerance_deg),
                **_budget(angle.budget),
            }
        )
    for first, one in angles.items():
        for second, other in angles.items():
            if first < second:
                rows.append(
                    {
                        "event": "budget",
                        "what": f"blade {second} minus blade {first}",
                        "angle_deg": stated(other.angle_deg - one.angle_deg),
                        **_budget(difference(other.budget, one.budget)),
                    }
                )
    return rows


def _spread(engine: "Engine") -> str:
    """Return the spread in words; "" until all blades have been read."""
    from daemon.measure.angle.verdict import spread_in_words
    from daemon.workflow.agreement import own_u

    angles = engine.angles()
    if len(angles) < engine.header.job.propeller.blades:
        return ""
    values = [angle.angle_deg for angle in angles.values()]
    square = math.fsum(own_u(angle.budget) ** 2 for angle in angles.values())
    u = math.sqrt(square / len(values))
    return spread_in_words(max(values) - min(values), len(values), u)


def _budget(of: "Budget") -> dict[str, Any]:
    lines = [
        {
            **asdict(line),
            "u_deg": stated(line.u_deg),
            "dof": None if line.dof == float("inf") else round(line.dof, 1),
        }
        for line in of.lines
    ]
    dof = None if of.dof == float("inf") else round(of.dof, 1)
    return {
        "u_deg": stated(of.u_deg),
        "u95_deg": stated(of.u95_deg),
        "dof": dof,
        "lines": lines,
    }


def _print(rows: list[dict[str, Any]]) -> None:
    for row in rows:
        error = f", error {row['error_deg']:+.3f}: {row['tolerance']}" if "error_deg" in row else ""
        print(f"{plain(row['what'])}: {row['angle_deg']:.3f} ± {row['u95_deg']:.3f} (95 %){error}")
        if row.get("settles"):
            print(f"  too close to say; fastest: {plain(row['settles'])}")
        for line in sorted(row["lines"], key=lambda one: -one["u_deg"]):
            dof = "" if line["dof"] is None else f", {line['dof']:g} degrees of freedom"
            shared = "" if line["common"] == "none" else f", shared by {_shared(line['common'])}"
            print(f"  {plain(line['name']):12} {line['kind']}  u {line['u_deg']:.4f}{dof}{shared}")
        dof = "" if row["dof"] is None else f", {row['dof']:g} degrees of freedom"
        print(f"  {'together':12}    u {row['u_deg']:.4f}{dof}\n")


def _shared(common: str) -> str:
    return "this blade's placements" if common == "blade" else "all blades"
