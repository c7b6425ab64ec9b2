"""The command line. Exit codes: 0 fine, 1 the answer is no, 2 bad input, 3 the world failed."""

import gc
import re
import sys
from collections.abc import Callable

from cyclopts import App, CycloptsError, Group

from daemon.cli import options
from daemon.cli import standard_streams as streams
from daemon.cli.attach import attach
from daemon.cli.budget_of_blades import budget
from daemon.cli.calc import calc
from daemon.cli.check import check
from daemon.cli.demo import demo
from daemon.cli.export import export
from daemon.cli.history import compare, history
from daemon.cli.job_again import job
from daemon.cli.levels import levels
from daemon.cli.new import new
from daemon.cli.publish import publish
from daemon.cli.replay_session import replay
from daemon.cli.run import run
from daemon.cli.scenarios import scenarios
from daemon.cli.schema import schema
from daemon.cli.serve import serve
from daemon.cli.sessions import sessions
from daemon.cli.sheet import entry, sheet
from daemon.cli.sounds import sounds
from daemon.cli.text_form import text
from daemon.cli.torque_check import torque_check
from daemon.cli.trial import trial
from daemon.cli.watch_blades import watch
from shared.errors import BadInputError, OutsideError

app = App(
    name="stillblade",
    version=options.version,
    help="Set the blades of a ground-adjustable propeller, and know when a set blade has moved.",
    help_format="plaintext",
    result_action="return_value",
)
_USES: dict[str, tuple[Callable[..., object] | App, ...]] = {
    "Begin": (new, check, demo),
    "The job": (run, serve, attach, watch, sounds),
    "What was recorded": (sessions, replay, budget, sheet, entry, export, publish, text),
    "The hub over the years": (history, compare, torque_check, job, trial),
    "Levels and arithmetic": (levels, calc),
    "For tests and other programs": (scenarios, schema),
}
for _use, _commands in _USES.items():
    _group = Group.create_ordered(_use)
    for _place, _each in enumerate(_commands):
        if isinstance(_each, App):
            _each.group, _each.sort_key = _group, _place
            app.command(_each)
        else:
            app.command(_each, group=_group, sort_key=_place)
_group = Group.create_ordered("Everywhere")
app["--help"].group = app["--version"].group = _group


UNFORESEEN = (
    "this is a fault of the program, not of yours; what a session had recorded is kept: "
    "send the lines above to those who make it"
)
COLLECT_AFTER = 200_000
"""So many objects more than were freed start a collection: what a command imports is no garbage,
and looking through it again after every 700 is a tenth of the time to the first picture."""


def main(argv: list[str] | None = None) -> int:
    """Run one command; return its exit code."""
    gc.set_threshold(COLLECT_AFTER)
    streams.mend()
    streams.log_plainly()
    return max(_command(argv), streams.flushed())


def _command(argv: list[str] | None) -> int:
    try:
        return int(app(argv, exit_on_error=False, print_error=False) or 0)
    except CycloptsError as error:
        return streams.failed(_in_words(str(error)), 2)
    except KeyboardInterrupt:
        return streams.failed("stopped", 0)
    except (BadInputError, OutsideError, OSError, ExceptionGroup) as error:
        known = _known(error)
        if known is None:
            return _unforeseen()
        return streams.failed(known, 2 if isinstance(known, BadInputError) else 3)
    except Exception:  # noqa: BLE001
        return _unforeseen()


def _unforeseen() -> int:
    """Say that the program is at fault, and where; never 1, which means that the answer is no."""
    sys.excepthook(*sys.exc_info())
    return streams.failed(UNFORESEEN, 3)


def _in_words(said: str) -> str:
    """Return what the library says of the command line without its names of types."""
    for kind, words in (("int", "a whole number"), ("float", "a number")):
        said = re.sub(rf"unable to convert (.*) into {kind}\b", rf"\1 is not {words}", said)
    return said


def _known(error: Exception) -> Exception | None:
    """Return the error a person can do something about, also out of a group of tasks."""
    if isinstance(error, BadInputError | OutsideError):
        return error
    if isinstance(error, ExceptionGroup):
        found = [_known(inner) for inner in error.exceptions]
        return next((one for one in found if one is not None), None)
    if isinstance(error, OSError):
        where = error.filename or "standard output takes nothing more"
        return OutsideError(f"{where}: {error.strerror or error}")
    return None


if __name__ == "__main__":
    sys.exit(main())
