"""The diagnosis between readings: its properties, its cases, its odd cases."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.measure.moved.diagnose import diagnose
from daemon.measure.moved.model import Change, Diagnosis, Finding
from shared.events import REFERENCE, BladeId
from shared.job import Thresholds

U = 0.05
LIMITS = Thresholds()


def change(blade: BladeId, d: float, placements: int = 1, baseline: float | None = None) -> Change:
    u_new = U / math.sqrt(placements)
    return Change(blade, d, U / math.sqrt(2), u_new, placements, baseline_deg=baseline)


def judge(*changes: Change, tightened: frozenset[int] = frozenset(), **more: float) -> Diagnosis:
    return diagnose(
        changes,
        thresholds=LIMITS,
        tolerance_deg=more.get("tolerance", 1.0),
        tightened=tightened,
        stage="snug",
        max_placements=int(more.get("most", 3)),
        play_deg=more.get("play", 0.0),
        labels={2: "red"},
    )


def of(diagnosis: Diagnosis, blade: BladeId) -> Finding:
    return next(one for one in diagnosis.findings if one.blade == blade)


def states(diagnosis: Diagnosis) -> dict[BladeId, str]:
    return {one.blade: one.state for one in diagnosis.findings}


# --- properties ----------------------------------------------------------------------------

small = st.floats(-0.6, 0.6)


@settings(max_examples=80, deadline=None)
@given(data=st.data(), d=st.lists(small, min_size=2, max_size=5), reference=small)
def test_permuting_the_blades_permutes_the_findings(
    data: st.DataObject, d: list[float], reference: float
) -> None:
    changes = [change(k + 1, value) for k, value in enumerate(d)] + [change(REFERENCE, reference)]
    mixed = data.draw(st.permutations(changes))
    one, other = judge(*changes), judge(*mixed)
    for blade in [c.blade for c in changes]:
        a, b = of(one, blade), of(other, blade)
        assert a.probability == pytest.approx(b.probability, abs=2e-6)
        assert a.change_deg == pytest.approx(b.change_deg, abs=2e-6)
        if abs(a.probability - 0.9) > 1e-5 and abs(a.probability - 0.1) > 1e-5:
            assert a.state == b.state
    assert [f.blade for f in other.findings] == [c.blade for c in mixed]


@settings(max_examples=80, deadline=None)
@given(
    noise=st.lists(st.floats(-U, U), min_size=2, max_size=7),
    shift=st.floats(-3.0, 3.0),
    placements=st.integers(1, 3),
    tightened=st.booleans(),
)
def test_a_shift_of_everything_accuses_no_blade(
    noise: list[float], shift: float, placements: int, tightened: bool
) -> None:
    names: list[BladeId] = [*range(1, len(noise)), REFERENCE]
    found = judge(
        *(change(name, shift + e, placements) for name, e in zip(names, noise, strict=True)),
        tightened=frozenset(range(1, 7)) if tightened else frozenset(),
    )
    assert not {"moved", "turned"} & set(states(found).values())
    if placements == 3 and abs(shift) > 0.5:
        assert found.shifted


@settings(max_examples=60, deadline=None)
@given(d=st.lists(small, min_size=2, max_size=5), factor=st.sampled_from([0.01, 0.25, 4.0, 1024.0]))
def test_the_unit_does_not_matter(d: list[float], factor: float) -> None:
    names: list[BladeId] = [*range(1, len(d)), REFERENCE]

    def in_unit(size: float) -> Diagnosis:
        return diagnose(
            [
                Change(n, x * size, 0.04 * size, 0.05 * size, 1)
                for n, x in zip(names, d, strict=True)
            ],
            thresholds=Thresholds(move_sd_deg=size, shift_sd_deg=size),
            tolerance_deg=0.3 * size,
            stage="check",
        )

    one, other = in_unit(1.0), in_unit(factor)
    assert one.probability_shifted == pytest.approx(other.probability_shifted, abs=2e-6)
    for a, b in zip(one.findings, other.findings, strict=True):
        assert a.probability == pytest.approx(b.probability, abs=2e-6)
        assert a.change_deg * factor == pytest.approx(b.change_deg, abs=2e-6 * max(factor, 1.0))


@settings(max_examples=60, deadline=None)
@given(d=st.lists(small, min_size=2, max_size=5))
def test_mirrored_changes_give_mirrored_findings(d: list[float]) -> None:
    names: list[BladeId] = [*range(1, len(d)), REFERENCE]
    one = judge(*(change(n, x) for n, x in zip(names, d, strict=True)))
    other = judge(*(change(n, -x) for n, x in zip(names, d, strict=True)))
    assert states(one) == states(other)
    assert one.again == other.again


@pytest.mark.parametrize("count", [1, 2, 3, 6])
@pytest.mark.parametrize("tight", [False, True])
def test_no_change_is_steady_with_what_could_hide(count: int, tight: bool) -> None:
    names: list[BladeId] = [*range(1, count + 1), REFERENCE]
    found = judge(
        *(change(name, 0.0) for name in names),
        tightened=frozenset(range(1, count + 1)) if tight else frozenset(),
    )
    assert set(states(found).values()) == {"steady"}
    assert found.again == ()
    for one in found.findings:
        assert one.could_hide_deg is not None
        assert 3 * U < one.could_hide_deg < 7 * U
        assert f"a move under {one.could_hide_deg:.2f} could hide" in one.say


# --- cases ---------------------------------------------------------------------------------


def test_one_moved_blade_is_called_and_the_sentence_has_its_numbers() -> None:
    found = judge(change(1, 0.02), change(2, -0.42), change(3, -0.03), change(REFERENCE, 0.01))
    assert states(found) == {1: "steady", 2: "moved", 3: "steady", REFERENCE: "steady"}
    assert found.again == ()
    assert of(found, 2).say == (
        "blade 2 (red) is 0.42 ± 0.12 finer than when it was set; the others and the reference agree"
    )


def test_what_tightening_did_is_called_turned_and_names_the_step() -> None:
    found = judge(
        change(1, 0.4), change(2, 0.01), change(REFERENCE, 0.0), tightened=frozenset({1, 2})
    )
    assert of(found, 1).state == "turned"
    assert of(found, 1).say == (
        "blade 1 was turned by tightening (snug): 0.40 ± 0.12 coarser than before; "
        "blade 2 (red) and the reference agree"
    )


def test_a_blade_that_tightening_could_not_touch_is_moved_not_turned() -> None:
    found = judge(change(1, 0.4), change(2, 0.4), change(REFERENCE, 0.0), tightened=frozenset({2}))
    assert states(found)[1] == "moved"
    assert states(found)[2] == "turned"


def test_a_shift_waits_for_two_more_readings_of_the_reference() -> None:
    everyone: list[BladeId] = [1, 2, 3, REFERENCE]
    first = judge(*(change(name, 0.4) for name in everyone))
    assert not first.shifted
    assert first.again == (REFERENCE,)
    assert of(first, REFERENCE).state == "place again"
    assert of(first, 1).state == "not known"
    changes = [change(name, 0.4) for name in everyone[:3]]
    second = judge(*changes, change(REFERENCE, 0.4, 2))
    assert second.again == (REFERENCE,)
    last = judge(*changes, change(REFERENCE, 0.4, 3))
    assert last.shifted
    assert last.again == ()
    assert states(last) == {1: "steady", 2: "steady", 3: "steady", REFERENCE: "shifted"}
    assert "aircraft or level shifted" in of(last, REFERENCE).say
    assert of(last, 1).change_deg == pytest.approx(0.0, abs=0.01)


def test_a_wrong_first_reading_of_the_reference_is_found_out_by_the_next() -> None:
    changes = [change(name, 0.4) for name in (1, 2, 3)]
    assert judge(*changes, change(REFERENCE, 0.4)).again == (REFERENCE,)
    after = judge(*changes, change(REFERENCE, 0.0, 3))
    assert not after.shifted
    assert {after.findings[k].state for k in range(3)} == {"moved"}


def test_a_moved_blade_under_a_shift_is_called_by_what_is_left() -> None:
    found = judge(change(1, 0.4), change(2, 0.9), change(3, 0.41), change(REFERENCE, 0.4, 3))
    assert found.shifted
    assert states(found) == {1: "steady", 2: "moved", 3: "steady", REFERENCE: "shifted"}
    assert of(found, 2).change_deg == pytest.approx(0.5, abs=0.02)
    assert "shift of +0.40 of aircraft or level taken off" in of(found, 2).say


def aged(one: Change, since: int) -> Change:
    return replace(one, since=since)


def test_blades_set_after_a_shift_are_not_accused_of_what_they_do_not_show() -> None:
    story = [
        aged(change(1, -0.5), 1),
        aged(change(2, 0.01), 2),
        aged(change(3, -0.01), 3),
        change(REFERENCE, -0.5, 3),
    ]
    found = judge(*story)
    assert states(found) == {1: "steady", 2: "steady", 3: "steady", REFERENCE: "shifted"}
    assert "set after the shift: truly 0.50 coarser than it was read" in of(found, 2).say
    assert "2 blades were set after it" in of(found, REFERENCE).say
    assert of(found, 1).change_deg == pytest.approx(0.0, abs=0.02)
    assert of(found, 2).change_deg == pytest.approx(0.01)
    # without the order of the baselines they would have to have moved
    accused = judge(*(replace(one, since=0) for one in story))
    assert [states(accused)[blade] for blade in (2, 3)] == ["moved", "moved"]


def test_a_shift_before_any_blade_was_set_spares_them_all() -> None:
    blades = [aged(change(k, 0.0), k) for k in (1, 2, 3)]
    found = judge(*blades, change(REFERENCE, 0.5, 3))
    assert set(states(found).values()) == {"steady", "shifted"}
    assert "with it" not in of(found, REFERENCE).say
    assert "truly 0.50 finer" in of(found, 3).say


def test_a_moved_blade_is_called_whenever_the_shift_was() -> None:
    for moved in (1, 2, 3):
        blades = [
            aged(change(k, (-0.5 if k < 2 else 0.0) + (1.2 if k == moved else 0.0)), k)
            for k in (1, 2, 3)
        ]
        found = judge(*blades, change(REFERENCE, -0.5, 3))
        assert states(found)[moved] == "moved"
        assert sum(state == "moved" for state in states(found).values()) == 1
        if moved > 1:  # of the oldest nobody can tell whether the shift came before or after
            assert of(found, moved).change_deg == pytest.approx(1.2, abs=0.05)


def test_without_the_reference_no_shift_is_concluded_and_nobody_cleared_or_accused() -> None:
    """Three turned and one not: blades alone would accuse the one that was not touched."""
    found = judge(*(change(k, 0.4 if k < 4 else 0.0) for k in (1, 2, 3, 4)))
    assert found.probability_shifted > 0.1
    assert not found.shifted
    assert set(states(found).values()) == {"not known"}
    assert found.again == (REFERENCE,)
    with_it = judge(
        *(change(k, 0.4 if k < 4 else 0.0) for k in (1, 2, 3, 4)), change(REFERENCE, 0.0)
    )
    assert [one.state for one in with_it.findings[:4]] == ["moved", "moved", "moved", "steady"]


def test_one_blade_of_three_is_called_without_the_reference() -> None:
    found = judge(change(1, 0.0), change(2, 0.5), change(3, 0.02))
    assert of(found, 2).state == "moved"
    assert of(found, 2).say.endswith("; the others agree")


def test_in_doubt_is_placed_again_until_the_placements_are_used_up() -> None:
    d = {1: 1, 2: 2, 3: 3}
    for placements in d:
        u = math.hypot(U / math.sqrt(2), U / math.sqrt(placements))
        found = judge(
            change(1, 3.3 * u, placements), change(2, 0.0), change(3, 0.0), change(REFERENCE, 0.0)
        )
        if placements < 3:
            assert of(found, 1).state == "place again"
            assert found.again == (1,)
        else:
            assert of(found, 1).state == "not known"
            assert found.again == ()
            assert "after 3 placements" in of(found, 1).say
            assert "moved (" in of(found, 1).say
            assert "steady (" in of(found, 1).say


def test_half_the_blades_in_doubt_ask_for_the_reference_too() -> None:
    u = math.hypot(U / math.sqrt(2), U)
    found = judge(change(1, 3.3 * u), change(2, -3.3 * u), change(3, 0.0), change(REFERENCE, 0.0))
    assert found.again == (1, 2, REFERENCE)


def test_steady_is_not_said_where_more_than_the_tolerance_could_hide() -> None:
    changes = [change(1, 0.0), change(2, 0.0), change(REFERENCE, 0.0)]
    found = judge(*changes, tolerance=0.2)
    assert of(found, 1).state == "not known"
    assert found.again == (1, 2)
    assert "more than the tolerance of 0.20; place it again" in of(found, 1).say
    last = judge(change(1, 0.0, 3), change(2, 0.0, 3), change(REFERENCE, 0.0), tolerance=0.2)
    assert last.again == ()
    assert "no placement is left" in of(last, 1).say


def test_a_change_no_larger_than_the_play_is_within_the_play() -> None:
    changes = [change(1, 0.0), change(2, 0.3), change(REFERENCE, 0.0)]
    assert of(judge(*changes), 2).state == "moved"
    found = judge(*changes, play=0.3)
    assert of(found, 2).state == "within play"
    assert found.again == ()
    assert "settle it after the nip" not in of(found, 2).say
    tight = judge(*changes, play=0.3, tolerance=0.2)
    assert "settle it after the nip" in of(tight, 2).say
    assert tight.again == ()
    assert (
        of(judge(change(1, 0.0), change(2, 1.6), change(REFERENCE, 0.0), play=0.3), 2).state
        == "moved"
    )


def test_exchanged_labels_are_considered_before_anyone_is_accused() -> None:
    a, b = 15.0, 15.6
    found = judge(
        change(1, b - a + 0.02, baseline=a),
        change(2, a - b + 0.03, baseline=b),
        change(3, 0.0, baseline=15.1),
        change(REFERENCE, 0.0),
    )
    assert states(found) == {1: "exchanged", 2: "exchanged", 3: "steady", REFERENCE: "steady"}
    assert "blade 2 (red)" in of(found, 1).say
    assert found.again == ()


def test_opposite_moves_that_are_not_the_difference_are_moves() -> None:
    found = judge(
        change(1, 1.4, baseline=15.0),
        change(2, -1.4, baseline=15.6),
        change(3, 0.0, baseline=15.1),
        change(REFERENCE, 0.0),
    )
    assert states(found) == {1: "moved", 2: "moved", 3: "steady", REFERENCE: "steady"}


def test_alike_baselines_cannot_be_exchanged() -> None:
    found = judge(
        change(1, 0.05, baseline=15.0), change(2, -0.05, baseline=15.05), change(REFERENCE, 0.0)
    )
    assert set(states(found).values()) == {"steady"}


def test_a_common_error_does_not_accuse_but_widens_the_statement() -> None:
    everyone: list[BladeId] = [1, 2, 3, REFERENCE]
    found = judge(*(Change(n, 0.3, 0.03, 0.03, 3, u_common_deg=0.3) for n in everyone))
    assert set(states(found).values()) == {"steady"}
    assert of(found, 1).u95_deg > 0.5


@pytest.mark.parametrize(
    "bad",
    [
        [change(1, 0.0), change(1, 0.0)],
        [Change(1, math.nan, 0.1, 0.1, 1)],
        [Change(1, 0.0, -0.1, 0.1, 1)],
        [Change(1, 0.0, 0.1, math.inf, 1)],
        [Change(1, 0.0, 0.1, 0.1, 0)],
    ],
)
def test_nonsense_is_refused(bad: list[Change]) -> None:
    with pytest.raises(ValueError, match=r"blade|1:"):
        judge(*bad)


def test_nothing_in_nothing_out() -> None:
    assert judge() == Diagnosis((), (), False, 0.0)


def test_claiming_no_uncertainty_at_all_is_survived() -> None:
    found = judge(Change(1, 0.0, 0.0, 0.0, 1), Change(REFERENCE, 0.0, 0.0, 0.0, 1))
    assert set(states(found).values()) == {"steady"}
