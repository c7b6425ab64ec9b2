"""How likely is it that each blade moved, or that everything shifted: the arithmetic.

The changes d of n held blades, and of the reference where it was read again, are Normal(0, S)
with one S for each hypothesis (a common shift or not, each blade moved or not):

    S = diag(v) + g g' + [shift] tc^2 1 1' + diag([moved] tb^2, 0 for the reference)

v is the variance of what is each observation's own, g its share in an error common to all.
A shift may also have come early, while the blades were still being set one after another: then
the blades whose baselines are younger than it do not show it, and 1 has zeros in their places.

Every hypothesis is enumerated and weighed by its prior (Bayes' theorem; the determinant and the
inverse of the low-rank terms by the matrix determinant lemma and Woodbury's identity, Golub and
Van Loan, Matrix Computations, 2.1.4, from memory). Angles in degrees. `math` only.
"""

import functools
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

EXCHANGE_PRIOR = 0.01
"""Prior of two labels exchanged, for each pair that could be told apart (an assumption)."""
_TELLABLE = 3.0
"""A pair's baselines must differ by this many standard uncertainties to be told apart."""
_NEAR = 5.0
"""A pair this many standard uncertainties off an exchange is not worth enumerating."""

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation: change, own variance, share in the common error, prior of a move.

    prior 0 is the reference, which cannot move by itself. baseline None: never exchanged.
    since: 0 for what had its baseline when the reference was last known to be right; 1, 2 ...
    in the order in which the others got theirs after it.
    """

    change: float
    variance: float
    common: float
    prior: float
    baseline: float | None = None
    since: int = 0


@dataclass(frozen=True, slots=True)
class Odds:
    """Marginal probabilities, in the order of the observations given.

    shift, shift_u: estimate and standard uncertainty of a common shift, were there one.
    spared: who got its baseline only after that shift, and does not show it.
    exchanged: probability of each pair (positions) that its labels were exchanged.
    """

    moved: tuple[float, ...]
    shifted: float
    shift: float
    shift_u: float
    spared: tuple[bool, ...]
    exchanged: dict[Pair, float]


@dataclass(slots=True)
class _Sums:
    """Sums over the observations that a hypothesis' likelihood is made of."""

    mask: int = 0
    log_prior: float = 0.0
    log_det: float = 0.0
    w: float = 0.0
    wg: float = 0.0
    wgg: float = 0.0
    wd: float = 0.0
    wgd: float = 0.0
    wdd: float = 0.0

    def plus(
        self, bit: int, log_prior: float, variance: float, at: tuple[float, float, float]
    ) -> "_Sums":
        """Return these sums with one more observation: at = common share, shift share, change."""
        w, (g, h, d) = 1.0 / variance, at
        return _Sums(
            self.mask | bit,
            self.log_prior + log_prior,
            self.log_det + math.log(variance),
            self.w + w * h * h,
            self.wg + w * g * h,
            self.wgg + w * g * g,
            self.wd + w * h * d,
            self.wgd + w * g * d,
            self.wdd + w * d * d,
        )


@dataclass(frozen=True, slots=True)
class _Weighed:
    log_weight: float
    mask: int
    shifted: bool
    pair: Pair | None
    shift: float
    shift_u: float
    youngest: int
    """Who is at least so young is spared by the shift."""


def _hypotheses(
    seen: Sequence[Seen], changes: Sequence[float], tb: float, youngest: int
) -> list[_Sums]:
    """Return the sums of every subset of moved blades: 2^n of them."""
    grown = [_Sums()]
    for place, one in enumerate(seen):
        at = one.common, float(one.since < youngest), changes[place]
        still = math.log1p(-one.prior)
        longer = [sums.plus(0, still, one.variance, at) for sums in grown]
        if one.prior > 0.0:
            gone, wide = math.log(one.prior), one.variance + tb * tb
            longer += [sums.plus(1 << place, gone, wide, at) for sums in grown]
        grown = longer
    return grown


def _weigh(s: _Sums, t: float, log_prior: float, pair: Pair | None, youngest: int) -> _Weighed:
    """Log posterior weight (up to a constant) of one hypothesis, and its shift estimate.

    With U = [g, t h], h the shares in the shift, M = I + U' D^-1 U and b = U' D^-1 d:
    det S = det D det M and d' S^-1 d = d' D^-1 d - b' M^-1 b.
    """
    m11, m12, m22 = 1.0 + s.wgg, t * s.wg, 1.0 + t * t * s.w
    det = m11 * m22 - m12 * m12
    b1, b2 = s.wgd, t * s.wd
    c1, c2 = (m22 * b1 - m12 * b2) / det, (m11 * b2 - m12 * b1) / det
    misfit = s.wdd - b1 * c1 - b2 * c2
    weight = log_prior + s.log_prior - 0.5 * (s.log_det + math.log(det) + misfit)
    u = t * math.sqrt(m11 / det)
    return _Weighed(weight, s.mask, t > 0.0, pair, t * c2, u, youngest)


def _exchangeable(seen: Sequence[Seen]) -> list[Pair]:
    """Pairs whose labels, if exchanged, would explain their opposite changes."""
    found = []
    for (i, a), (j, b) in itertools.combinations(enumerate(seen), 2):
        if a.baseline is None or b.baseline is None:
            continue
        apart = b.baseline - a.baseline
        u = math.sqrt(a.variance + b.variance)
        if abs(apart) > _TELLABLE * u and abs(a.change - b.change - 2.0 * apart) < _NEAR * u:
            found.append((i, j))
    return found


def _as_exchanged(seen: Sequence[Seen], pair: Pair | None) -> list[float]:
    """Changes as they would be, had the pair's labels been exchanged back."""
    changes = [one.change for one in seen]
    if pair is not None:
        i, j = pair
        a, b = seen[i].baseline, seen[j].baseline
        assert a is not None
        assert b is not None
        changes[i] -= b - a
        changes[j] -= a - b
    return changes


def odds(seen: Sequence[Seen], *, prior_shift: float, shift_sd: float, move_sd: float) -> Odds:
    """Weigh every hypothesis and return the marginals.

    2^(n+1) hypotheses, times the exchangeable pairs plus one; and 2^n more for every time at
    which a shift may have come early. All the early times together are as likely as a late one
    (odds, which need not add up to one).
    """
    late = max(one.since for one in seen) + 1
    log_late, log_early = math.log(prior_shift), math.log(prior_shift / max(late - 1, 1))
    pairs: list[Pair | None] = [None, *_exchangeable(seen)]
    weighed = []
    for pair in pairs:
        log_pair = math.log(EXCHANGE_PRIOR) if pair else math.log1p(-EXCHANGE_PRIOR)
        changes = _as_exchanged(seen, pair)
        for sums in _hypotheses(seen, changes, move_sd, late):
            weighed += [
                _weigh(sums, 0.0, log_pair + math.log1p(-prior_shift), pair, late),
                _weigh(sums, shift_sd, log_pair + log_late, pair, late),
            ]
        for youngest in range(1, late):
            weighed += [
                _weigh(sums, shift_sd, log_pair + log_early, pair, youngest)
                for sums in _hypotheses(seen, changes, move_sd, youngest)
            ]
    return _marginals(weighed, seen)


def _marginals(weighed: Sequence[_Weighed], seen: Sequence[Seen]) -> Odds:
    top = max(one.log_weight for one in weighed)
    share = [(math.exp(one.log_weight - top), one) for one in weighed]
    total = math.fsum(weight for weight, _ in share)
    likeliest = max((one for one in weighed if one.shifted), key=lambda one: one.log_weight)
    pairs = {one.pair for one in weighed if one.pair is not None}
    return Odds(
        moved=tuple(
            math.fsum(weight for weight, one in share if one.mask >> place & 1) / total
            for place in range(len(seen))
        ),
        shifted=math.fsum(weight for weight, one in share if one.shifted) / total,
        shift=likeliest.shift,
        shift_u=likeliest.shift_u,
        spared=tuple(one.since >= likeliest.youngest for one in seen),
        exchanged={
            pair: math.fsum(weight for weight, one in share if one.pair == pair) / total
            for pair in sorted(pairs)
        },
    )


def phi(z: float) -> float:
    """Return the standard normal distribution function."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def doubt_limit(probability: float, prior: float, variance: float, sd: float) -> float:
    """Return |d| at which one observation alone reaches this posterior probability."""
    needed = math.log(probability / (1.0 - probability)) - math.log(prior / (1.0 - prior))
    squared = 2.0 * (needed + 0.5 * math.log((variance + sd * sd) / variance))
    gain = 1.0 / variance - 1.0 / (variance + sd * sd)
    return math.sqrt(max(squared, 0.0) / gain)


@functools.lru_cache(maxsize=4096)
def could_hide(
    fixed: float,
    each: float,
    looks: tuple[int, ...],
    *,
    prior: float,
    sd: float,
    low: float,
    high: float,
) -> float:
    """Return the smallest move that this way of looking would have called 19 times in 20.

    fixed: variance that more placements do not reduce; each: variance of one placement;
    looks: how many placements the mean holds at each look, the last look being the last chance.
    A move is missed when an earlier look finds it steady or the last one does not call it;
    the chances are added (Boole's inequality), so the answer errs to the safe side.
    """
    chances = []
    for look in looks:
        variance = fixed + each / look
        wanted = high if look == looks[-1] else low
        chances.append((doubt_limit(wanted, prior, variance, sd), math.sqrt(variance)))
    below, above = 0.0, max(limit + 10.0 * u for limit, u in chances)
    for _ in range(40):
        middle = 0.5 * (below + above)
        missed = math.fsum(phi((limit - middle) / u) for limit, u in chances)
        below, above = (middle, above) if missed > 0.05 else (below, middle)
    return above
