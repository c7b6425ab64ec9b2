"""What a blade and a change are called."""

import pytest

from shared import wording
from shared.events import REFERENCE, BladeId


@pytest.mark.parametrize(
    ("blade", "label", "name"),
    [
        (2, "red", "blade 2 (red)"),
        (2, "2", "blade 2"),
        (2, "", "blade 2"),
        (2, "3", "blade 2 (3)"),
        (REFERENCE, "", "the reference"),
        (None, "", "unassigned"),
    ],
)
def test_a_blade_is_called_by_its_number_and_its_mark(
    blade: BladeId | None, label: str, name: str
) -> None:
    assert wording.blade_name(blade, label) == name


@pytest.mark.parametrize(
    ("blade", "name"), [(2, "blade 2"), (REFERENCE, "reference"), (None, "unassigned")]
)
def test_a_log_names_a_blade_barely(blade: BladeId | None, name: str) -> None:
    assert wording.bare_name(blade) == name


def test_the_mark_follows_as_the_sentence_wants_it() -> None:
    assert wording.blade_name(2, "{red}", ", {}") == "blade 2, {red}"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (0.424, "0.42 ± 0.10 coarser"),
        (-0.424, "0.42 ± 0.10 finer"),
        (0.0, "0.00 ± 0.10 finer"),
        (0.9, "0.90 ± 0.10 coarser"),
    ],
)
def test_a_change_is_its_size_then_its_side(change: float, words: str) -> None:
    assert wording.change(change, 0.1) == words


def test_names_are_joined_as_people_do() -> None:
    assert wording.together(["a"]) == "a"
    assert wording.together(["a", "b"]) == "a and b"
    assert wording.together(["a", "b", "c", "d"]) == "a, b, c and d"
