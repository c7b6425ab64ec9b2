"""`stillblade new`: a job by questions and answers."""

import sys
from functools import partial
from pathlib import Path


def new(job: Path | None = None, /, *, air: float = 4.0) -> int:
    """Make a job by questions and answers: the level found and tried, the propeller asked for.

    Works on any terminal, line by line. Every answer can be taken back; stopped with Ctrl-C it
    leaves nothing behind but what was learned of a level, and exits with 1.

    Parameters
    ----------
    job
        The job file to be written, which must not be there yet; asked for where not given.
    air
        Seconds for which the air is listened to for Bluetooth levels; 0 leaves it out.
    """
    from daemon.cli import offered_jobs
    from daemon.cli.before import known_of
    from daemon.cli.findings import NOT_PROVABLE, WIDER
    from daemon.cli.options import check
    from daemon.cli.so_many import so_many
    from daemon.cli.stops import until_stopped
    from daemon.dialog.conversation import checked, new_job
    from daemon.dialog.finding import Surroundings
    from daemon.dialog.line_by_line import Lines
    from daemon.session.jobs import load_job
    from daemon.shell.clocks import wall
    from drivers.links import PATIENT
    from shared.plain import plain
    from shared.wording import so_many_readings

    check(0.0 <= air <= 60.0, "--air", f"{air} s is no time to listen", "0 to 60")
    if job is not None:
        try:
            checked(job)
        except ValueError as error:
            check(False, "JOB", str(error).rstrip("."))
    terminal = Lines(sys.stdin.fileno(), sys.stdout)
    recall = partial(known_of, job.parent if job is not None else Path())
    work = new_job(terminal, Surroundings(PATIENT, air), job, wall()[:10], recall)
    try:
        path, _ = until_stopped(work)
    except EOFError:
        print("the answers ended: nothing was written", file=sys.stderr)
        return 1
    if path is None:
        print("stopped: nothing was written", file=sys.stderr)
        return 1
    offered_jobs.remember(path)
    print(plain(f"{path} is written."))
    print("what is wrong with this computer, if anything:")
    print(plain(f"  stillblade check {path}"))
    print("the job (`stillblade run` alone offers it too):")
    print(plain(f"  stillblade run {path}"))
    told = so_many(load_job(path), path.absolute().parent)
    if told is not None:
        print(f"it wants {so_many_readings(told.fewest, told.most)}")
        if not told.provable:
            print(f"{NOT_PROVABLE}:\n  {WIDER}")
    return 0
