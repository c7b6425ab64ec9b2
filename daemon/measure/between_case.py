"""One diagnosis in the making: from the odds to a state and a sentence for each."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from daemon.measure import between_words as words
from daemon.measure.between_facts import Change, Diagnosis, Finding
from daemon.measure.between_odds import Odds, Seen, could_hide, odds
from shared.angles import stated
from shared.events import REFERENCE, BladeId, VerdictState
from shared.job import Thresholds

K95 = 1.96
"""Coverage factor for 95 % of a normal distribution."""
_SMALLEST_U = 1e-6
"""A claimed uncertainty of nothing at all is not believed below this."""


class Case:
    """One diagnosis in the making: the data, the odds, and what follows from them."""

    def __init__(
        self,
        changes: Sequence[Change],
        *,
        thresholds: Thresholds,
        tolerance_deg: float,
        tightened: frozenset[int],
        stage: str,
        max_placements: int,
        reference_placements: int,
        play_deg: float,
        labels: Mapping[int, str],
    ) -> None:
        self.changes = changes
        self.limits = thresholds
        self.tolerance = tolerance_deg
        self.tightened = tightened
        self.stage = stage
        self.most = max_placements
        self.reference_wanted = min(reference_placements, max_placements)
        self.play = play_deg
        self.labels = labels
        self.blades = [one for one in changes if one.blade != REFERENCE]
        self.reference = next((one for one in changes if one.blade == REFERENCE), None)
        self.odds = self._weigh()
        self.shift_likely = self.odds.shifted > thresholds.moved_probability
        self.shift_open = not self.shift_likely and (
            self.odds.shifted >= thresholds.steady_probability
        )
        self.shifted = self.shift_likely and self._reference_read() >= self.reference_wanted

    def diagnosis(self) -> Diagnosis:
        """Judge each, then let the sentences of the moved name those who agree."""
        findings = tuple(self._judge(place) for place in range(len(self.changes)))
        again = self._again(findings)
        return Diagnosis(
            tuple(self._with_witnesses(one, findings) for one in findings),
            again,
            self.shifted,
            stated(self.odds.shifted),
        )

    # --- the odds -----------------------------------------------------------------------

    def _weigh(self) -> Odds:
        limits = self.limits
        return odds(
            [self._seen(one) for one in self.changes],
            prior_shift=limits.prior_shift,
            shift_sd=limits.shift_sd_deg,
            move_sd=limits.move_sd_deg,
        )

    def _seen(self, one: Change) -> Seen:
        prior = 0.0 if one.blade == REFERENCE else self._prior(one)
        return Seen(
            one.change_deg,
            self._variance(one),
            one.u_common_deg,
            prior,
            self._baseline(one),
            one.since,
        )

    def _baseline(self, one: Change) -> float | None:
        return None if one.blade == REFERENCE else one.baseline_deg

    def _prior(self, one: Change) -> float:
        turned = one.blade in self.tightened
        return self.limits.prior_tightened if turned else self.limits.prior_moved

    def _fixed(self, one: Change) -> float:
        """Variance that further placements do not reduce: the baseline's, and the play.

        A blade rests anywhere in its play, both times: the difference of two rectangular
        distributions of full width play has the variance play^2 / 6 (JCGM 100, 4.3.7).
        """
        play = 0.0 if one.blade == REFERENCE else self.play
        return one.u_old_deg**2 + play * play / 6.0

    def _variance(self, one: Change) -> float:
        return max(self._fixed(one) + one.u_new_deg**2, _SMALLEST_U**2)

    # --- the reference ------------------------------------------------------------------

    def _reference_read(self) -> int:
        return 0 if self.reference is None else self.reference.placements

    def _shift_pending(self) -> bool:
        """A shift is suspected, and reading the reference again could still tell."""
        if not (self.shift_open or self.shift_likely) or self.shifted:
            return False
        return self.reference is None or self.reference.placements < self.most

    def _judge_reference(self, one: Change) -> Finding:
        change, u = one.change_deg, math.sqrt(self._variance(one) + one.u_common_deg**2)
        if self.shifted:
            change, u = self.odds.shift, self.odds.shift_u
        size = words.change(change, K95 * u)
        hide = None
        state: VerdictState
        if self.shifted:
            spared = sum(self.odds.spared)
            state, say = "shifted", words.shifted(size, len(self.blades) - spared, spared)
        elif self._shift_pending():
            state, say = "place again", words.shift_suspected(size, self.odds.shifted)
        elif self.shift_open or self.shift_likely:
            possible = [f"a shift ({self.odds.shifted:.2f})", "moved blades remain"]
            state, say = (
                "not known",
                words.open_still("the reference", size, one.placements, possible),
            )
        else:
            limits = self.limits
            hide = self._hide(one, limits.prior_shift, limits.shift_sd_deg, 0.0)
            state, say = "steady", words.steady("the reference", size, hide, "")
        return self._finding(one, state, (change, u), self.odds.shifted, say=say, hide=hide)

    # --- the blades ---------------------------------------------------------------------

    def _judge(self, place: int) -> Finding:
        one = self.changes[place]
        if one.blade == REFERENCE:
            return self._judge_reference(one)
        partner, probability = self._partner(place)
        if partner is not None and probability > self.limits.moved_probability:
            return self._judge_exchanged(one, self.changes[partner], probability)
        if self.reference is None and (self.shift_open or self.shift_likely):
            return self._plain(one, "not known", self.odds.moved[place], words.waits)
        return self._judge_alone(one, self.odds.moved[place], probability)

    def _judge_alone(self, one: Change, moved: float, exchanged: float) -> Finding:
        """Moved, within its play, open or steady: by its own probabilities."""
        if moved > self.limits.moved_probability:
            return self._judge_moved(one, moved)
        if self._only_play(one):
            return self._judge_play(one, moved)
        if max(moved, exchanged) >= self.limits.steady_probability:
            return self._judge_open(one, max(moved, exchanged))
        return self._judge_steady(one, moved)

    def _partner(self, place: int) -> tuple[int | None, float]:
        """With whom this blade's label was most likely exchanged, and how likely any was."""
        pairs = {pair: p for pair, p in self.odds.exchanged.items() if place in pair}
        if not pairs:
            return None, 0.0
        pair = max(pairs, key=lambda key: pairs[key])
        return pair[0] + pair[1] - place, pairs[pair]

    def _own(self, one: Change) -> tuple[float, float]:
        """Return a blade's own change and its standard uncertainty; a concluded shift taken off."""
        variance = self._variance(one)
        if self.shifted and not self._spared(one):
            return one.change_deg - self.odds.shift, math.sqrt(variance + self.odds.shift_u**2)
        return one.change_deg, math.sqrt(variance + one.u_common_deg**2)

    def _size(self, one: Change) -> str:
        change, u = self._own(one)
        return words.change(change, K95 * u)

    def _spared(self, one: Change) -> bool:
        """Whether its baseline was made after the shift: it does not show it."""
        return self.odds.spared[self.changes.index(one)]

    def _allowed(self, one: Change) -> str:
        if not self.shifted:
            return ""
        if self._spared(one):
            return words.set_after(self.odds.shift)
        return f", a shift of {self.odds.shift:+.2f} of aircraft or level taken off"

    def _name(self, one: Change) -> str:
        return words.named(one.blade, self.labels)

    def _plain(
        self, one: Change, state: VerdictState, probability: float, say: Callable[[str, str], str]
    ) -> Finding:
        sentence = say(self._name(one), self._size(one))
        return self._finding(one, state, self._own(one), probability, say=sentence)

    def _judge_exchanged(self, one: Change, other: Change, probability: float) -> Finding:
        own = self._own(one)
        say = words.exchanged(self._name(one), self._name(other), own[0])
        return self._finding(one, "exchanged", own, probability, say=say)

    def _judge_moved(self, one: Change, probability: float) -> Finding:
        state: VerdictState = "turned" if one.blade in self.tightened else "moved"
        return self._finding(one, state, self._own(one), probability, say="")

    def _only_play(self, one: Change) -> bool:
        """More than noise explains, not more than noise and the play."""
        change, _ = self._own(one)
        noise = K95 * math.sqrt(one.u_old_deg**2 + one.u_new_deg**2 + one.u_common_deg**2)
        return self.play > 0.0 and noise < abs(change) <= self.play + noise

    def _judge_play(self, one: Change, probability: float) -> Finding:
        say = words.within_play(self._name(one), self._size(one), self.play)
        if self.play > self.tolerance:
            say = f"{say}; {words.SETTLE}"
        hide = self._hide(one, self._prior(one), self.limits.move_sd_deg, self._shift_variance())
        return self._finding(one, "within play", self._own(one), probability, say=say, hide=hide)

    def _judge_open(self, one: Change, probability: float) -> Finding:
        if one.placements < self.most:
            return self._plain(
                one, "place again", probability, lambda n, s: words.again(n, s, probability)
            )
        possible = self._possible(one, probability)
        return self._plain(
            one,
            "not known",
            probability,
            lambda n, s: words.open_still(n, s, one.placements, possible),
        )

    def _possible(self, one: Change, probability: float) -> list[str]:
        moved = "turned" if one.blade in self.tightened else "moved"
        possible = [f"{moved} ({probability:.2f})", f"steady ({1.0 - probability:.2f}) remain"]
        if self.shift_open and not self.shifted:
            possible.insert(1, f"shifted with everything else ({self.odds.shifted:.2f})")
        return possible

    def _judge_steady(self, one: Change, probability: float) -> Finding:
        if self.shift_likely and not self.shifted:
            return self._plain(one, "not known", probability, words.waits)
        hide = self._hide(one, self._prior(one), self.limits.move_sd_deg, self._shift_variance())
        state: VerdictState = "steady"
        say = words.steady(self._name(one), self._size(one), hide, self._allowed(one))
        if hide > self.tolerance:
            state = "not known"
            say = words.blunt(self._name(one), hide, self.tolerance, self._remedy(one))
        return self._finding(one, state, self._own(one), probability, say=say, hide=hide)

    def _remedy(self, one: Change) -> str:
        if self.play > self.tolerance:
            return words.SETTLE
        return "place it again" if one.placements < self.most else "no placement is left"

    def _shift_variance(self) -> float:
        return self.odds.shift_u**2 if self.shifted else 0.0

    def _hide(self, one: Change, prior: float, sd: float, shift_variance: float) -> float:
        looks = tuple(range(one.placements, max(self.most, one.placements) + 1))
        fixed = max(self._fixed(one) + shift_variance, _SMALLEST_U**2)
        each = one.u_new_deg**2 * one.placements
        limits = self.limits
        return could_hide(
            fixed,
            each,
            looks,
            prior=prior,
            sd=sd,
            low=limits.steady_probability,
            high=limits.moved_probability,
        )

    # --- the whole ----------------------------------------------------------------------

    def _again(self, findings: Sequence[Finding]) -> tuple[BladeId, ...]:
        """Who is placed again: those in doubt, and the reference when it or half of them are."""
        doubted = [one for one in findings if one.state == "place again" and one.blade != REFERENCE]
        wanted: list[BladeId] = [
            finding.blade
            for change, finding in zip(self.changes, findings, strict=True)
            if finding.blade != REFERENCE and self._wants_placement(change, finding)
        ]
        half = bool(doubted) and 2 * len(doubted) >= len(self.blades)
        more = self.reference is None or self.reference.placements < self.most
        if self._shift_pending() or (half and more):
            wanted.append(REFERENCE)
        return tuple(wanted)

    def _wants_placement(self, change: Change, finding: Finding) -> bool:
        if finding.state == "place again":
            return True
        blunt = finding.state == "not known" and finding.could_hide_deg is not None
        return blunt and self.play <= self.tolerance and change.placements < self.most

    def _with_witnesses(self, finding: Finding, findings: Sequence[Finding]) -> Finding:
        if finding.state not in {"moved", "turned"}:
            return finding
        others = [one for one in findings if one.blade not in {finding.blade, REFERENCE}]
        steady = [words.named(one.blade, self.labels) for one in others if one.state == "steady"]
        reference = any(one.blade == REFERENCE and one.state == "steady" for one in findings)
        agree = words.witnesses(steady, len(others), reference)
        name = words.named(finding.blade, self.labels)
        allowed = self._allowed(next(c for c in self.changes if c.blade == finding.blade))
        size = words.change(finding.change_deg, finding.u95_deg)
        if finding.state == "turned":
            say = words.turned(name, size, self.stage, agree, allowed)
        else:
            say = words.moved(name, size, agree, allowed)
        return replace(finding, say=say)

    def _finding(
        self,
        one: Change,
        state: VerdictState,
        estimate: tuple[float, float],
        probability: float,
        *,
        say: str,
        hide: float | None = None,
    ) -> Finding:
        change, u = estimate
        return Finding(
            one.blade,
            state,
            stated(change),
            stated(K95 * u),
            stated(probability),
            None if hide is None else stated(hide),
            say,
        )
