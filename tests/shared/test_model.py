"""What is wrong with a file a person wrote: where, what, and what to do."""

from typing import Annotated, Any, Literal

import pytest
from pydantic import Field, ValidationError

from shared.model import Written, first_problem


class Inner(Written):
    angle_deg: float
    spread_deg: float


class Outer(Written):
    name: str
    target: Inner


GOOD: dict[str, Any] = {"name": "n", "target": {"angle_deg": 1.0, "spread_deg": 0.2}}


def problem(**changes: Any) -> tuple[str, str, str]:
    with pytest.raises(ValidationError) as caught:
        Outer.model_validate({**GOOD, **changes})
    return first_problem(caught.value)


def test_a_misspelt_key_is_told_with_the_one_that_is_meant() -> None:
    """Of the key that is missing for it one would look in vain: it seems to be there."""
    misspelt = problem(target={"angle_deg": 1.0, "spred_deg": 0.2})
    assert misspelt == ("target.spred_deg", "no such key", "spread_deg is meant?")


def test_a_key_of_another_table_is_not_meant() -> None:
    assert problem(spred_deg=1.0) == ("spred_deg", "no such key", "check its spelling")


def test_a_missing_key_and_a_wrong_value_are_told_as_they_are() -> None:
    assert problem(target={"angle_deg": 1.0}) == ("target.spread_deg", "is missing", "")
    key, what, _ = problem(target={"angle_deg": "x", "spread_deg": 0.2})
    assert key == "target.angle_deg"
    assert what.endswith("not 'x'")


class Every(Written):
    whole: Annotated[int, Field(ge=2, le=6)] = 2
    number: Annotated[float, Field(gt=0, lt=80)] = 1.0
    text: Annotated[str, Field(min_length=1, max_length=3)] = "a"
    name: Annotated[str, Field(pattern="^[a-z]*$")] = ""
    day: Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    one: Literal["left", "right"] = "left"
    yes: bool = False
    listed: Annotated[tuple[int, ...], Field(min_length=1, max_length=2)] = (1,)
    table: Inner = Inner(angle_deg=1.0, spread_deg=1.0)
    rows: Annotated[list[Inner], Field(default_factory=list)]
    tables: Annotated[dict[str, int], Field(default_factory=dict)]


LIST = "a list of values in square brackets; of tables, [[twice]] round its name"
WRONG: list[tuple[str, Any, str, str]] = [
    ("whole", "two", "must be a whole number, not 'two'", ""),
    ("whole", 2.5, "must be a whole number, not 2.5", ""),
    ("whole", 7, "must be 6 or less, not 7", ""),
    ("whole", 1, "must be 2 or more, not 1", ""),
    ("number", "x", "must be a number, not 'x'", ""),
    ("number", [1], "must be a number", ""),
    ("number", float("nan"), "must be a finite number, not nan", ""),
    ("number", 0, "must be more than 0, not 0", ""),
    ("number", 175, "must be less than 80, not 175", ""),
    ("text", 3, "must be text in quotes, not 3", ""),
    ("text", True, "must be text in quotes, not true", ""),
    ("text", "", "must have at least 1 characters, not ''", ""),
    ("text", "abcd", "must have at most 3 characters, not 'abcd'", ""),
    ("name", "A b", "has a character that cannot be here, not 'A b'", ""),
    ("day", "31.5.", "must be a day as in 2027-05-31, not '31.5.'", ""),
    ("one", "up", "must be 'left' or 'right', not 'up'", ""),
    ("yes", "perhaps", "must be true or false, not 'perhaps'", ""),
    ("yes", [], "must be true or false", ""),
    ("rows", {"a": 1}, "must be a list", LIST),
    ("listed", [], "must have at least 1 entries", ""),
    ("listed", [1, 2, 3], "must have at most 2 entries", ""),
    ("table", 3, "must be a table, not 3", ""),
    ("tables", 3, "must be a table, not 3", ""),
]


@pytest.mark.parametrize(("key", "value", "said", "remedy"), WRONG)
def test_what_is_wrong_is_said_in_words_of_the_file(
    key: str, value: Any, said: str, remedy: str
) -> None:
    """Whoever wrote the file knows numbers, text and tables; no class, no pattern, no `True`."""
    with pytest.raises(ValidationError) as caught:
        Every.model_validate({key: value})
    assert first_problem(caught.value) == (key, said, remedy)
