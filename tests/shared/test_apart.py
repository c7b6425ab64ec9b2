"""How far apart angles lie, against the way that tries every pair."""

import math

from hypothesis import given
from hypothesis import strategies as st

from shared.angles import apart_deg

ANYWHERE = st.floats(-180.0, 180.0, exclude_min=True)
NEAR = st.floats(-40.0, 40.0)


def way_round_deg(a_deg: float, b_deg: float) -> float:
    """Return the angle between two directions: the arc cosine of their unit vectors' product."""
    a, b = math.radians(a_deg), math.radians(b_deg)
    between = math.cos(a) * math.cos(b) + math.sin(a) * math.sin(b)
    return math.degrees(math.acos(max(-1.0, min(1.0, between))))


@given(st.one_of(st.lists(NEAR, min_size=1), st.lists(ANYWHERE, min_size=1, max_size=12)))
def test_it_is_the_largest_angle_between_any_two(angles: list[float]) -> None:
    most = max(way_round_deg(a, b) for a in angles for b in angles)
    assert math.isclose(apart_deg(angles), most, abs_tol=1e-5)


def test_angles_on_both_sides_of_half_a_turn_lie_near_one_another() -> None:
    assert apart_deg([179.0, -179.0, -178.5]) == 2.5
