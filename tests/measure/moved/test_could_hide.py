"""What could hide: against scipy's normal distribution, and by simulation."""

import math
import random

import pytest
from scipy import optimize, stats

from daemon.measure.moved.could_hide import could_hide, doubt_limit
from daemon.measure.quantiles import normal_cdf

U = 0.05


def test_the_normal_distribution() -> None:
    for z in (-4.0, -1.645, 0.0, 0.5, 2.326):
        assert normal_cdf(z) == pytest.approx(stats.norm.cdf(z), abs=1e-12)


def test_doubt_limit_is_where_one_observation_reaches_the_probability() -> None:
    v, prior = 0.00375, 0.05
    for wanted in (0.1, 0.9):
        d = doubt_limit(wanted, prior, v, 1.0)
        gone = prior * stats.norm.pdf(d, scale=math.sqrt(v + 1.0))
        still = (1 - prior) * stats.norm.pdf(d, scale=math.sqrt(v))
        assert gone / (gone + still) == pytest.approx(wanted, abs=1e-9)


def test_could_hide_is_kept_19_times_in_20() -> None:
    """The promise, simulated for one blade: place, and place again while in doubt."""
    rng = random.Random(5)
    hide = could_hide(U * U / 2, U * U, (1, 2, 3), prior=0.05, sd=1.0, low=0.1, high=0.9)
    called = 0
    for _ in range(4000):
        old, new, verdict = rng.gauss(0.0, U / math.sqrt(2)), [], ""
        while not verdict:
            new.append(hide + rng.gauss(0.0, U))
            d, v = sum(new) / len(new) - old, U * U / 2 + U * U / len(new)
            if d > doubt_limit(0.9, 0.05, v, 1.0):
                verdict = "moved"
            elif d < doubt_limit(0.1, 0.05, v, 1.0) or len(new) == 3:
                verdict = "missed"
        called += verdict == "moved"
    assert 0.95 <= called / 4000 <= 0.975


@pytest.mark.parametrize("sd", [0.3, 1.0])
@pytest.mark.parametrize("prior", [0.05, 0.3])
@pytest.mark.parametrize("looks", [(1,), (3,), (1, 2, 3), (2, 3, 4, 5)])
def test_it_is_the_move_missed_once_in_twenty(
    looks: tuple[int, ...], prior: float, sd: float
) -> None:
    """The chances of every look from scipy's normal, the root by scipy's brentq."""
    fixed, each = 0.0013, 0.0027

    def limit(look: int, wanted: float) -> float:
        u = math.sqrt(fixed + each / look)

        def off(d: float) -> float:
            gone = prior * stats.norm.pdf(d, scale=math.hypot(u, sd))
            still = (1.0 - prior) * stats.norm.pdf(d, scale=u)
            return float(gone / (gone + still) - wanted)

        return float(optimize.brentq(off, 0.0, 20.0 * u, xtol=1e-14))

    def missed(move: float) -> float:
        chances = [
            stats.norm.cdf(limit(look, 0.9 if look == looks[-1] else 0.1) - move, scale=u)
            for look, u in ((look, math.sqrt(fixed + each / look)) for look in looks)
        ]
        return float(sum(chances)) - 0.05

    found = could_hide(fixed, each, looks, prior=prior, sd=sd, low=0.1, high=0.9)
    assert found == pytest.approx(optimize.brentq(missed, 0.0, 2.0, xtol=1e-12), abs=1e-8)


def test_a_prior_over_the_limit_calls_even_no_change() -> None:
    assert doubt_limit(0.05, 0.4, 1.0, 0.1) == 0.0


def test_the_search_starts_where_no_move_is_missed() -> None:
    """One look that calls nearly everything: the move is 1.645 of its uncertainty over the limit."""
    found = could_hide(0.01, 0.0, (1,), prior=0.05, sd=1.0, low=0.1, high=0.9)
    limit = doubt_limit(0.9, 0.05, 0.01, 1.0)
    assert found == pytest.approx(limit + 0.1 * stats.norm.ppf(0.95), abs=1e-9)
