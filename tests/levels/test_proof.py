"""`stillblade levels zero`, `standard`, `play`: the fold, the arithmetic, whole runs.

The whole runs are on data time, with a person who does what is printed and a level whose truth
is known: no clock is read in them. One each of a streamed and a polled level goes over a
pseudo-terminal, to see that the link leads to the answer.
"""

import asyncio
import io
import math
import random
import tomllib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.levels import proof
from daemon.levels.ear import Target
from daemon.levels.proof import LOOK_S, Eye, conclude
from daemon.measure.proving.checks import (
    Found,
    off_the_blade,
    play_found,
    slope_deg,
    standard_found,
    zero_found,
)
from daemon.measure.proving.placing import Placing, Stage
from daemon.measure.proving.zero import Standard
from daemon.measure.stream.facts import Fact, InHand, LinkFact, Ready, Restless, Still
from daemon.measure.stream.tilts import Tilter
from drivers import profiles
from shared.inputs import NS
from shared.job import LevelEntry
from shared.profile import LevelProfile
from shared.samples import Role
from simulator.draws import Draws
from simulator.wire import Wire
from simulator.wire.modbus_rtu import ModbusUnit, PolledUnit
from simulator.wire.nmea_xdr import NmeaXdr
from simulator.wire.terminal import TerminalLevel
from simulator.wire.text_line import TextLine, TextStyle
from tests.drivers.sinks import LONGEST_S, QUICK
from tests.measure.levels import job as job_of
from tests.measure.levels import profile as profile_of
from tests.measure.levels import reading

BAR = Standard(300.0, 0.5, 100.0, 0.1)


# --- the fold ---------------------------------------------------------------------------

TWO = [Stage("first", 5.0), Stage("second", lifted=True)]
HELD = [Stage("coarse", 5.0), Stage("fine", 5.0)]


class Followed:
    """A placing that is told things, and what it said."""

    def __init__(self, stages: list[Stage], mode: str = "stream", *, stays: bool = False) -> None:
        self.placing = Placing(profile_of(reporting={"mode": mode}), stages, stays=stays)
        self.words = self.placing.begin(0.0)

    def tell(self, now_s: float, *facts: Fact) -> None:
        self.words += self.placing.take(now_s, facts, 10.0)

    def rests(self, now_s: float, shows: float, placement: int = 1) -> None:
        self.tell(now_s, Ready("a", placement, turned=False, reading=reading(shows)))

    @property
    def means(self) -> list[float]:
        return [each.mean_deg for each in self.placing.readings]


def test_the_level_is_read_after_the_lead_lifted_and_read_again() -> None:
    seen = Followed(TWO)
    seen.rests(4.0, 1.0)
    seen.rests(5.5, 1.0)  # of ten samples at 10 Hz some are older than the end of the lead
    assert seen.means == []
    seen.rests(6.0, 1.1)
    seen.rests(6.1, 1.1)
    assert seen.means == [1.1]
    seen.tell(8.0, InHand("a"))
    seen.rests(10.0, 1.1, 2)
    assert seen.placing.done
    seen.rests(11.0, 9.0, 3)
    assert seen.means == [1.1, 1.1]
    said = "first; averaging begins in 5 s|taken: 1.10 from 10 samples|second|taken: 1.10"
    assert "|".join(seen.words).startswith(said)


def test_a_bump_is_no_second_placement_and_a_careful_turn_is() -> None:
    seen = Followed(TWO)
    seen.rests(6.0, 1.0)
    seen.rests(9.0, 1.05)
    assert len(seen.means) == 1
    seen.rests(12.0, -0.9)  # slid round without a swing
    assert seen.means == [1.0, -0.9]


def test_a_lost_link_is_no_lift() -> None:
    seen = Followed(TWO)
    seen.rests(6.0, 1.0)
    seen.tell(7.0, LinkFact("a", "silent", "no sample for 1 s", 1.0), InHand("a"))
    seen.tell(8.0, LinkFact("a", "back", "", 2.0))
    seen.rests(10.0, 1.0, 2)
    assert len(seen.means) == 1
    assert seen.words[-2:] == ["a: no sample for 1 s", "a is heard again after 2.0 s"]
    seen.tell(11.0, InHand("a"))
    seen.rests(12.0, 1.0, 3)
    assert seen.placing.done


def test_the_finger_has_its_time_at_either_stop_even_without_play() -> None:
    seen = Followed(HELD, stays=True)
    for tenth in range(125):
        seen.rests(tenth / 10.0, 7.0)
        assert len(seen.means) == (tenth >= 60) + (tenth >= 120)
    assert seen.placing.done


def test_play_begins_anew_when_the_level_is_lifted() -> None:
    seen = Followed(HELD, stays=True)
    seen.rests(6.0, 7.0)
    seen.tell(7.0, InHand("a"))
    assert seen.means == []
    assert seen.words[-1].startswith("coarse")
    seen.tell(8.0, LinkFact("a", "down", "gone"), InHand("a"))
    seen.rests(13.5, 7.0, 2)
    assert seen.means == [7.0]


def test_every_press_is_a_placement() -> None:
    seen = Followed(TWO, "on-press")
    assert "press its button" in seen.words[0]
    seen.rests(0.1, 1.0, 1)
    seen.rests(0.1, 1.0, 1)
    assert len(seen.means) == 1
    seen.rests(0.2, 1.0, 2)
    assert seen.placing.done


def test_it_is_told_how_far_it_is_and_what_is_wanted() -> None:
    seen = Followed(TWO)
    placing = seen.placing
    assert placing.waiting(4.0, "still", 0.5) == ""
    assert placing.waiting(6.0, "still", 0.5).startswith("averaging, 50 %")
    assert placing.waiting(19.0, "moving", 0.0) == ""
    assert placing.waiting(20.0, "moving", 0.0) == "waiting for it to rest: first"
    assert placing.waiting(21.0, "moving", 0.0) == ""
    seen.rests(30.0, 1.0)
    assert "well clear" in placing.waiting(50.0, "ready", 1.0)


@given(st.lists(st.tuples(st.sampled_from("hrglu"), st.floats(0, 3), st.floats(-90, 90))))
def test_no_order_of_facts_takes_more_than_asked_for(told: list[tuple[str, float, float]]) -> None:
    seen, now_s, lifted = Followed(TWO), 0.0, False
    for kind, wait_s, angle in told:
        now_s += wait_s
        before = len(seen.means)
        if kind == "h":
            seen.tell(now_s, InHand("a"))
            lifted = True
        elif kind == "g":
            seen.tell(now_s, LinkFact("a", "down", "gone"), InHand("a"))
        elif kind == "l":
            seen.tell(now_s, Still("a", 1, False, reading(angle)), Restless("a"))
        else:
            seen.rests(now_s, angle)
        taken = len(seen.means) - before
        assert taken in {0, 1}
        if taken and before:
            assert lifted or abs(seen.means[1] - seen.means[0]) > 0.29
        lifted = lifted and not taken
    assert len(seen.means) <= 2


# --- the arithmetic ---------------------------------------------------------------------


def zero_of(first: float, second: float, profile: LevelProfile, **changes: Any) -> Found:
    return zero_found(reading(first, **changes), reading(second, **changes), profile, "there")


WELL_KNOWN = {"u_deg": 0.03, "n": 100_000}


def test_zero_error_and_its_uncertainty_by_hand() -> None:
    # Arithmetic: each placement sqrt(0.01^2 + (0.01 / sqrt 12)^2 + 0.03^2) = 0.03175; half of
    # the root of two of their squares 0.02245; 95 %: 1.96 times that, 0.044.
    found = zero_of(0.38, -0.22, profile_of(seating=WELL_KNOWN), dof=math.inf)
    assert found.good
    assert found.lines[0].startswith("zero error +0.080 +- 0.044 degrees (95 %)")
    assert found.lines[1].startswith("the surface +0.300 +- 0.044 degrees")
    assert found.lines[2].startswith("within the 0.10 ")
    assert "nearer to the limit" in found.lines[2]


def test_a_seating_that_nobody_measured_leaves_a_wider_zero() -> None:
    # Welch and Satterthwaite (JCGM 100:2008, G.4.1): 0.02245^4 / (2 (0.03/2)^4 / 4) is 10.0 degrees
    # of freedom where each of the two lines has 4, and of their merged line 5.0: t is 2.57.
    found = zero_of(0.38, -0.22, profile_of(), dof=math.inf)
    assert found.lines[0].startswith("zero error +0.080 +- 0.058 degrees (95 %)")


def test_the_stated_interval_holds_the_true_zero_19_times_in_20() -> None:
    profile, rng, inside = profile_of(seating=WELL_KNOWN), random.Random(7), 0
    for _ in range(1000):
        zero, angle = rng.uniform(-0.3, 0.3), rng.uniform(-4, 4)
        shown = [
            round((side * angle + zero + rng.gauss(0, 0.03) + rng.gauss(0, 0.01)) / 0.01) * 0.01
            for side in (1, -1)
        ]
        words = zero_of(shown[0], shown[1], profile).lines[0].split()
        inside += abs(float(words[2]) - zero) <= float(words[4])
    # binomial: 950 +- 3 * sqrt(1000 * 0.95 * 0.05) = 21
    assert 929 <= inside <= 980


@pytest.mark.parametrize(
    ("first", "second", "good", "says"),
    [
        (0.38, -0.22, True, "within"),
        (0.5, -0.1, False, "outside"),
        (3.0, 3.01, False, "both readings are the same: was it turned end for end"),
        (3.0, 1.0, False, "far more than stated: was it turned end for end"),
    ],
)
def test_the_zero_is_held_against_the_profile(
    first: float, second: float, good: bool, says: str
) -> None:
    found = zero_of(first, second, profile_of())
    assert found.good == good
    assert says in "\n".join(found.lines)
    assert ("was it turned" in "\n".join(found.lines)) == ("was it turned" in says)


SHOWS = [
    ("planar", {}, {}),
    ("planar", {"angle": {"unit": "rad", "offset": 0.01}}, {}),
    ("projection", {}, {}),
    ("roll-pitch", {}, {"chord": "+y", "span": "+x", "normal": "-z"}),
    ("roll-pitch", {}, {"chord": "-y", "span": "+x", "normal": "+z"}),
    ("roll-pitch", {}, {"chord": "-x", "span": "+y", "normal": "+z"}),
]


@pytest.mark.parametrize(("convention", "fields", "mounting"), SHOWS)
def test_what_is_to_be_written_takes_the_zero_out(
    convention: str, fields: dict[str, Any], mounting: dict[str, str]
) -> None:
    changes: dict[str, Any] = {"mounting": mounting}
    if fields:
        changes["fields"] = fields
    profile = off_the_blade(profile_of(convention, **changes))
    flat = Tilter(profile).tilt(dict.fromkeys(profile.fields, 0.0))
    assert not isinstance(flat, str)
    found = zero_of(flat.angle_deg + 0.38, flat.angle_deg - 0.22, profile)
    written = tomllib.loads("\n".join(line for line in found.lines if line.startswith("  ")))
    ((role, table),) = written["fields"].items()
    unit = profile.fields[role].unit
    moved = (table["offset"] - profile.fields[role].offset) * (57.29578 if unit == "rad" else 1.0)
    after = Tilter(profile).tilt(dict.fromkeys(profile.fields, 0.0) | {role: moved})
    assert not isinstance(after, str)
    assert after.angle_deg - flat.angle_deg == pytest.approx(-0.08, abs=1e-3)
    assert 0.04 < written["accuracy"]["zero_deg"] < 0.06


def test_a_zero_that_cannot_be_told_from_none_is_not_written_down() -> None:
    found = zero_of(0.32, -0.30, profile_of())
    assert found.good
    assert found.lines[-1].startswith("it cannot be told from none")


def test_a_zero_that_no_offset_takes_out_is_stated() -> None:
    found = zero_of(-89.62, -90.22, profile_of("vector"))
    assert found.lines[0].startswith("zero error +0.080")
    assert found.lines[1].startswith("the surface +0.300")
    assert "offset" not in "\n".join(found.lines)
    assert tomllib.loads(found.lines[-1])["accuracy"]["zero_deg"] > 0.12


@pytest.mark.parametrize("chord", ["+x", "-x"])
def test_several_axes_show_the_slope_of_a_wedge(chord: str) -> None:
    # Upward vertical of a level on a slope s, pointing up it: (sin s, 0, cos s).
    profile = profile_of("vector", mounting={"chord": chord})
    s = math.radians(19.47)
    up = Tilter(profile).tilt({"ax": math.sin(s), "ay": 0.0, "az": math.cos(s)})
    assert not isinstance(up, str)
    sign = 1.0 if chord == "+x" else -1.0
    assert slope_deg(up.angle_deg, profile) == pytest.approx(sign * 19.47)


@pytest.mark.parametrize(("shows", "good"), [(19.50, True), (19.80, False), (70.53, False)])
def test_a_standard_by_hand(shows: float, good: bool) -> None:
    # asin(100 / 300) = 19.471; its u by hand 0.039; the level 0.1 / sqrt 3 and 0.032 placed
    found = standard_found(reading(shows), profile_of(), BAR)
    assert found.good == good
    assert found.lines[0].startswith(f"reading {shows:.3f} +- 0.132 degrees")
    assert found.lines[1].startswith("standard 19.471 +- 0.079 degrees")
    assert ("looks like the complement" in found.lines[2]) == (shows > 70)


def test_play_by_hand() -> None:
    # averaging 0.01 and resolution 0.01 / sqrt 12, both twice: 0.0147, 95 %: 0.029
    found = play_found(reading(18.3), reading(18.0), profile_of(), job_of())
    assert found.lines[0].startswith("play 0.300 +- 0.029 degrees")
    assert "more than the tolerance" in found.lines[1]
    assert tomllib.loads("\n".join(found.lines[-2:])) == {"setup": {"play_deg": 0.3}}


@pytest.mark.parametrize("convention", ["planar", "projection", "roll-pitch", "vector"])
def test_play_without_a_job_and_the_other_way_about(convention: str) -> None:
    changes = {"psi_deg": 0.5, "u_psi_deg": 0.01} if convention in {"roll-pitch", "vector"} else {}
    ends = [reading(30.0, **changes), reading(30.2, **changes)]
    for first, second in (ends, ends[::-1]):
        found = play_found(first, second, profile_of(convention), None)
        assert found.lines[0].startswith("play 0.200 ")
        assert found.lines[-1] == "  play_deg = 0.20"
    said = [
        "smaller towards coarse" in "\n".join(play_found(a, b, profile_of(convention), None).lines)
        for a, b in (ends, ends[::-1])
    ]
    assert sorted(said) == [False, True]


def test_no_play_is_said_to_be_none() -> None:
    found = play_found(reading(18.01), reading(18.0), profile_of(), None)
    assert found.lines[-1] == "  play_deg = 0.00"
    assert "no play" in found.lines[1]


# --- whole runs -------------------------------------------------------------------------

RATE_HZ = 50.0
ZERO_DEG, SEATING_DEG = 0.08, 0.03


class Bench:
    """A person who does what is printed, with a level that shows so much too much.

    lies: the angle of the level at a stage; the stage goes up with every "taken".
    """

    def __init__(
        self, lies: Callable[[int], float], seed: int, *, lifts: bool = True, noise: float = 0.02
    ) -> None:
        self.out = io.StringIO()
        self._lies = lies
        self._lifts = lifts
        self._noise = noise
        self._random = random.Random(seed)
        self._stage = -1
        self._since = 0
        self._seated = 0.0

    def tilt(self) -> dict[Role, float]:
        stage = self.out.getvalue().count("taken:")
        self._since += 1
        if stage != self._stage:
            self._stage, self._since = stage, 0
            self._seated = self._random.gauss(0.0, SEATING_DEG) if self._lifts else 0.0
        if self._lifts and self._since < RATE_HZ:
            return {"angle": self._random.uniform(-60.0, 60.0)}
        noise = self._random.gauss(0.0, self._noise)
        return {"angle": self._lies(stage) + ZERO_DEG + self._seated + noise}


class Unsteady(Bench):
    """A person who never lays it down."""

    def tilt(self) -> dict[Role, float]:
        return {"angle": self._random.uniform(-60.0, 60.0)}


class OnChange:
    """A wire that says nothing while it would repeat itself."""

    def __init__(self) -> None:
        self._wire = TextLine(TextStyle())
        self._before: list[tuple[int, bytes]] = []

    def write(self, values: dict[Role, float]) -> list[tuple[int, bytes]]:
        chunks = self._wire.write(values)
        if chunks == self._before:
            return []
        self._before = chunks
        return chunks


def xdr() -> Wire:
    return NmeaXdr({"angle": "TILT"}, 0.01, Draws(1, 1))


SETTINGS: dict[str, Any] = {
    "noise": {"sd_deg": 0.02, "n": 900},
    "reporting": {"rate_hz": RATE_HZ},
}
Wanted = Callable[[Target], proof.Proof]


class DataTime:
    """A clock that goes on as the level sends, and not otherwise."""

    def __init__(self) -> None:
        self.now_ns = 0

    def __call__(self) -> int:
        return self.now_ns


def run(
    bench: Bench,
    wanted: Wanted,
    wire: Wire,
    kind: str = "nmea-xdr",
    rate_hz: float = RATE_HZ,
    seconds: float = 120.0,
    **changes: Any,
) -> int:
    """Try a level on data time, sample by sample; return the exit code."""
    profile = profiles.overlay(profiles.load(kind), SETTINGS | changes)
    tried = wanted(Target(LevelEntry(name="level", profile=kind), profile))
    clock = DataTime()
    eye = Eye(tried, bench.out, clock)
    eye.up("level", "simulated")
    a_look = max(1, round(LOOK_S * rate_hz))
    for step in range(1, round(seconds * rate_hz) + 1):
        clock.now_ns = round(step / rate_hz * NS)
        for channel, data in wire.write(bench.tilt()):
            eye.bytes("level", channel, data)
        if step % a_look == 0:
            eye.look()
        if eye.done.is_set():
            break
    return conclude(tried, eye, bench.out, seconds).code


@pytest.mark.parametrize(
    ("wire", "kind"),
    [(xdr, "nmea-xdr"), (PolledUnit, "modbus-rtu")],
    ids=["streamed", "polled"],
)
def test_a_true_zero_is_found_within_its_uncertainty(wire: Callable[[], Wire], kind: str) -> None:
    bench = Bench(turned, 3)
    code = run(bench, proof.zero, wire(), kind)
    text = bench.out.getvalue()
    line = next(line for line in text.splitlines() if line.startswith("zero error")).split()
    found, u95 = float(line[2]), float(line[4])
    assert abs(found - ZERO_DEG) <= u95 < 0.1, text
    assert code == (0 if abs(found) <= 0.1 else 1)
    surface = next(line for line in text.splitlines() if line.startswith("the surface")).split()
    assert abs(float(surface[2]) - 1.7) <= u95
    assert "turn it end for end" in text


def test_a_level_that_was_not_turned_is_asked_about() -> None:
    bench = Bench(lambda _stage: 1.7, 4)
    assert run(bench, proof.zero, xdr()) == 1
    assert "was it turned end for end" in bench.out.getvalue()


@pytest.mark.parametrize(("slope", "code"), [(math.degrees(math.asin(1 / 3)), 0), (21.0, 1)])
def test_a_level_on_a_sine_bar(slope: float, code: int) -> None:
    def on_the_bar(target: Target) -> proof.Proof:
        return proof.standard(target, BAR)

    bench = Bench(lambda _stage: slope, 5)
    assert run(bench, on_the_bar, xdr()) == code
    assert ("\nproven: " in bench.out.getvalue()) == (code == 0)


def test_the_seating_of_a_level_is_found_within_its_range() -> None:
    bench = Bench(lambda _stage: 12.0, 14)
    assert run(bench, proof.seating, xdr(), seconds=300.0) == 0
    text = bench.out.getvalue()
    assert text.count("taken:") == 5
    assert "(5 of 5) lift it" in text
    words = text.replace(" (95 %)", "").split()
    low, high = float(words[words.index("between") + 1]), float(words[words.index("between") + 3])
    assert low <= SEATING_DEG <= high, text


@pytest.mark.parametrize("true", [0.0, 0.4])
def test_the_play_of_a_blade(true: float) -> None:
    bench = Bench(lambda stage: 18.0 + (true if stage == 0 else 0.0), 6, lifts=False)
    assert run(bench, proof.play, xdr()) == 0
    text = bench.out.getvalue()
    line = next(line for line in text.splitlines() if line.startswith("play ")).split()
    assert abs(float(line[1]) - true) <= float(line[3]) < 0.06, text
    assert ("no play" in text) == (true == 0.0)
    assert "averaging, " in text or "averaging begins" in text


def test_what_never_rests_is_said_to() -> None:
    bench = Unsteady(lambda _stage: 0.0, 7)
    assert run(bench, proof.zero, xdr(), seconds=2.0) == 1
    assert "came to rest within 2 s" in bench.out.getvalue()


def turned(stage: int) -> float:
    return 1.7 if stage == 0 else -1.7


def test_every_press_of_a_level_with_a_button_is_a_placement() -> None:
    bench = Bench(turned, 8, lifts=False)
    assert run(bench, proof.zero, xdr(), rate_hz=4.0, reporting={"mode": "on-press"}) in {0, 1}
    text = bench.out.getvalue()
    assert text.count("press its button") == 2
    assert text.count("from 1 sample\n") == 2
    line = next(x for x in text.splitlines() if x.startswith("zero")).split()
    assert abs(float(line[2]) - ZERO_DEG) <= float(line[4]), text


def test_a_level_that_is_quiet_while_it_lies_still_is_read_all_the_same() -> None:
    bench = Bench(turned, 9, noise=0.0)
    changes = {"mode": "on-change", "rate_hz": RATE_HZ}
    assert run(bench, proof.zero, OnChange(), "text-line", reporting=changes) in {0, 1}
    line = next(x for x in bench.out.getvalue().splitlines() if x.startswith("zero")).split()
    assert abs(float(line[2]) - ZERO_DEG) <= float(line[4])


async def test_no_signal_is_the_worlds_fault() -> None:
    target = Target(LevelEntry(name="blue", profile="x", port="/dev/none"), profile_of("planar"))
    target = replace(target, profile=profiles.load("nmea-xdr"))
    out = io.StringIO()
    outcome = await proof.run(proof.play(target), out, 0.5, QUICK)
    assert (outcome.code, outcome.found) == (3, None)
    assert "no signal from blue on /dev/none" in out.getvalue()


@pytest.mark.parametrize(
    ("wire", "kind"),
    [(xdr, "nmea-xdr"), (ModbusUnit, "modbus-rtu")],
    ids=["streamed", "polled"],
)
async def test_a_level_on_a_pseudo_terminal_is_proven(wire: Callable[[], Wire], kind: str) -> None:
    bench = Bench(lambda _stage: BAR.angle_deg, 10)
    terminal = TerminalLevel("level", wire(), bench.tilt, RATE_HZ)
    profile = profiles.overlay(profiles.load(kind), SETTINGS)
    target = Target(LevelEntry(name="level", profile=kind, port=terminal.path), profile)
    async with asyncio.TaskGroup() as group:
        running = group.create_task(terminal.run(), name="level")
        tried = proof.standard(target, BAR, lead_s=0.5)
        code = (await proof.run(tried, bench.out, LONGEST_S, QUICK)).code
        running.cancel()
    assert code == 0, bench.out.getvalue()
    assert "\nproven: " in bench.out.getvalue()
