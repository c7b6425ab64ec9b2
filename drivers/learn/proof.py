"""A candidate proved: its codec is built and run on frames that it was not found on."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers import codecs, profiles
from drivers.learn.explained import Explanation, from_roll_pitch
from drivers.learn.frames import Frames
from drivers.learn.motions import Mask
from drivers.learn.scales import wrapped
from drivers.learn.stream import Floats, Stream
from shared.errors import BadInputError
from shared.profile import LevelProfile

_RUN_S = 1.0
"""Frames are dealt out in runs of so long: both halves see every motion."""
_READ = 0.8
_AGREES_DEG = 2.0
_AGREEING = 0.8
_PLACES, _OFFSETS, _WITHIN, _RUN = 4, 8, 2, 40
"""A stream is read from so many places, and from so many beginnings within frames there; how many
frames on."""
_FEW, _POOR = 0.4, 0.25
"""So small a share of the samples that should come is poor, and so many beginnings may be."""


def halves(frames: Frames) -> tuple[Frames, Mask]:
    """Return the frames to learn from, and a mask of those to prove on."""
    length_s = float(frames.times_s[-1] - frames.times_s[0]) if len(frames.times_s) > 1 else 1.0
    per_run = max(3, round(len(frames.raw) / max(length_s, 1.0) * _RUN_S))
    second = (np.arange(len(frames.raw)) // per_run) % 2 == 1
    return only(frames, ~second), second


def only(frames: Frames, mask: Mask) -> Frames:
    """Return some of the frames."""
    return replace(
        frames,
        times_s=frames.times_s[mask],
        raw=[raw for raw, kept in zip(frames.raw, mask, strict=True) if kept],
        columns=[replace(column, values=column.values[mask]) for column in frames.columns],
    )


def proved(text: str, one: Explanation, whole: Frames, second: Mask) -> str:
    """Run the profile on the second half of the frames; return in words what is wrong, or "".

    one: the explanation that the profile is of, found on the other half.
    """
    try:
        profile = profiles.read(text, "learned")
    except BadInputError as error:
        return f"no codec reads it: {error}"
    times, shown = _decoded(profile, whole, second)
    wanted = int(second.sum())
    if len(times) < _READ * wanted:
        return f"it reads {len(times)} of {wanted} frames that it was not found on"
    if not _agree(profile, one, times, shown):
        return "frames that it was not found on show other angles"
    return ""


def _agree(
    profile: LevelProfile, one: Explanation, times: Floats, shown: dict[str, Floats]
) -> bool:
    """Tell whether what a profile shows at these times is what was learned."""
    if not len(times):
        return False
    learned = np.interp(times, one.frames.times_s, one.raised_deg)
    changes = np.abs(np.gradient(one.raised_deg))
    moving = np.interp(times, one.frames.times_s, changes) * 4.0
    off = np.abs(wrapped(_raised(profile, shown, learned) - learned))
    return float(np.mean(off <= _AGREES_DEG + moving)) >= _AGREEING


def begun_anywhere(text: str, one: Explanation, stream: Stream, count: int) -> str:
    """Run a profile of binary frames on the stream from many places; return what is wrong, or "".

    Whoever begins to listen in the middle of a frame, or among frames of other kinds, must come to the
    same angles, and to about as many: what agrees only when it begins rightly is a chance of this
    recording. count: frames of its kind in the whole stream.
    """
    profile = profiles.read(text, "learned")
    size = round(float(np.median([len(raw) for raw in one.frames.raw])))
    expected = count * _RUN * size / len(stream.data)
    times: list[float] = []
    samples: list[dict[str, float]] = []
    poor = 0
    for begin in _beginnings(stream, size):
        before = len(samples)
        codec = codecs.make(profile)
        for at in range(begin, min(begin + _RUN * size, len(stream.data))):
            for sample in codec.feed(0, stream.data[at : at + 1]):
                times.append(stream.time_s(at))
                samples.append(sample.values)
        poor += len(samples) - before < _FEW * expected
    if poor > _POOR * _PLACES * _OFFSETS:
        return "begun at another place it shows next to nothing"
    if not _agree(profile, one, np.array(times), _by_role(samples)):
        return "begun at another place it shows other angles"
    return ""


def _beginnings(stream: Stream, size: int) -> Iterator[int]:
    """Yield places all over a stream, and of each several within two frames of this size."""
    for place in np.linspace(0, max(0, len(stream.data) - (_RUN + _WITHIN) * size), _PLACES):
        for off in np.linspace(0, _WITHIN * size, _OFFSETS):
            yield int(place + off)


def _decoded(
    profile: LevelProfile, whole: Frames, second: Mask
) -> tuple[Floats, dict[str, Floats]]:
    codec = codecs.make(profile)
    times: list[float] = []
    samples: list[dict[str, float]] = []
    for index in map(int, np.flatnonzero(second)):
        for sample in codec.feed(0, whole.raw[index]):
            times.append(float(whole.times_s[index]))
            samples.append(sample.values)
    return np.array(times), _by_role(samples)


def _by_role(samples: Sequence[dict[str, float]]) -> dict[str, Floats]:
    roles = samples[0].keys() if samples else ()
    return {role: np.array([values.get(role, np.nan) for values in samples]) for role in roles}


def _raised(profile: LevelProfile, shown: dict[str, Floats], learned: Floats) -> Floats:
    """Return how far the marked end is raised, by the profile's own mounting; zero taken off."""
    up = _up(profile, shown)
    chord, normal = (_along(axis, up) for axis in (profile.mounting.chord, profile.mounting.normal))
    if profile.convention == "planar":
        raised = np.degrees(np.arctan2(chord, normal))
    else:
        raised = np.degrees(np.arcsin(np.clip(chord, -1.0, 1.0)))
        if profile.convention == "roll-pitch" and profile.mounting.chord[1] == "y":
            raised = np.degrees(np.arctan2(chord, normal))
    return wrapped(raised - np.median(wrapped(raised - learned)))


def _up(profile: LevelProfile, shown: dict[str, Floats]) -> Floats:
    """Return the upward vertical in the level's own axes, as the convention has it."""
    if profile.convention == "vector":
        up = np.stack([shown[role] for role in ("ax", "ay", "az")])
        return np.asarray(up / np.sqrt((up**2).sum(axis=0)))
    if profile.convention == "roll-pitch":
        return from_roll_pitch(np.radians(shown["roll"]), np.radians(shown["pitch"]))
    angle = np.radians(shown["angle"])
    if profile.convention == "planar":
        return np.stack([np.cos(angle), np.zeros_like(angle), -np.sin(angle)])
    return np.stack([np.sin(angle), np.zeros_like(angle), np.cos(angle)])


def _along(axis: str, up: Floats) -> Floats:
    return np.asarray((-1.0 if axis[0] == "-" else 1.0) * up["xyz".index(axis[1])])
