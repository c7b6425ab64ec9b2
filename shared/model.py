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
    parts = list(first["loc"])
    either = len(parts) > 1 and parts[-1] in EITHER
    if either:
        parts.pop()
    key = _path(parts)
    remedy = {
        "extra_forbidden": f"{meant} is meant?" if meant else NO_SUCH_KEY,
        "list_type": "a list of values in square brackets; of tables, [[twice]] round its name",
    }.get(first["type"], "")
    given = first.get("input")
    problem = "must be text or a number" if either else _in_words(first)
    if isinstance(given, str | int | float) and first["type"] != "extra_forbidden":
        problem += f", not {str(given).lower() if isinstance(given, bool) else repr(given)}"
    return key, problem, remedy


def _path(parts: Sequence[str | int]) -> str:
    """A key's path as a person counts: of the first of several levels "level 1: port"."""
    path = ""
    for part in parts:
        if isinstance(part, int):
            path += f" {part + 1}:"
        elif part not in {"(name)", "(table)", "[key]"}:
            path += f"{' ' if path.endswith(':') else '.' if path else ''}{part}"
    return path.removesuffix(":")


NO_SUCH_KEY = "check its spelling"
WHOLE, NUMBER, TABLE = "must be a whole number", "must be a number", "must be a table"
EITHER = frozenset({"str", "int", "float", "bool"})
"""What the library puts behind the key where a value may be of several kinds and is of none."""
IN_WORDS = {
    "bool_parsing": "must be true or false",
    "bool_type": "must be true or false",
    "dict_type": TABLE,
    "extra_forbidden": "no such key",
    "finite_number": "must be a finite number",
    "float_parsing": NUMBER,
    "float_type": NUMBER,
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge:g} or more",
    "int_from_float": WHOLE,
    "int_parsing": WHOLE,
    "int_type": WHOLE,
    "less_than": "must be less than {lt:g}",
    "less_than_equal": "must be {le:g} or less",
    "list_type": "must be a list",
    "literal_error": "must be {expected}",
    "missing": "is missing",
    "model_type": TABLE,
    "string_too_long": "must have at most {max_length} characters",
    "string_too_short": "must have at least {min_length} characters",
    "string_type": "must be text in quotes",
    "too_long": "must have at most {max_length} entries",
    "too_short": "must have at least {min_length} entries",
}
"""What the library says in terms of its own, by its name for it, with the limits that it gives."""


def _in_words(error: ErrorDetails) -> str:
    limits = error.get("ctx", {})
    if error["type"] == "string_pattern_mismatch":
        if not error["input"]:
            return "must not be empty"
        a_day = r"\d{4}-\d{2}-\d{2}" in limits["pattern"]
        return "must be a day as in 2027-05-31" if a_day else "has a character that cannot be here"
    said = IN_WORDS.get(error["type"])
    if said is None:
        return error["msg"].removeprefix("Value error, ")
    return said.format(**limits)


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
