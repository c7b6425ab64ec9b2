"""Formats that are met more seldom: learned right, or not claimed; see `simulator/strangers/rarer.py`."""

import json
from collections.abc import Callable

import pytest

from drivers import codecs, profiles
from drivers.learn.asked import Heard, Mark, Outcome
from drivers.learn.learning import learn
from drivers.learn.missing import LENGTHS, MINUTES, looks_like
from simulator.draws import Draws
from simulator.strangers.binary_form import BinaryForm
from simulator.strangers.level import FULL, WALL_AND_FLOOR
from simulator.strangers.person import NS, Performer
from simulator.strangers.poses import Pose
from simulator.strangers.rarer import RARER, rarer
from simulator.strangers.unlearnable import COUNT, unlearnable
from tests.learn.truth import given, motions, wrong

RATE_HZ = 10.0


@pytest.mark.parametrize("seed", range(1, 5))
@pytest.mark.parametrize("kind", RARER)
def test_a_rarer_format_is_learned_right(kind: str, seed: int) -> None:
    level = rarer(kind, seed)
    link = "serial" if level.baud else "ble-notify"
    outcome = learn(*given(level.heard(motions(seed)), link, level.baud))
    assert wrong(level, outcome) == ""


def learned_of(sends: Callable[[int, Pose, Draws], bytes]) -> Outcome:
    """Return what is learned of a level on a line that sends this."""
    draws = Draws(5, 4)
    performance = Performer(draws).show((*FULL, *WALL_AND_FLOOR))
    times = [number / RATE_HZ for number in range(int(performance.length_s * RATE_HZ))]
    chunks = [
        (round(t_s * NS), sends(number, performance.at(t_s, draws), draws))
        for number, t_s in enumerate(times)
    ]
    return learn(Heard(chunks), [Mark(*asked) for asked in performance.asked])


def a_line(**numbers: object) -> bytes:
    return json.dumps(numbers).encode() + b"\n"


def test_objects_with_the_same_keys_are_told_apart_by_a_text() -> None:
    def sends(number: int, pose: Pose, draws: Draws) -> bytes:
        if number % 2:
            return a_line(of="cell", value=3.7 + draws.normal(0.01))
        return a_line(of="tilt", value=round(pose.end_deg + draws.normal(0.02), 2))

    options = profiles.read(learned_of(sends).candidates[0].profile, "learned").format.options
    assert options == {"only": {"of": "tilt"}}


def test_a_text_that_changes_with_the_motion_takes_no_object_away() -> None:
    def sends(_number: int, pose: Pose, draws: Draws) -> bytes:
        angle = round(pose.end_deg + draws.normal(0.02), 2)
        return a_line(is_at="rest" if abs(angle) < 2.0 else "work", angle=angle)

    outcome = learned_of(sends)
    assert outcome.certain
    assert profiles.read(outcome.candidates[0].profile, "learned").format.options == {}


def test_frames_without_a_check_begin_after_a_pause() -> None:
    """With the last byte of a sync taken for the end of the frame every angle would be a frame late."""
    level = rarer("on change", 17)
    assert isinstance(level.form, BinaryForm)
    assert (level.form.check, level.form.sync) == ("", b"\x10\x02LP")
    outcome = learn(*given(level.heard((*FULL, *WALL_AND_FLOOR)), "serial", level.baud))
    assert wrong(level, outcome) == ""


def test_numbers_that_come_only_with_a_motion_and_mean_nothing_are_not_found() -> None:
    last = [Pose(0.0, 0.0)]

    def sends(_number: int, pose: Pose, draws: Draws) -> bytes:
        moved = abs(pose.end_deg - last[0].end_deg) + abs(pose.side_deg - last[0].side_deg) > 0.1
        last[0] = pose
        return a_line(shaken=round(draws.normal(20.0), 2)) if moved else b""

    assert learned_of(sends).not_found_why.startswith("not found")


def test_lines_of_another_kind_are_passed_over_where_their_beginning_tells() -> None:
    def sends(_number: int, pose: Pose, draws: Draws) -> bytes:
        angle = pose.end_deg + draws.normal(0.02)
        return b"$TIL,%.2f\r\n$TMP,%.1f\r\n" % (angle, 21.0 + draws.normal(0.05))

    profile = profiles.read(learned_of(sends).candidates[0].profile, "learned")
    assert profile.format.options == {"pattern": "{angle}", "begins": "$TIL,"}
    codec = codecs.make(profile)
    assert len(codec.feed(0, b"\r\n$TIL,1.25\r\n$TMP,21.0\r\n$TIL,1.50\r\n")) == 2
    assert codec.refused.total() == 0


@pytest.mark.parametrize("seed", [13, 17, 8018, 12018])
def test_frames_of_another_kind_are_not_read_as_if_they_were_of_this(seed: int) -> None:
    """A longer frame was read as well, and of two together the check agreed where it began rightly."""
    level = rarer("frames of kinds", seed)
    outcome = learn(*given(level.heard((*FULL, *WALL_AND_FLOOR)), "serial", level.baud))
    assert wrong(level, outcome) == ""
    assert "layouts" in profiles.read(outcome.candidates[0].profile, "learned").format.options


def test_a_level_that_is_heard_once_in_a_motion_is_no_error() -> None:
    """It stopped with an error of numpy: frames of a seldom kind are so few."""

    def sends(number: int, pose: Pose, draws: Draws) -> bytes:
        seldom = 200 < number < 400 and number != 300
        return b"" if seldom else a_line(angle=round(pose.end_deg + draws.normal(0.02), 2))

    assert not learned_of(sends).certain


def in_minutes(_number: int, pose: Pose, _draws: Draws) -> bytes:
    whole, minutes = divmod(round(abs(pose.end_deg) * 60.0), 60)
    sign = "-" if pose.end_deg < 0 else "+"
    return f"{sign}{whole}\N{DEGREE SIGN}{minutes:02d}'\r\n".encode()


def with_letters(_number: int, pose: Pose, draws: Draws) -> bytes:
    angle = pose.end_deg + draws.normal(0.02)
    return b"%.2f %s\r\n" % (abs(angle), b"U" if angle > 0 else b"D")


@pytest.mark.parametrize(("sends", "says"), [(in_minutes, MINUTES), (with_letters, "D and U")])
def test_what_is_not_learned_is_named_with_what_reads_it(
    sends: Callable[[int, Pose, Draws], bytes], says: str
) -> None:
    outcome = learned_of(sends)
    assert outcome.candidates == ()
    assert says in outcome.not_found_why


def test_notifications_of_several_lengths_are_named() -> None:
    chunks = [(n * NS // 10, bytes([n % 256] * (3 + n % 4))) for n in range(400)]
    marks = [Mark(0, 20 * NS, "still"), Mark(20 * NS, 40 * NS, "tilt", 40.0)]
    assert LENGTHS in learn(Heard(chunks, "ble-notify"), marks).not_found_why


def test_what_looks_like_nothing_known_is_not_said_to() -> None:
    for number in range(COUNT):
        assert looks_like(given(unlearnable(number).heard, "serial", 9600)[0]) == ""
