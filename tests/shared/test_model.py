"""What is wrong with a file a person wrote: where, what, and what to do."""

from typing import Any

import pytest
from pydantic import ValidationError

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
