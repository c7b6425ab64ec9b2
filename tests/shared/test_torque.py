"""Units of torque and the wrench with an adapter, against what handbooks print."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.torque import LBF_IN_NM, Unit, converted, dialled


def test_units_of_nist_sp_811() -> None:
    # NIST SP 811 (2008), appendix B.8: 1 lbf in = 1.129 848 E-01 N m, 1 lbf ft = 1.355 818 E+00
    assert pytest.approx(0.1129848290276167, rel=1e-15) == LBF_IN_NM
    assert converted(1.0, "lbf.ft", "N.m") == pytest.approx(1.3558179483314004, rel=1e-15)
    # worked out by hand from those: the inputs of a converter that anyone can repeat
    assert converted(10.0, "N.m", "lbf.in") == pytest.approx(88.507457913, abs=1e-9)
    assert converted(44.0, "N.m", "lbf.in") == pytest.approx(389.432814818, abs=1e-9)
    assert converted(60.0, "N.m", "lbf.in") == pytest.approx(531.044747480, abs=1e-9)
    assert converted(60.0, "N.m", "lbf.ft") == pytest.approx(44.253728957, abs=1e-9)


def test_a_torque_in_use() -> None:
    # common practice, no source
    assert converted(25.0, "N.m", "lbf.in") == pytest.approx(221.268644783, abs=1e-9)


@given(st.floats(1e-3, 1e6), st.sampled_from(["N.m", "lbf.in", "lbf.ft"]))
def test_there_and_back(value: float, unit: Unit) -> None:
    for other in ("N.m", "lbf.in", "lbf.ft"):
        there = converted(value, unit, other)
        assert converted(there, other, unit) == pytest.approx(value, rel=1e-14)


def test_the_adapter_of_the_manuals() -> None:
    # US Army TM 1-1500-204-23-9: 300 lbf in, 10 in wrench, 4 in adapter: dial 214
    assert dialled(300.0, 10.0, 4.0) == pytest.approx(214.285714, abs=1e-6)
    # the same formula, pointing back and at an angle (worked out by hand)
    assert dialled(300.0, 10.0, -4.0) == pytest.approx(500.0)
    assert dialled(300.0, 10.0, 4.0, 180.0) == pytest.approx(500.0)
    assert dialled(300.0, 10.0, 4.0, 45.0) == pytest.approx(233.855637, abs=1e-6)
    # FAA AC 43.13-1B, figure 7-2 (from memory)
    assert dialled(135.0, 10.0, 1.5) == pytest.approx(117.391304, abs=1e-6)
    assert dialled(135.0, 10.0, -1.5) == pytest.approx(158.823529, abs=1e-6)


@given(st.floats(0.1, 1e3), st.floats(1.0, 1e3), st.floats(0.0, 1e3))
def test_square_to_the_wrench_changes_nothing(torque: float, length: float, adapter: float) -> None:
    assert dialled(torque, length, adapter, 90.0) == pytest.approx(torque, rel=1e-15)
    assert dialled(torque, length, adapter, 270.0) == pytest.approx(torque, rel=1e-15)


@pytest.mark.parametrize("adapter", [-10.0, -11.0])
def test_an_adapter_that_ends_at_the_grip(adapter: float) -> None:
    with pytest.raises(ValueError, match="grip"):
        dialled(100.0, 10.0, adapter)
