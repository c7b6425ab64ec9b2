"""The witness on the hub: when it stands, which blade it sees, and how surely."""

import math

import pytest

from daemon.measure.stream.tilts import Tilt
from daemon.workflow.hub import Hub
from shared.angles import difference_deg
from tests.daemon.bench import LEVEL, header
from tests.workflow.jobs import HUB

PSI_U_DEG = 2.0


def hub() -> Hub:
    return Hub(header(level=[LEVEL, HUB], setup={"psi_u_deg": PSI_U_DEG}))


def push(hub: Hub, *turned_deg: float, theta_deg: float = 3.0) -> None:
    """Looks at a hub turned so far from where blade 1 stands horizontal."""
    for turn in turned_deg:
        up, psi = math.radians(theta_deg), math.radians(turn)
        gravity = (
            math.cos(up) * math.cos(psi),
            -math.cos(up) * math.sin(psi),
            math.sin(up),
        )
        hub.push(Tilt(0.0, None, gravity), 0)


def test_five_looks_show_that_it_stands_and_four_do_not() -> None:
    one = hub()
    push(one, *[0.0] * 4)
    assert one.theta_deg() is None
    push(one, 0.0)
    assert one.theta_deg() == pytest.approx(3.0)
    push(one, 0.0, theta_deg=3.4)
    assert one.theta_deg() == pytest.approx(3.4), "as it is now"


@pytest.mark.parametrize(("spread", "stands"), [(0.49, True), (0.51, False)])
def test_it_stands_where_its_looks_spread_by_half_a_degree_at_most(
    spread: float, stands: bool
) -> None:
    one = hub()
    push(one, 10.0, 10.0 + spread, *[10.0] * 4)
    assert (one.theta_deg() is not None) is stands


def test_turned_half_round_the_other_blade_is_horizontal_and_between_none_is() -> None:
    one = hub()
    push(one, *[0.0] * 10)
    assert one.horizontal() is None, "nobody said which blade is where"
    one.tie(1)
    assert one.horizontal() == 1
    push(one, *[180.0] * 10)
    assert one.horizontal() == 2
    push(one, *[90.0] * 10)
    assert one.horizontal() is None


def test_where_it_stands_is_the_mean_of_its_looks() -> None:
    one = hub()
    push(one, *[0.0] * 10)
    one.tie(1)
    push(one, *[4.0, 4.4] * 5)
    seen = one.azimuth(1)
    assert seen is not None
    assert abs(seen[0]) == pytest.approx(4.2)
    push(one, *[184.0, 184.4] * 5)
    other = one.azimuth(2)
    assert other is not None
    assert other[0] == pytest.approx(seen[0])


def test_every_reading_of_another_place_makes_the_azimuth_surer() -> None:
    """The stated two degrees by the root of their number, and a tenth of the witness's own."""
    one = hub()
    push(one, *[0.0] * 10)
    one.tie(1)
    assert one.azimuth(1) == pytest.approx((0.0, math.hypot(PSI_U_DEG, 0.1)))
    one.tie(1)
    seen = one.azimuth(1)
    assert seen is not None
    assert seen[1] == pytest.approx(math.hypot(PSI_U_DEG, 0.1)), "it was not turned in between"
    push(one, *[0.4] * 10)
    one.tie(1)
    push(one, *[0.95] * 10)
    one.tie(1)
    seen = one.azimuth(1)
    assert seen is not None
    assert seen[1] == pytest.approx(math.hypot(PSI_U_DEG / math.sqrt(2.0), 0.1))


def test_ties_are_averaged() -> None:
    """Blades read at 0 and at 3 off their place: what is said to be horizontal lies between."""
    one = hub()
    push(one, *[0.0] * 10)
    one.tie(1)
    push(one, *[183.0] * 10)
    one.tie(2)
    seen = one.azimuth(2)
    assert seen is not None
    assert abs(seen[0]) == pytest.approx(1.5)
    push(one, *[0.0] * 10)
    back = one.azimuth(1)
    assert back is not None
    assert difference_deg(back[0], seen[0]) == pytest.approx(-2.0 * seen[0])


def test_silent_it_knows_nothing_until_it_was_looked_at_again() -> None:
    one = hub()
    push(one, *[0.0] * 10)
    one.tie(1)
    one.lost()
    assert (one.theta_deg(), one.horizontal(), one.azimuth(1)) == (None, None, None)
    push(one, *[180.0] * 5)
    assert one.horizontal() == 2


def test_tilts_that_it_saw_add_up_until_they_are_answered() -> None:
    one = hub()
    one.see_tilt(0.4, 3.0)
    one.see_tilt(0.3, 9.0)
    seen = one.tilted
    assert seen is not None
    assert seen.by_deg == pytest.approx(0.7)
    assert seen.before_deg == 3.0
    assert one.answered() == seen
    assert one.tilted is None


def test_without_a_witness_it_knows_nothing() -> None:
    none = Hub(header(level=[LEVEL]))
    push(none, *[0.0] * 10)
    none.tie(1)
    assert (none.level, none.theta_deg(), none.horizontal(), none.azimuth(1)) == (None,) * 4
