"""How likely is it that each blade moved, or that everything shifted: the arithmetic.

The changes d of n held blades, and of the reference where it was read again, are Normal(0, S)
with one S for each hypothesis (a common shift or not, each blade moved or not):

    S = diag(v) + g g' + [shift] tc^2 1 1' + diag([moved] tb^2, 0 for the reference)

v is the variance of what is each observation's own, g its share in an error common to all.
A shift may also have come early, while the blades were still being set one after another: then
the blades whose baselines are younger than it do not show it, and 1 has zeros in their places.

All of them once more where blades may have been brought to an azimuth worse than was stated, and
where the level may seat worse than was believed: then v is larger for every member at once.

Every hypothesis is enumerated and weighed by its prior (Bayes' theorem; the determinant and the
inverse of the low-rank terms by the matrix determinant lemma and Woodbury's identity, Golub and
Van Loan, Matrix Computations, 2.1.4, from memory). Angles in degrees. `math` only.
"""

import itertools
import math
import operator
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from daemon.measure.moved.model import ASKEW_PRIOR, UNSEATED_PRIOR, Change, Terms
from shared.events import REFERENCE

EXCHANGE_PRIOR = 0.01
"""Prior of two labels exchanged, for each pair that could be told apart (an assumption)."""
_TELLABLE = 2.0
"""A pair's baselines must differ by this many standard uncertainties to be told apart (an
assumption)."""
_NEAR = 5.0
"""A pair this many standard uncertainties off an exchange is not worth enumerating (a normal
variable is so far off once in two million)."""
_SMALLEST_U = 1e-6
"""A claimed uncertainty is not believed below the millionth to which angles are stated."""

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation: change, own variance, share in the common error, prior of a move.

    prior 0 is the reference, which cannot move by itself. baseline None: never exchanged.
    since: see `Change`. askew, unseated: what is added to the variance where the
    azimuth, or the level's seating, is much worse than was believed.
    """

    change: float
    variance: float
    common: float
    prior: float
    baseline: float | None = None
    since: int = 0
    askew: float = 0.0
    unseated: float = 0.0


@dataclass(frozen=True, slots=True)
class Odds:
    """Marginal probabilities, in the order of the observations given.

    shift, shift_u: estimate and standard uncertainty of a common shift, were there one, by the
    likeliest explanation that has one.
    spared: who, by that explanation, got its baseline only after the shift and does not show it.
    exchanged: probability of each pair (positions) that its labels were exchanged.
    askew: probability that the azimuth is worse than was stated.
    unshifted: what `moved` would be, were a shift ruled out.
    """

    moved: tuple[float, ...]
    shifted: float
    shift: float
    shift_u: float
    spared: tuple[bool, ...]
    exchanged: dict[Pair, float]
    askew: float = 0.0
    unshifted: tuple[float, ...] = ()


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

    def __add__(self, more: "_Sums") -> "_Sums":
        return _Sums(
            self.mask | more.mask,
            self.log_prior + more.log_prior,
            self.log_det + more.log_det,
            self.w + more.w,
            self.wg + more.wg,
            self.wgg + more.wgg,
            self.wd + more.wd,
            self.wgd + more.wgd,
            self.wdd + more.wdd,
        )


def _alone(mask: int, log_prior: float, variance: float, g: float, h: float, d: float) -> _Sums:
    """Return the sums of one observation: g its common share, h its shift share, d its change."""
    w = 1.0 / variance
    return _Sums(
        mask,
        log_prior,
        math.log(variance),
        w * h * h,
        w * g * h,
        w * g * g,
        w * h * d,
        w * g * d,
        w * d * d,
    )


class _Weighed(NamedTuple):
    log_weight: float
    mask: int
    shifted: bool
    pair: Pair | None
    shift: float
    shift_u: float
    youngest: int
    """Who is at least so young is spared by the shift."""
    askew: bool = False


def _hypotheses(
    seen: Sequence[Seen], changes: Sequence[float], move_sd: float, youngest: int
) -> list[_Sums]:
    """Return the sums of every subset of moved blades: 2^n of them."""
    grown = [_Sums()]
    for place, one in enumerate(seen):
        at = one.common, float(one.since < youngest), changes[place]
        still = _alone(0, math.log1p(-one.prior), one.variance, *at)
        longer = [sums + still for sums in grown]
        if one.prior > 0.0:
            wide = one.variance + move_sd * move_sd
            gone = _alone(1 << place, math.log(one.prior), wide, *at)
            longer += [sums + gone for sums in grown]
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


def odds(
    seen: Sequence[Seen],
    *,
    prior_shift: float,
    shift_sd: float,
    move_sd: float,
    prior_askew: float = ASKEW_PRIOR,
) -> Odds:
    """Weigh every hypothesis and return the marginals.

    2^(n+1) hypotheses, and 2^n more for every time at which a shift may have come early; all of
    them once with every label right, and once for each exchangeable pair. All the early times
    together are as likely as a late one (odds, which need not add up to one). Twice or three
    times as many where an azimuth or a seating worse than was believed would show.
    """
    worlds = [(prior_askew, True, [one.askew for one in seen])]
    worlds += [(UNSEATED_PRIOR, False, [one.unseated for one in seen])]
    worlds = [(prior, askew, more) for prior, askew, more in worlds if _matters(seen, more)]
    left = 1.0 - math.fsum([prior for prior, _, _ in worlds])
    weighed = [
        one._replace(log_weight=one.log_weight + math.log(prior), askew=askew)
        for prior, askew, more in [(left, False, [0.0] * len(seen)), *worlds]
        for one in _weighed(_wider(seen, more), prior_shift, shift_sd, move_sd)
    ]
    return _marginals(weighed, seen)


def _matters(seen: Sequence[Seen], more: Sequence[float]) -> bool:
    """Whether so much more doubles the variance of one."""
    return any(extra > one.variance for one, extra in zip(seen, more, strict=True))


def _wider(seen: Sequence[Seen], more: Sequence[float]) -> list[Seen]:
    return [
        replace(one, variance=one.variance + extra) for one, extra in zip(seen, more, strict=True)
    ]


def _weighed(
    seen: Sequence[Seen], prior_shift: float, shift_sd: float, move_sd: float
) -> list[_Weighed]:
    """Weigh every hypothesis, the azimuth being what `seen` has it."""
    late = max([one.since for one in seen]) + 1
    log_none, log_late = math.log1p(-prior_shift), math.log(prior_shift)
    log_early = math.log(prior_shift / max(late - 1, 1))
    pairs: list[Pair | None] = [None, *_exchangeable(seen)]
    weighed = []
    for pair in pairs:
        log_pair = math.log(EXCHANGE_PRIOR) if pair else math.log1p(-EXCHANGE_PRIOR)
        none, with_late, with_early = log_pair + log_none, log_pair + log_late, log_pair + log_early
        changes = _as_exchanged(seen, pair)
        every = _hypotheses(seen, changes, move_sd, late)
        weighed += [_weigh(sums, 0.0, none, pair, late) for sums in every]
        weighed += [_weigh(sums, shift_sd, with_late, pair, late) for sums in every]
        for youngest in range(1, late):
            weighed += [
                _weigh(sums, shift_sd, with_early, pair, youngest)
                for sums in _hypotheses(seen, changes, move_sd, youngest)
            ]
    return weighed


def _marginals(weighed: Sequence[_Weighed], seen: Sequence[Seen]) -> Odds:
    likeliest = max([one for one in weighed if one.shifted], key=operator.attrgetter("log_weight"))
    top = max([one.log_weight for one in weighed])
    share = [(math.exp(one.log_weight - top), one) for one in weighed]
    total = math.fsum([weight for weight, _ in share])
    pairs = {one.pair for one in weighed if one.pair is not None}
    unshifted = [(weight, one) for weight, one in share if not one.shifted]
    return Odds(
        moved=_moved(share, len(seen)),
        shifted=math.fsum([weight for weight, one in share if one.shifted]) / total,
        shift=likeliest.shift,
        shift_u=likeliest.shift_u,
        spared=tuple([one.since >= likeliest.youngest for one in seen]),
        exchanged={
            pair: math.fsum([weight for weight, one in share if one.pair == pair]) / total
            for pair in sorted(pairs)
        },
        askew=math.fsum([weight for weight, one in share if one.askew]) / total,
        unshifted=_moved(unshifted, len(seen)),
    )


def _moved(share: Sequence[tuple[float, _Weighed]], count: int) -> tuple[float, ...]:
    """Return how likely each moved, of these explanations alone."""
    total = math.fsum([weight for weight, _ in share]) or 1.0
    return tuple(
        math.fsum([weight for weight, one in share if one.mask & 1 << place]) / total
        for place in range(count)
    )


def weigh(changes: Sequence[Change], terms: Terms) -> Odds:
    """Return the odds of what became of these changes; at least one must be given."""
    limits = terms.thresholds
    return odds(
        [_seen(one, terms) for one in changes],
        prior_shift=limits.prior_shift,
        shift_sd=limits.shift_sd_deg,
        move_sd=limits.move_sd_deg,
        prior_askew=terms.prior_askew,
    )


def _seen(one: Change, terms: Terms) -> Seen:
    variance = own_variance(one, terms.play_deg)
    reference = one.blade == REFERENCE
    return Seen(
        one.change_deg,
        variance,
        one.u_common_deg,
        0.0 if reference else prior_moved(one, terms),
        None if reference else one.baseline_deg,
        one.since,
        one.u_askew_deg**2,
        one.u_unseated_deg**2,
    )


def prior_moved(one: Change, terms: Terms) -> float:
    """Return the prior of a blade's move: larger where tightening may have turned it."""
    limits = terms.thresholds
    return limits.prior_tightened if one.blade in terms.tightened else limits.prior_moved


def fixed_variance(one: Change, play_deg: float) -> float:
    """Return the variance that further placements do not reduce: the baseline's, and the play.

    A blade rests anywhere in its play, both times: the difference of two rectangular
    distributions of full width play has the variance play^2 / 6 (JCGM 100:2008, 4.3.7). The
    reference has no play.
    """
    play = 0.0 if one.blade == REFERENCE else play_deg
    return one.u_old_deg**2 + play * play / 6.0


def own_variance(one: Change, play_deg: float) -> float:
    """Return the variance of a change, without what is common to all."""
    return believed(fixed_variance(one, play_deg) + one.u_new_deg**2)


def believed(variance: float) -> float:
    """Return a variance, or the smallest that is believed: a level may claim none at all."""
    return max(variance, _SMALLEST_U**2)
