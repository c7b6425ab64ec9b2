"""The decision table held row by row, and where each mark begins."""

import math
from collections.abc import Mapping
from dataclasses import replace

import pytest

from daemon.measure.moved import decide as deciding
from daemon.measure.moved.could_hide import could_hide
from daemon.measure.moved.decide import BLADE, SHAFT, Evidence, Mark, decide, marks, row_for
from daemon.measure.moved.model import Change, Decided, Decision, ShiftStage, Terms
from daemon.measure.moved.odds import Odds, Pair
from shared.events import REFERENCE, BladeId
from shared.job import Thresholds

HIGH, LOW = 0.9, 0.1
TERMS = Terms(Thresholds(), 0.3, 0.3, frozenset(), 3, 3, 0.0)
WIDE = replace(TERMS, tolerance_deg=9.0, find_deg=9.0)

# --- the table ----------------------------------------------------------------------------

Held = tuple[Mark, ...]
# what holds (beside what decides: something that a later row would want), and what follows
BLADES: list[tuple[Held, Held, tuple[str, str, str, bool, bool]]] = [
    (
        ("labels exchanged",),
        ("no reference", "shift possible", "moved", "tightened", "in doubt"),
        ("exchanged", "labels exchanged", "exchanged", False, False),
    ),
    (
        ("no reference", "shift possible"),
        ("moved", "tightened", "within play", "in doubt", "placements left"),
        ("not known", "reference first", "moved", False, False),
    ),
    (
        ("moved", "tightened"),
        ("shift possible", "within play", "wide play", "in doubt", "placements left"),
        ("turned", "moved", "moved", False, False),
    ),
    (
        ("moved",),
        ("no reference", "within play", "wide play", "in doubt", "placements left", "blunt"),
        ("moved", "moved", "moved", False, False),
    ),
    (
        ("within play", "wide play"),
        ("tightened", "in doubt", "placements left", "shift likely", "blunt"),
        ("within play", "within wide play", "moved", True, False),
    ),
    (
        ("within play",),
        ("tightened", "in doubt", "placements left", "shift possible", "shift likely", "blunt"),
        ("within play", "within play", "moved", True, False),
    ),
    (
        ("but for a shift",),
        ("tightened", "wide play", "in doubt", "placements left", "shift likely", "blunt"),
        ("not known", "reference first", "moved", False, False),
    ),
    (
        ("in doubt", "placements left"),
        ("tightened", "wide play", "shift possible", "shift likely", "blunt"),
        ("place again", "in doubt", "larger", False, True),
    ),
    (
        ("in doubt",),
        ("tightened", "wide play", "shift possible", "shift likely", "blunt"),
        ("not known", "in doubt to the end", "larger", False, False),
    ),
    (
        ("shift likely",),
        ("tightened", "wide play", "shift possible", "placements left", "blunt"),
        ("not known", "reference first", "moved", False, False),
    ),
    (
        ("blunt", "wide play"),
        ("tightened", "shift possible", "shift concluded", "placements left"),
        ("not known", "blunt within play", "moved", True, False),
    ),
    (
        ("worth another", "placements left"),
        ("tightened", "shift possible", "shift concluded", "blunt"),
        ("not known", "blunt", "moved", True, True),
    ),
    (
        ("blunt", "placements left"),
        ("tightened", "shift possible", "shift concluded"),
        ("not known", "blunt for good", "moved", True, False),
    ),
    (
        ("blunt",),
        ("tightened", "no reference", "shift concluded"),
        ("not known", "blunt to the end", "moved", True, False),
    ),
    (
        (),
        ("tightened", "no reference", "shift concluded", "wide play", "placements left"),
        ("steady", "steady", "moved", True, False),
    ),
]
REFERENCES: list[tuple[Held, Held, tuple[str, str, str, bool, bool]]] = [
    (
        ("shift concluded",),
        ("placements left", "blunt", "wide play"),
        ("shifted", "shift concluded", "shift", False, False),
    ),
    (
        ("shift possible", "placements left"),
        ("shift likely", "blunt", "wide play"),
        ("place again", "shift in doubt", "shift", False, False),
    ),
    (
        ("shift possible",),
        ("shift likely", "blunt", "wide play"),
        ("not known", "shift in doubt to the end", "shift", False, False),
    ),
    (
        (),
        ("placements left", "blunt", "wide play", "tightened"),
        ("steady", "steady", "shift", True, False),
    ),
]


@pytest.mark.parametrize(("table", "rows"), [(BLADE, BLADES), (SHAFT, REFERENCES)])
def test_every_row_of_the_table(
    table: tuple[deciding.Row, ...],
    rows: list[tuple[Held, Held, tuple[str, str, str, bool, bool]]],
) -> None:
    """Alone, and with everything that a later row would want: the first row that fits decides."""
    assert len(table) == len(rows)
    for here, (needs, beside, follows) in zip(table, rows, strict=True):
        for held in (frozenset(needs), frozenset(needs + beside)):
            row = row_for(table, held)
            assert row is here
            assert (row.state, row.reason, row.told, row.hides, row.again) == follows
        for lacking in needs:
            assert row_for(table, frozenset(needs + beside) - {lacking}) is not here


# --- the marks ----------------------------------------------------------------------------

NOTHING = Evidence(
    moved=0.0,
    unshifted=0.0,
    exchanged=0.0,
    change_deg=0.0,
    noise_deg=0.1,
    placements=3,
    tightened=False,
    settled=False,
    shift="none",
    referred=1,
)
LOOSE = replace(TERMS, play_deg=0.25)
CLEAR: dict[str, object] = {"unshifted": 1.0}
"""What would be called without a doubt, were a shift ruled out."""


def test_nothing_holds_of_a_quiet_member() -> None:
    assert marks(NOTHING, TERMS) == frozenset()


@pytest.mark.parametrize(
    ("mark", "terms", "just", "not_yet"),
    [
        ("labels exchanged", TERMS, {"exchanged": 0.900001}, {"exchanged": HIGH}),
        ("no reference", TERMS, {"referred": 0}, {"referred": 1}),
        ("shift possible", TERMS, {"shift": "possible"}, {"shift": "none"}),
        ("shift possible", TERMS, {"shift": "likely"}, {"shift": "concluded"}),
        ("shift likely", TERMS, {"shift": "likely"}, {"shift": "possible"}),
        ("shift concluded", TERMS, {"shift": "concluded"}, {"shift": "likely"}),
        ("moved", TERMS, {"moved": 0.900001}, {"moved": HIGH}),
        ("but for a shift", TERMS, {"unshifted": 0.900001}, {"unshifted": HIGH}),
        ("but for a shift", TERMS, CLEAR | {"moved": HIGH}, CLEAR | {"moved": 0.900001}),
        ("but for a shift", TERMS, CLEAR | {"referred": 2}, CLEAR | {"referred": 3}),
        ("but for a shift", TERMS, CLEAR | {"settled": False}, CLEAR | {"settled": True}),
        ("tightened", TERMS, {"tightened": True}, {"tightened": False}),
        ("in doubt", TERMS, {"moved": LOW}, {"moved": 0.099999}),
        ("in doubt", TERMS, {"exchanged": LOW}, {"exchanged": 0.099999}),
        ("placements left", TERMS, {"placements": 2}, {"placements": 3}),
        ("within play", LOOSE, {"change_deg": 0.100001}, {"change_deg": 0.1}),
        ("within play", LOOSE, {"change_deg": -0.35}, {"change_deg": -0.350001}),
        ("within play", LOOSE, {"change_deg": 0.35}, {"change_deg": 0.350001}),
    ],
)
def test_where_a_mark_begins(
    mark: Mark, terms: Terms, just: Mapping[str, object], not_yet: Mapping[str, object]
) -> None:
    assert mark in marks(NOTHING._replace(**just), terms)  # type: ignore[arg-type]
    assert mark not in marks(NOTHING._replace(**not_yet), terms)  # type: ignore[arg-type]


def test_without_play_nothing_is_within_it() -> None:
    seen = NOTHING._replace(change_deg=0.1, noise_deg=0.0999)
    assert marks(seen, replace(TERMS, play_deg=0.1)) == {"within play"}
    assert marks(seen._replace(noise_deg=0.1, change_deg=0.05), TERMS) == frozenset()
    exact = NOTHING._replace(noise_deg=-0.1, change_deg=0.0)
    assert marks(exact, TERMS) == frozenset()


def test_play_is_wide_where_it_is_wider_than_the_tolerance() -> None:
    assert "wide play" not in marks(NOTHING, replace(TERMS, play_deg=0.3))
    assert "wide play" in marks(NOTHING, replace(TERMS, play_deg=0.300001))


# --- the whole ----------------------------------------------------------------------------


def change(blade: BladeId, d: float = 0.0, placements: int = 1) -> Change:
    return Change(blade, d, 0.03, 0.04, placements, 0.12)


def chances(
    *moved: float,
    shifted: float = 0.0,
    shift: float = 0.4,
    spared: tuple[bool, ...] = (),
    exchanged: dict[Pair, float] | None = None,
    unshifted: tuple[float, ...] = (),
) -> Odds:
    spare = spared or (False,) * len(moved)
    return Odds(moved, shifted, shift, 0.05, spare, exchanged or {}, 0.0, unshifted or moved)


def decided(changes: list[Change], odds: Odds, terms: Terms = WIDE) -> Decided:
    return decide(changes, odds, terms)


def of(found: Decided, blade: BladeId) -> Decision:
    return next(one for one in found.decisions if one.blade == blade)


@pytest.mark.parametrize(
    ("probability", "read", "stage"),
    [
        (0.099999, 3, "none"),
        (LOW, 3, "possible"),
        (HIGH, 3, "possible"),
        (0.900001, 2, "likely"),
        (0.900001, 3, "concluded"),
        (0.900001, 4, "concluded"),
    ],
)
def test_how_far_a_shift_is_established(probability: float, read: int, stage: ShiftStage) -> None:
    found = decided(
        [change(1), change(REFERENCE, 0.4, read)], chances(0.0, 0.0, shifted=probability)
    )
    assert found.shift.stage == stage
    assert found.shift.probability == probability


def test_a_call_that_only_a_shift_stands_against_waits_for_the_reference() -> None:
    """It is no use to place the blade again: it is the reference that rules the shift out."""
    changes, odds = [change(1, 1.5), change(2)], chances(0.89, 0.0, unshifted=(0.95, 0.0))
    found = decided(changes, odds)
    assert (of(found, 1).state, of(found, 1).reason) == ("not known", "reference first")
    assert found.again == (REFERENCE,)
    read = decided(
        [*changes, change(REFERENCE, 0.0, 3)], chances(0.89, 0.0, 0.0, unshifted=(0.95, 0.0, 0.0))
    )
    assert of(read, 1).reason == "in doubt"
    assert read.again == (1,)


def test_the_reference_need_not_be_read_more_often_than_anything_may_be() -> None:
    changes, odds = [change(1), change(REFERENCE, 0.4, 2)], chances(0.0, 0.0, shifted=0.95)
    assert decided(changes, odds, replace(TERMS, max_placements=2)).shift.stage == "concluded"
    assert decided(changes, odds, replace(TERMS, max_placements=3)).shift.stage == "likely"
    often = replace(TERMS, reference_placements=2)
    assert decided(changes, odds, often).shift.stage == "concluded"


def test_a_concluded_shift_is_the_references_and_is_taken_off_the_blades_that_show_it() -> None:
    changes = [change(1, 0.5), change(2, 0.1), change(REFERENCE, 0.41, 3)]
    odds = chances(0.0, 0.0, 0.0, shifted=0.95, spared=(False, True, False))
    found = decided(changes, odds)
    v = 0.03**2 + 0.04**2
    one, two, reference = found.decisions
    assert one.change_deg == pytest.approx(0.1)
    assert one.u95_deg == pytest.approx(1.96 * math.sqrt(v + 0.05**2))
    assert (two.change_deg, two.spared, one.spared) == (0.1, True, False)
    assert two.u95_deg == pytest.approx(1.96 * math.sqrt(v + 0.12**2))
    assert (reference.change_deg, reference.state) == (0.4, "shifted")
    assert reference.u95_deg == pytest.approx(1.96 * 0.05)


def test_nothing_is_taken_off_before_the_shift_is_concluded() -> None:
    changes = [change(1, 0.5), change(REFERENCE, 0.41, 2)]
    found = decided(changes, chances(0.0, 0.0, shifted=0.95, spared=(True, False)))
    assert [one.change_deg for one in found.decisions] == [0.5, 0.41]
    assert not any(one.spared for one in found.decisions)
    for one in found.decisions:
        assert one.u95_deg == pytest.approx(1.96 * 0.13)  # 0.03, 0.04 and 0.12 in quadrature


def test_a_reference_that_claims_a_younger_baseline_is_still_the_shift() -> None:
    found = decided(
        [change(1, 0.5), change(REFERENCE, 0.41, 3)],
        chances(0.0, 0.0, shifted=0.95, spared=(False, True)),
    )
    assert of(found, REFERENCE).change_deg == 0.4


def test_the_likeliest_exchange_names_the_partner() -> None:
    changes = [change(1), change(2), change(3), change(REFERENCE)]
    odds = chances(0.0, 0.0, 0.0, 0.0, exchanged={(0, 1): 0.03, (1, 2): 0.95})
    found = decided(changes, odds)
    assert [one.partner for one in found.decisions] == [2, 3, 2, None]
    assert [one.state for one in found.decisions] == ["steady", "exchanged", "exchanged", "steady"]
    assert [one.probability for one in found.decisions] == [0.0, 0.95, 0.95, 0.0]


def test_in_doubt_the_larger_probability_is_told() -> None:
    changes = [change(1), change(2), change(REFERENCE)]
    found = decided(changes, chances(0.2, 0.5, 0.0, exchanged={(0, 1): 0.4}))
    assert [one.probability for one in found.decisions[:2]] == [0.4, 0.5]


def test_play_is_held_against_the_noise_of_both_means_and_what_is_common() -> None:
    """1.96 times the root of the squares of 0.03, 0.04 and 0.12 is 0.2548."""
    loose = replace(WIDE, play_deg=0.1)
    for d, state in ((0.254, "steady"), (0.256, "within play"), (0.3545, "within play")):
        found = decided([change(1, -d), change(REFERENCE)], chances(0.0, 0.0), loose)
        assert of(found, 1).state == state
    found = decided([change(1, 0.3552), change(REFERENCE)], chances(0.0, 0.0), loose)
    assert of(found, 1).state == "steady"


def test_what_could_hide_counts_play_shift_and_the_looks_that_are_left() -> None:
    limits = Thresholds(
        moved_probability=0.8,
        steady_probability=0.2,
        prior_shift=0.02,
        prior_moved=0.06,
        prior_tightened=0.2,
        move_sd_deg=0.7,
        shift_sd_deg=1.4,
    )
    terms = Terms(limits, 9.0, 9.0, frozenset({2}), 4, 3, 0.12)
    changes = [change(1, 0.0, 2), change(2, 0.0, 5), change(REFERENCE, 0.0, 3)]

    def wanted(fixed: float, looks: tuple[int, ...], prior: float, sd: float) -> float:
        each = 0.04**2 * looks[0]
        return could_hide(fixed, each, looks, prior=prior, sd=sd, low=0.2, high=0.8)

    fixed = 0.0009 + 0.0144 / 6
    found = decided(changes, chances(0.0, 0.0, 0.0), terms)
    assert of(found, 1).could_hide_deg == pytest.approx(wanted(fixed, (2, 3, 4), 0.06, 0.7))
    assert of(found, 2).could_hide_deg == pytest.approx(wanted(fixed, (5,), 0.2, 0.7))
    assert of(found, REFERENCE).could_hide_deg == pytest.approx(wanted(9e-4, (3, 4), 0.02, 1.4))
    shifted = decided(changes, chances(0.0, 0.0, 0.0, shifted=0.95, shift=0.0), terms)
    wider = wanted(fixed + 0.05**2, (2, 3, 4), 0.06, 0.7)
    assert of(shifted, 1).could_hide_deg == pytest.approx(wider)
    assert of(shifted, REFERENCE).could_hide_deg is None


def test_a_blade_is_blunt_where_more_than_the_tolerance_could_hide() -> None:
    changes, odds = [change(1), change(REFERENCE)], chances(0.0, 0.0)
    hide = of(decided(changes, odds), 1).could_hide_deg
    assert hide is not None
    just = decided(changes, odds, replace(TERMS, tolerance_deg=hide))
    assert [one.reason for one in just.decisions] == ["steady", "steady"]
    under = math.nextafter(hide, 0.0)
    less = decided(changes, odds, replace(TERMS, tolerance_deg=under, find_deg=under))
    assert [one.reason for one in less.decisions] == ["blunt", "steady"]
    assert of(less, 1).could_hide_deg == hide


def test_a_placement_is_asked_for_until_nothing_worth_finding_could_hide() -> None:
    changes, odds = [change(1), change(REFERENCE)], chances(0.0, 0.0)
    hide = of(decided(changes, odds), 1).could_hide_deg
    assert hide is not None
    keen = decided(changes, odds, replace(TERMS, find_deg=hide / 2))
    assert (of(keen, 1).reason, of(keen, 1).again) == ("blunt", True)
    easy = replace(TERMS, tolerance_deg=hide / 2, find_deg=2 * hide)
    assert (of(decided(changes, odds, easy), 1).reason) == "blunt for good"


@pytest.mark.parametrize(("gain", "again"), [(-1e-9, True), (1e-9, False)])
def test_none_is_asked_for_that_gains_less_than_is_worth_it(gain: float, again: bool) -> None:
    changes, odds = [change(1), change(REFERENCE)], chances(0.0, 0.0)
    now = of(decided(changes, odds), 1).could_hide_deg
    each = changes[0].u_new_deg ** 2 * changes[0].placements
    more = replace(changes[0], placements=2, u_new_deg=math.sqrt(each / 2))
    then = of(decided([more, changes[1]], odds), 1).could_hide_deg
    assert now is not None
    assert then is not None
    terms = replace(TERMS, tolerance_deg=0.01, find_deg=0.01, least_gain=1.0 - then / now + gain)
    assert of(decided(changes, odds, terms), 1).again == again


def test_no_uncertainty_at_all_hides_next_to_nothing() -> None:
    sure = [Change(1, 0.0, 0.0, 0.0, 1), Change(REFERENCE, 0.0, 0.0, 0.0, 1)]
    found = decided(sure, chances(0.0, 0.0))
    assert all(0.0 < (one.could_hide_deg or 0.0) < 2e-5 for one in found.decisions)
    assert of(found, 1).u95_deg == pytest.approx(1.96e-6)


# --- who is placed again ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shifted", "read", "again"),
    [
        (0.05, 1, ()),
        (0.5, 2, (REFERENCE,)),
        (0.95, 2, (REFERENCE,)),
        (0.5, 3, ()),  # possible to the end
        (0.95, 3, ()),  # concluded
    ],
)
def test_the_reference_is_placed_again_for_a_shift_that_is_not_concluded(
    shifted: float, read: int, again: tuple[BladeId, ...]
) -> None:
    changes = [change(1, 0.4), change(REFERENCE, 0.4, read)]
    assert decided(changes, chances(0.0, 0.0, shifted=shifted)).again == again


def test_without_a_reference_it_is_asked_for() -> None:
    assert decided([change(1, 0.4, 3)], chances(0.0, shifted=0.5)).again == (REFERENCE,)
    assert decided([change(1, 0.4, 3)], chances(0.0, shifted=0.05)).again == ()


@pytest.mark.parametrize(
    ("moved", "again"),
    [
        ((0.5, 0.5, 0.0, 0.0), (1, 2, REFERENCE)),
        ((0.5, 0.0, 0.0, 0.0), (1,)),
        ((0.0, 0.0, 0.0, 0.0), ()),
        ((0.5, 0.95, 0.0), (1,)),
        ((0.5, 0.95), (1, REFERENCE)),
        ((0.95, 0.95), ()),
    ],
)
def test_half_the_blades_in_doubt_ask_for_the_reference(
    moved: tuple[float, ...], again: tuple[BladeId, ...]
) -> None:
    blades = [change(k + 1) for k in range(len(moved))]
    assert decided([*blades, change(REFERENCE)], chances(*moved, 0.0)).again == again
    used_up = decided([*blades, change(REFERENCE, 0.0, 3)], chances(*moved, 0.0)).again
    assert used_up == tuple(blade for blade in again if blade != REFERENCE)
    assert decided(blades, chances(*moved)).again == again


def test_a_round_of_the_reference_alone_asks_for_nothing() -> None:
    assert decided([change(REFERENCE)], chances(0.0)).again == ()


def test_blades_of_which_too_much_could_hide_are_placed_again_but_not_counted_as_doubted() -> None:
    sharp = replace(TERMS, tolerance_deg=0.1, find_deg=0.1)
    found = decided(
        [change(1), change(2, 0.0, 3), change(REFERENCE)], chances(0.0, 0.0, 0.0), sharp
    )
    assert found.again == (1,)
    assert [one.reason for one in found.decisions] == ["blunt", "blunt to the end", "steady"]
