"""The hub witness against a hub turned by scipy's rotations."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from daemon.measure.angle.witness import (
    Seen,
    Witness,
    _handedness,
    hub_turned,
    socket_azimuths,
    theta_change,
)
from daemon.measure.stream.tilts import Tilt, Tilter
from shared.angles import difference_deg
from shared.job import Propeller
from shared.profile import Mounting
from tests.measure.levels import job, profile


def propeller(rotation: str, blades: int = 3) -> Propeller:
    return job(propeller={"rotation": rotation, "blades": blades}).propeller


def felt(theta: float, turned: float, rotation: str, taped: float, facing: str) -> dict[str, float]:
    """What an accelerometer taped to the hub feels: world x forward, y left, z up.

    The level's own right-handed x, y, z: z along the shaft, taped at any angle about it.
    """
    hand = 1.0 if rotation == "clockwise" else -1.0  # clockwise from behind: about +x
    nose = Rotation.from_rotvec([0, -math.radians(theta), 0])
    turn = Rotation.from_rotvec([hand * math.radians(turned), 0, 0])
    z_along = Rotation.from_rotvec([0, math.pi / 2 if facing == "forward" else -math.pi / 2, 0])
    own = Rotation.from_rotvec([0, 0, math.radians(taped)])
    level = nose * turn * z_along * own
    up = level.inv().apply(np.array([0.0, 0.0, 1.0]))
    return {"ax": float(up[0]), "ay": float(up[1]), "az": float(up[2])}


@given(
    st.floats(-14, 14),
    st.floats(-400, 400),
    st.sampled_from(["clockwise", "anticlockwise"]),
    st.floats(-180, 180),
    st.sampled_from(["forward", "aft"]),
    st.sampled_from([("+x", "+y", "+z"), ("+y", "+x", "+z"), ("-x", "+y", "+z")]),
)
def test_turn_and_tilt_are_what_was_done(
    theta: float,
    turned: float,
    rotation: str,
    taped: float,
    facing: str,
    axes: tuple[str, str, str],
) -> None:
    mounting = dict(zip(("chord", "span", "normal"), axes, strict=True))
    level = profile("vector", mounting=mounting)
    tilter = Tilter(level)
    witness = Witness(level, propeller(rotation), facing)  # type: ignore[arg-type]

    def look(by: float) -> Seen:
        tilt = tilter.tilt(felt(theta, by, rotation, taped, facing))
        assert isinstance(tilt, Tilt)
        return witness.look(tilt)

    start, end = look(0.0), look(turned)
    assert start.theta_deg == pytest.approx(theta, abs=1e-6)
    assert end.theta_deg == pytest.approx(theta, abs=1e-6)
    assert abs(difference_deg(end.turn_deg - start.turn_deg, turned)) < 1e-6
    witness.tie(start, 1)
    assert witness.horizontal(start) == 1
    # turned in its direction of rotation by a third, the next-but-one socket comes up
    assert witness.azimuths(look(240.0))[1] == pytest.approx(0.0, abs=1e-6)
    assert witness.horizontal(look(240.0)) == 2


def test_no_blade_near_the_horizontal() -> None:
    witness = Witness(profile("vector"), propeller("clockwise", 2))
    assert not witness.tied
    with pytest.raises(ValueError, match="told"):
        witness.azimuths(Seen(0.0, 0.0))
    witness.tie(Seen(10.0, 0.0), 2, 3.0)
    assert witness.tied
    assert witness.horizontal(Seen(10.0, 0.0)) == 2
    assert witness.horizontal(Seen(70.0, 0.0)) is None
    assert witness.azimuths(Seen(10.0, 0.0)) == (pytest.approx(-177.0), pytest.approx(3.0))


@pytest.mark.parametrize(
    ("turn", "blade"), [(20.0, 1), (20.01, None), (-20.0, 1), (-20.01, None), (160.0, 2)]
)
def test_a_blade_within_twenty_degrees_of_horizontal_is_the_one_being_read(
    turn: float, blade: int | None
) -> None:
    witness = Witness(profile("vector"), propeller("clockwise", 2))
    witness.tie(Seen(0.0, 0.0), 1)
    assert witness.horizontal(Seen(turn, 0.0)) == blade


def test_a_planar_witness_knows_the_turn_only() -> None:
    witness = Witness(profile(), propeller("clockwise"))
    assert witness.look(Tilt(30.0, None, None)).theta_deg is None
    assert theta_change([Seen(0.0, None)], [Seen(0.0, 1.0)]) is None


def test_sockets() -> None:
    assert socket_azimuths(propeller("clockwise", 4)) == (0.0, 90.0, 180.0, -90.0)
    uneven = job(propeller={"blades": 3, "azimuths_deg": [10.0, 100.0, 250.0]}).propeller
    assert socket_azimuths(uneven) == (0.0, 90.0, -120.0)


def test_rocking_and_turning_are_told_apart() -> None:
    then, now = [Seen(10.0, 3.0)] * 3, [Seen(10.1, 3.4)] * 3
    assert theta_change(then, now) == pytest.approx(0.4)
    assert not hub_turned(then[0], now[0], 0.05)
    assert hub_turned(then[0], Seen(12.0, 3.4), 0.05)


@pytest.mark.parametrize(("by_deg", "turned"), [(4.24, False), (4.25, True), (-4.25, True)])
def test_a_hub_was_turned_beyond_three_uncertainties_of_a_difference(
    by_deg: float, turned: bool
) -> None:
    """Of two azimuths known to 1: three times the root of two."""
    assert hub_turned(Seen(10.0, None), Seen(10.0 + by_deg, None), 1.0) == turned


def test_the_bias_is_taken_off() -> None:
    level = profile("vector")
    tilt = Tilter(level).tilt(felt(5.0, 0.0, "clockwise", 0.0, "forward"))
    assert isinstance(tilt, Tilt)
    seen = Witness(level, propeller("clockwise"), bias_deg=0.5).look(tilt)
    assert seen.theta_deg == pytest.approx(4.5)


@pytest.mark.parametrize(
    ("chord", "span", "normal", "right_handed"),
    [
        ("+x", "+y", "+z", True),
        ("-x", "+y", "+z", False),
        ("-x", "-y", "+z", True),
        ("-x", "-y", "-z", False),
        ("+y", "+x", "+z", False),
        ("+y", "-x", "+z", True),
        ("+y", "+z", "+x", True),
        ("+z", "+x", "+y", True),
        ("+z", "+y", "+x", False),
    ],
)
def test_axes_are_right_handed_where_their_cross_product_is_the_third(
    chord: str, span: str, normal: str, right_handed: bool
) -> None:
    def vector(axis: str) -> list[float]:
        return [(1.0 if axis[0] == "+" else -1.0) * (axis[1] == one) for one in "xyz"]

    third = np.cross(vector(chord), vector(span))
    assert bool(np.array_equal(third, vector(normal))) == right_handed
    mounted = profile("vector").model_copy(
        update={"mounting": Mounting(chord=chord, span=span, normal=normal)}
    )
    assert _handedness(mounted) == (1.0 if right_handed else -1.0)
