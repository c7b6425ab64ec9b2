"""Where a blade stands: means weighed by their variances, a drift that is allowed for."""

import pytest

from daemon.measure.watch.track import Drift, Place, Stand

NONE = Drift(0.0, 0.0, 0.0)


def test_a_stand_weighs_old_and_new_by_their_variances() -> None:
    merged = Stand(0.0, 1.0, 0.01).merged(Stand(1.0, 2.0, 0.03), NONE)
    assert merged.mean == pytest.approx(1.25)
    assert merged.variance == pytest.approx(0.0075)
    drifting = Drift(walk=0.1, rate=0.0, span=0.0)
    assert Stand(0.0, 1.0, 0.01).later(4.0, drifting) == pytest.approx(0.05)
    assert Drift(0.0, 0.1, 0.2).variance(100.0) == pytest.approx(0.04)


def test_a_place_without_a_witness_gets_one_later() -> None:
    drift = Drift(0.001, 0.0, 0.0)
    place = Place(Stand(0.0, 1.0, 1e-4), None)
    place = place.merged(Place(Stand(1.0, 1.0, 1e-4), Stand(1.0, 0.5, 2e-4)), drift)
    assert place.against == Stand(1.0, 0.5, 2e-4)
    kept = place.merged(Place(Stand(2.0, 1.0, 1e-4), None), drift)
    assert kept.against == place.against
