"""Learning a level's format from its bytes and the motions a person made with it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.learn.asked import Candidate, Heard, Mark, Outcome, asking
from drivers.learn.binary_frames import BinaryForm, binary_frames, notifications
from drivers.learn.explained import Explanation, explanations, vector
from drivers.learn.frame_kinds import kinds_by_length, kinds_of
from drivers.learn.frames import CHECKED, FEWEST, Frames
from drivers.learn.held import held, sends_on_change
from drivers.learn.json_frames import json_frames
from drivers.learn.missing import looks_like
from drivers.learn.motions import Windows, following
from drivers.learn.proof import begun_anywhere, halves, proved
from drivers.learn.scales import Scaled, ranked, scaled, wrapped
from drivers.learn.stream import joined
from drivers.learn.text_frames import text_frames
from drivers.learn.written import at_rest, profile_text

_RIVAL = 6.0
"""A rival so much less likely (a logarithm) is none: once in 400."""
_MOST = 4
_ALONE = 0.7
"""Frames that are fewer than this share of others are perhaps several of these."""
_SAME_DEG, _SAME = 0.4, 0.012
_SAME_COARSE_DEG = 3.0
"""Of two numbers with bytes in common: the first may be the coarse part of the other."""
_SIDE_DEG, _WALL_DEG, _WEDGE_DEG = 30.0, 90.0, 25.0


def learn(heard: Heard, marks: Sequence[Mark]) -> Outcome:
    """Find what a level's bytes mean.

    marks: the motions that were made, on the clock of the recording. Without a rest and a tilt
    nothing can be found; what else is missing stands in `ask`.
    """
    motions = {mark.motion for mark in marks}
    if not heard.chunks:
        return _nothing("it sent nothing")
    if "still" not in motions or "tilt" not in motions:
        missing = asking("tilt", 40.0) if "still" in motions else asking("still")
        return Outcome((), certain=False, ask=missing, not_found_why="too few motions were made")
    framings = list(framed(heard))
    if not framings:
        no_frames = "no frames: neither lines of text nor frames with a check were found in it"
        return _nothing(no_frames, looks_like(heard))
    for part in (False, True):
        tried = [(one, within(one, heard, marks)) for one in framings if one.part is part]
        found = [(one, outcome) for one, outcome in tried if outcome.candidates]
        if found:
            most = max(len(one.raw) for one, _ in found)
            return max(found, key=lambda each: _likely(each[0], each[1], most))[1]
    return _nothing(_why_not(framings), looks_like(heard))


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned of a level, and of which of its channels."""

    outcome: Outcome
    heard: Heard


def learn_each(heard: Sequence[Heard], marks: Sequence[Mark]) -> Learned:
    """Find what the bytes of each channel of one level mean, and return the best of it.

    What is certain of one channel stays so beside others: it is said of that channel's bytes. Where
    nothing is found the channel that sent most says why.
    """
    learned = [Learned(learn(one, marks), one) for one in heard or (Heard(()),)]
    return max(learned, key=_worth)


def _worth(one: Learned) -> tuple[bool, bool, float]:
    found = one.outcome.candidates
    sent = float(sum(len(data) for _, data in one.heard.chunks))
    return bool(found), one.outcome.certain, found[0].fit if found else sent


def _likely(frames: Frames, outcome: Outcome, most: int) -> tuple[bool, float]:
    """Return how to rank what was found in some frames: what several in a row make up stands behind.

    A sum, or a CRC that begins with 0, agrees over several whole frames as well as over one.
    most: frames of the framing that has most of them.
    """
    alone = not isinstance(frames.form, BinaryForm) or len(frames.raw) > _ALONE * most
    return alone, outcome.candidates[0].fit


def _nothing(why: str, missing: str = "") -> Outcome:
    says = f"not found: {why}" + (f"; {missing}" if missing else "")
    return Outcome((), certain=False, ask=None, not_found_why=says)


def _why_not(framings: Sequence[Frames]) -> str:
    if all(len(set(frames.raw)) == 1 for frames in framings):
        return "it sends the same all the time"
    return "none of its numbers rests when it rests and follows when it is tilted"


def framed(heard: Heard) -> Iterator[Frames]:
    """Yield the ways to cut what was heard into frames."""
    stream = joined(heard)
    texts = list(json_frames(stream)) or list(text_frames(stream))
    yield from texts
    if texts:
        return
    if heard.link == "ble-notify":
        structs = list(notifications(heard))
        yield from structs
        if structs:
            return
    whole = list(binary_frames(stream))
    yield from whole
    for one in whole:
        yield from kinds_of(one)
    yield from kinds_by_length(stream)


def within(frames: Frames, heard: Heard, marks: Sequence[Mark]) -> Outcome:
    """Find what the numbers of one framing of a recording mean."""
    if len(frames.raw) < FEWEST:
        return _nothing("too few frames")
    count = len(frames.raw)
    if sends_on_change(frames, marks):
        frames = held(frames, marks)
    first, second = halves(frames)
    windows = Windows(first.times_s, marks)
    found = list(_explained(first, windows))
    candidates = []
    for one in found:
        unverified = _unverified(one)
        rest = at_rest(one, windows)
        text = profile_text(one, heard, rest, "learned", unverified)
        if proved(text, one, frames, second):
            continue
        binary = isinstance(frames.form, BinaryForm) and frames.form.sync
        if binary and begun_anywhere(text, one, joined(heard), count):
            continue
        candidates.append(
            Candidate(
                text, _says(one), one.convention, one.step.unit, one.step.scale, unverified,
                rest.sd_deg, rest.rate_hz, rest.resolution_deg, one.fit,
            )
        )  # fmt: skip
    kept = tuple(candidates[:_MOST])
    if not kept:
        return _nothing("none of its numbers rests when it rests and follows when it is tilted")
    certain = len(candidates) == 1 and not kept[0].unverified
    return Outcome(kept, certain, None if certain else _ask(kept, marks))


def _explained(frames: Frames, windows: Windows) -> Iterator[Explanation]:
    """Yield the explanations that are left, best first."""
    three = vector(frames, windows)
    if three is not None:
        yield three
        return
    found = list(following(frames.columns, windows))
    numbers = ranked([each for one in found for each in scaled(one, windows)])
    kept: list[Scaled] = []
    for number in numbers:
        if number.fit < numbers[0].fit - _RIVAL:
            break
        if not any(_same(number, other, windows) for other in kept):
            kept.append(number)
    for number in kept:
        yield from explanations(frames, number, windows)


def _same(one: Scaled, other: Scaled, windows: Windows) -> bool:
    """Tell whether two explanations show the same angles: then it does not matter which."""
    moved = windows.moved()
    for mark in windows.of("known"):
        moved |= windows.resting(mark)
    off = np.abs(wrapped(one.raised_deg[moved] - other.raised_deg[moved]))
    coarse = one.followed.column.overlaps(other.followed.column) and one.followed.column.start != (
        other.followed.column.start
    )
    limit = _SAME_COARSE_DEG if coarse else _SAME_DEG + _SAME * np.abs(one.raised_deg[moved])
    return bool(np.mean(off <= limit) > 0.95)


def _unverified(one: Explanation) -> tuple[str, ...]:
    frames, found = one.frames, []
    if not one.proven:
        found.append("scale unverified: no surface of known slope was shown")
    if not one.sideways:
        found.append("convention unverified: it was not rolled onto its side")
    if frames.check and frames.checked < CHECKED:
        found.append(f"check unverified: {frames.check} was seen in {frames.checked} frames only")
    return tuple(found)


def _says(one: Explanation) -> str:
    scale = "" if one.step.scale == 1.0 else f" steps of {one.step.scale:.6g}"
    where = ", ".join(f"{role} at {column.start}" for role, column in one.fields.items())
    return f"{one.convention},{scale} {one.step.unit}, {where}; {one.frames.says}"


def _ask(candidates: Sequence[Candidate], marks: Sequence[Mark]) -> Mark | None:
    """Return the one motion that tells the candidates apart, or verifies what is not."""
    if len({one.convention for one in candidates}) > 1 or _about(candidates, "convention"):
        return asking("side", _SIDE_DEG)
    upright = any(mark.motion == "known" and mark.deg == _WALL_DEG for mark in marks)
    if len(candidates) > 1 or _about(candidates, "scale"):
        return asking("known", _WEDGE_DEG if upright else _WALL_DEG)
    return asking("still") if _about(candidates, "check") else None


def _about(candidates: Sequence[Candidate], what: str) -> bool:
    return any(line.startswith(what) for one in candidates for line in one.unverified)
