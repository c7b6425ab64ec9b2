"""`stillblade trial`: what the engine says of a setting, and the next small step."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from cyclopts import App

from daemon.cli.options import check
from shared.errors import BadInputError

if TYPE_CHECKING:
    from daemon.trial.points import Trial

trial = App(name="trial", help="Trial flights: points beside measured angles, the next small step.")


@trial.command
def add(
    session: Path,
    *,
    read_on: str,
    pressure_altitude_ft: float,
    celsius: float,
    flown: str = "",
    static_rpm: float | None = None,
    climb_rpm: float | None = None,
    level_rpm: float | None = None,
    true_airspeed_kt: float | None = None,
    level_throttle: Literal["full", "part"] = "full",
    ground_altitude_ft: float | None = None,
    ground_celsius: float | None = None,
    wind_kt: float | None = None,
    fuel: str = "",
    mass_kg: float | None = None,
    configuration: str = "",
    checked_by: str = "",
    checked_rpm: float | None = None,
    shown_rpm: float | None = None,
    repeatability_percent: float | None = None,
    vibration: str = "",
) -> int:
    """Keep a point beside the sessions of its hub; its angle is what the session measured after torque.

    Parameters
    ----------
    session
        The finished session that set the propeller as it was flown.
    read_on
        The instrument that showed the rpm.
    pressure_altitude_ft
        Of the flight.
    celsius
        Outside air there.
    flown
        Date, as 2031-05-17, or with the time, as 2031-05-17T15:30; the session's where no later one set this hub.
    static_rpm
        Tied down, full throttle.
    climb_rpm
        In the climb, full throttle.
    level_rpm
        In level flight, full throttle.
    level_throttle
        Part where it was opened only until a limit was reached, with more to spare.
    true_airspeed_kt
        In level flight.
    ground_altitude_ft
        Pressure altitude of the static run, where it is another.
    ground_celsius
        Its temperature.
    wind_kt
        In the static run.
    fuel
        Kind and how much.
    mass_kg
        Of the aircraft.
    configuration
        Anything that was not as always: doors, spats, cowling.
    checked_by
        What the instrument was held against, such as an optical tachometer.
    checked_rpm
        What that showed.
    shown_rpm
        What the instrument showed at that moment.
    repeatability_percent
        Half-width that holds 19 of 20 readings; 1 where nothing is given.
    vibration
        What was felt.
    """
    given: dict[str, Any] = {key: value for key, value in locals().items() if key != "session"}
    from daemon.session.recording import read
    from daemon.sheet import flights
    from daemon.sheet.shelf import settings_in
    from shared.plain import plain

    recording = read(session)
    setting = flights.measured(session.name, recording)
    point = flights.point_of(setting, recording, given)
    flights.check_flown(setting, settings_in(session.parent)[0], flown)
    path = flights.place(session.parent, setting.hub)
    made = flights.add(path, recording, point)
    number = len(made.point)
    print(plain(f"{path}: point {number}, {point.angle_deg:.2f}° ± {point.u95_deg:.2f} measured"))
    if not made.limit:
        print(plain(f"Enter the manuals' limits in {path}: without them nothing is advised."))
    return 0


@trial.command
def show(hub: str, /, *, folder: Path = Path(), svg: Path | None = None) -> int:
    """Show the points of a hub, each limit's verdict, the slopes, and angle against rpm.

    Parameters
    ----------
    hub
        Its serial number.
    folder
        Where its sessions are.
    svg
        Also write the picture to this file.
    """
    from daemon.cli.outputs import refuse_record, write_out
    from daemon.sheet import flights_drawn
    from daemon.sheet.flights_said import told
    from shared.plain import plain

    refuse_record(svg, "--svg")
    kept = _kept(folder, hub)
    made = flights_drawn.plot(kept)
    for line in (*told(kept), *(flights_drawn.terminal(made) if made else ())):
        print(plain(line))
    if svg is not None and made is not None:
        write_out(svg, "--svg", [flights_drawn.svg(made).encode()])
    return 0 if made is not None else 1


@trial.command(name="advise")
def advise_(
    hub: str, /, *, folder: Path = Path(), job: Path | None = None, confirmed_by: str = ""
) -> int:
    """Say the next small step with what it rests on. Exits with 1 where none is advised.

    Parameters
    ----------
    hub
        Its serial number.
    folder
        Where its sessions are.
    job
        Write the next job from the newest point's session, its target a proposal that nothing runs by until a person
        enters or confirms it.
    confirmed_by
        Name of the person who confirms the target, which then stands in the job.
    """
    from daemon.sheet.flights_said import advised
    from daemon.trial.advice import advise
    from shared.plain import plain

    check(job is not None or not confirmed_by, "--confirmed-by", "there is no --job to confirm")
    check(job is None or not job.exists(), "--job", f"{job} is there already", "name a new file")
    kept = _kept(folder, hub)
    found = advise(kept)
    for line in advised(kept, found):
        print(plain(line))
    if found.kind not in {"step", "angle"} or found.to_deg is None or found.evidence is None:
        return 0 if found.kind == "stay" else 1
    if job is not None:
        from daemon.cli.job_again import proposed

        session = folder / found.evidence.now.file
        problem = f"the newest point's session, {session.name or 'unnamed'}, is not in {folder}"
        check(
            session.is_file(),
            "--job",
            problem,
            "name the folder that has it, or write the job by hand",
        )
        proposed(session, job, round(found.to_deg, 2), confirmed_by.strip())
    return 0


def _kept(folder: Path, hub: str) -> "Trial":
    from daemon.sheet import flights

    kept = flights.trial_in(flights.place(folder, hub))
    if kept.propeller.hub != hub:
        where = str(flights.place(folder, hub))
        raise BadInputError(where, "propeller.hub", f"is of hub {kept.propeller.hub}, not {hub}")
    return kept
