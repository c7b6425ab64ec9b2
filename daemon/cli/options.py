"""What the commands have in common: their flags, and how one refuses what was given to it."""

from typing import Annotated

from cyclopts import Parameter

from shared.errors import BadInputError

AsJson = Annotated[bool, Parameter(name="--json", negative=())]
PageAddress = Annotated[str, Parameter(name="--page")]
"""Where a page for a browser is served; "": nowhere."""
PageTls = Annotated[bool, Parameter(name="--page-tls", negative=())]
Flag = Annotated[bool, Parameter(negative=())]


def check(good: bool, key: str, problem: str, remedy: str = "") -> None:
    """Refuse an option that is not good.

    Raises:
        BadInputError: it names the option, what is wrong with it and what would be right.
    """
    if not good:
        raise BadInputError("command line", key, problem, remedy)


def version() -> str:
    """Return which stillblade this is, as it was installed."""
    from importlib.metadata import version as installed

    return installed("stillblade")
