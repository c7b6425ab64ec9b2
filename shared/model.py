"""The base of everything a person writes: unknown keys, NaN and infinities are errors."""

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails


class Written(BaseModel):
    """A table in a job or profile file. Frozen; forbids unknown keys; refuses NaN and 1e999."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def first_problem(error: ValidationError) -> tuple[str, str, str]:
    """Return the first thing wrong: its key path, what is wrong, what to do about it.

    A misspelt key comes before the one that is missing for it.
    """
    errors = error.errors()
    misspelt = ((one, _meant(one, errors)) for one in errors)
    first, meant = next((pair for pair in misspelt if pair[1]), (errors[0], ""))
    parts = [str(part) for part in first["loc"]]
    key = ".".join(part for part in parts if part not in {"(name)", "(table)"})
    remedy = {
        "extra_forbidden": f"{meant} is meant?" if meant else NO_SUCH_KEY,
    }.get(first["type"], "")
    given = first.get("input")
    problem = IN_WORDS.get(first["type"], first["msg"]).removeprefix("Value error, ")
    if isinstance(given, str | int | float) and first["type"] != "extra_forbidden":
        problem += f", not {given!r}"
    return key, problem, remedy


NO_SUCH_KEY = "check its spelling"
IN_WORDS = {"extra_forbidden": "no such key", "missing": "is missing"}
"""What the library says in terms of its own."""


def _meant(unknown: ErrorDetails, errors: Sequence[ErrorDetails]) -> str:
    """Return the key that is missing beside one that is unknown and much like it; "": none is."""
    if unknown["type"] != "extra_forbidden":
        return ""
    *table, key = unknown["loc"]
    beside = [one["loc"] for one in errors if one["type"] == "missing"]
    missing = [str(loc[-1]) for loc in beside if list(loc[:-1]) == table]
    return next(iter(get_close_matches(str(key), missing, 1)), "")


def laid_over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Lay tables over others: tables merge, everything else replaces what was there."""
    both = dict(below)
    for key, value in above.items():
        under = both.get(key)
        merge = isinstance(under, Mapping) and isinstance(value, Mapping)
        both[key] = laid_over(under, value) if merge else value  # type: ignore[arg-type]
    return both
