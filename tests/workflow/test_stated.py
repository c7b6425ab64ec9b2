"""The constants of the job are those that the pages state and give reasons for."""

from daemon.core.way import BREAKS_SINCE, SLACKENS_SINCE, UNSEEN_SINCE
from daemon.workflow.agreement import DISAGREES, STANDS_ELSEWHERE, WIDENS
from daemon.workflow.aircraft import LEAST_DEG, SURE_NS
from daemon.workflow.baselines import BOLTS_TURN_SINCE, MISTAKEN_SINCE
from daemon.workflow.breaks import BREAK_S
from daemon.workflow.case import FEWER_SINCE, PROOF_SINCE
from daemon.workflow.hands_free import COUNTS_NS, LEAVES_NS, LEAVES_SINCE, LOOK_NS, TAKES_BACK_NS
from daemon.workflow.judging import (
    LEAST_GAIN,
    LEFT_SINCE,
    LOOSER,
    RARER,
    SETTLED_SINCE,
    WORSE,
)
from daemon.workflow.landing import (
    AGREES_DEG,
    FRESH_DEG,
    REFERENCE_DEG,
    REST_NS,
    ROUND_DEG,
    SET_REST_NS,
    SURELY_SINCE,
    TIGHT_REST_NS,
    TURNED_NS,
)
from daemon.workflow.rounds import CARELESS, GROSS, TILTED_SINCE, VOIDS
from daemon.workflow.scatter import MOST_KNOWN
from daemon.workflow.view import TIP_DEG
from shared.inputs import NS
from tests.stated import page, word

MEASURING, MOVED, COMMANDS, PROCEDURE = map(page, ("measuring", "moved", "commands", "procedure"))


def test_placements_that_disagree() -> None:
    for sentence, where in (
        (f"disagree with themselves by over {word(WIDENS)} of their uncertainties", MEASURING),
        (f"apart by more than {word(WIDENS)} of their uncertainties", MEASURING),
        (
            f"(by more than {word(DISAGREES)} of their uncertainties) has the round read once more",
            MOVED,
        ),
        (f"where these two are more than {STANDS_ELSEWHERE:g} uncertainties apart", MOVED),
        (f"one that was measured as {word(MOST_KNOWN)} at most", MEASURING),
    ):
        assert sentence in where, sentence
    assert "has the round read once more, twice at most" in MOVED
    assert VOIDS == 2


def test_a_round() -> None:
    for sentence in (
        f"A change of more than {word(GROSS)} uncertainties wants a second look",
        f"as long as the placements that are left can reach it, or the next lessens it by {word(LEAST_GAIN)}",
        f"brought to an azimuth {word(WORSE)} times worse than was stated",
        f"A call by such a level must besides be {word(RARER)} times as sure: over 0.99 instead of 0.9",
        "with a seating twice as bad as its placements made believe",
    ):
        assert sentence in MOVED, sentence
    assert LOOSER == 2.0
    assert f"that it is {word(WORSE)} times worse than was stated" in MEASURING
    assert "Where that is likelier than not it is said" in MEASURING
    assert CARELESS == 0.5
    assert 'the person is told "tip 1.8 low", until within 1)' in MEASURING
    assert TIP_DEG == 1.0


def test_a_witness_on_the_hub() -> None:
    lasts = f"A tilt of more than {LEAST_DEG:g} that lasts {word(SURE_NS / NS)} seconds is said"
    assert lasts in MOVED


def test_what_is_taken_without_a_press() -> None:
    for sentence in (
        f"second on a loose blade, {word(SET_REST_NS / NS)} while it is set)",
        f"a fresh placement within {FRESH_DEG:g} of the setting",
        f"a round within {ROUND_DEG:g} of what the blade is held to",
        f"the reference within {REFERENCE_DEG:g} of the one before",
        f"when a second landing agrees with it within {AGREES_DEG:g}",
        f"the level has to have been away for {TURNED_NS / NS:g} s",
        f"the last reading is not older than {TAKES_BACK_NS / NS:g} s",
        f"the next landing counts, for {word(COUNTS_NS / NS)} seconds",
        (
            f"sets again, from {LOOK_NS / NS:g} s on with the level in the hand "
            f"and {LEAVES_NS / NS:g} s after it was turned over"
        ),
    ):
        assert sentence in COMMANDS, sentence
    assert "lies still for half a second longer than a press would need (a second" in COMMANDS
    assert 2 * TIGHT_REST_NS == NS
    assert REST_NS == NS


def test_after_half_an_hour_nobody_worked() -> None:
    assert "After half an hour in which nobody laid a level down or pressed a key" in PROCEDURE
    assert BREAK_S == 0.5 * 3600.0


def test_what_came_with_which_rules() -> None:
    """docs/rules.md has a table a number: what is asked of a header stands in that of its number."""
    for since, what in (
        (SETTLED_SINCE, "a blade that bolts may have turned, in tolerance and in spread"),
        (PROOF_SINCE, '`capture = "by itself"` | from the first step on | after somebody turned'),
        (SURELY_SINCE, "a blade set under the level | taken anywhere within the tolerance"),
        (FEWER_SINCE, "the reference in a round | read in each"),
        (MISTAKEN_SINCE, "a reading behind the tilt of the shaft is withdrawn"),
        (TILTED_SINCE, "the hub witness saw the aircraft tilt, in a round or at the bolts"),
        (LEFT_SINCE, "a blade found steady after a tightening, and beyond noise of its setting"),
        (
            BOLTS_TURN_SINCE,
            "a blade turned under a level that was left on it, while a step is at the bolts",
        ),
        (LEAVES_SINCE, "an alarm answered by turning the level over"),
        (SLACKENS_SINCE, "a blade set again when bolts are tight | set at once"),
        (BREAKS_SINCE, "half an hour in which nobody did anything"),
        (UNSEEN_SINCE, "a level that lies where it was read, when its signal comes back"),
    ):
        table = page("rules").partition(f"## Rules {since} ")[2].partition("## ")[0]
        assert what in table, what
