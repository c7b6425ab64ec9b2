"""What of a hub is otherwise than it was."""

import pytest

from daemon.session.parts import otherwise
from tests.daemon.bench import job


def told(now: str, then: str) -> list[str]:
    hub, before = (job().propeller.model_copy(update={"damage": one}) for one in (now, then))
    return list(otherwise(hub, before, "2031-04-02"))


@pytest.mark.parametrize(
    ("now", "then", "said"),
    [
        ("", "nick in blade 2, dressed", True),
        ("none found", "nick in blade 2, dressed", False),
        ("none found", "", False),
        ("", "", False),
    ],
)
def test_damage_that_was_found_and_is_not_looked_for_is_told(
    now: str, then: str, said: bool
) -> None:
    """Common practice, no source: what was found last time is looked at again."""
    assert told(now, then) == (
        [f"damage looked for on 2031-04-02: {then}; the job says nothing of today"] if said else []
    )
