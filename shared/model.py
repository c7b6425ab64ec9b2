"""The base of everything a person writes: unknown keys, NaN and infinities are errors."""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError


class Written(BaseModel):
    """A table in a job or profile file. Frozen; forbids unknown keys; refuses NaN and 1e999."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def first_problem(error: ValidationError) -> tuple[str, str, str]:
    """Return the first thing wrong: its key path, what is wrong, what to do about it."""
    first = error.errors()[0]
    parts = [str(part) for part in first["loc"]]
    key = ".".join(part for part in parts if part not in {"(name)", "(table)"})
    remedy = {
        "extra_forbidden": "no such key: check its spelling",
        "missing": "this key must be there",
    }.get(first["type"], "")
    given = first.get("input")
    problem = first["msg"].removeprefix("Value error, ")
    if isinstance(given, str | int | float) and first["type"] != "extra_forbidden":
        problem += f", not {given!r}"
    return key, problem, remedy


def laid_over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Lay tables over others: tables merge, everything else replaces what was there."""
    both = dict(below)
    for key, value in above.items():
        under = both.get(key)
        merge = isinstance(under, Mapping) and isinstance(value, Mapping)
        both[key] = laid_over(under, value) if merge else value  # type: ignore[arg-type]
    return both
