"""One level's pipe: which facts come of which bytes, and that they tell all there is to know."""

import random
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.core.pipe import Pipe
from daemon.measure.stream.facts import (
    Crept,
    Fact,
    Hearing,
    InHand,
    LearnedFact,
    LinkFact,
    Pressed,
    Ready,
    RefusedFact,
    Rested,
    Restless,
    Sampled,
    Still,
    Sways,
)
from daemon.measure.stream.reading import Reading
from shared.inputs import NS
from shared.job import LevelEntry
from tests.measure.levels import profile

KNOWN = {"sd_deg": 0.03, "lag1": 0.0, "n": 600}
STEP_NS = NS // 10


class Level:
    """A level at ten a second before its pipe, and what was told."""

    def __init__(self, role: str = "blade", **changes: Any) -> None:
        usual: dict[str, Any] = {"fields": {"angle": {"source": "1"}}, "noise": KNOWN}
        made = profile(**(usual | changes))
        entry = LevelEntry.model_validate({"name": "a", "profile": "x", "role": role, "watches": 0})
        self.pipe = Pipe(entry, made, 8.0)
        self.rng = random.Random(3)
        self.t_ns = 0
        self.facts: list[Fact] = []
        self.begin()

    def begin(self) -> None:
        """End the line that the codec drops, because it may be half of one."""
        assert self.pipe.feed(self.t_ns, 0, b"\n") == []

    def tell(self, facts: list[Fact]) -> list[Fact]:
        self.facts += facts
        return facts

    def send(self, text: str) -> list[Fact]:
        self.t_ns += STEP_NS
        return self.tell(self.pipe.feed(self.t_ns, 0, text.encode() + b"\n"))

    def lie(self, angle: float, samples: int) -> None:
        for _ in range(samples):
            self.send(f"{angle + self.rng.gauss(0, 0.03):.2f}")

    def wave(self, samples: int = 15) -> None:
        for _ in range(samples):
            self.send(f"{60 + self.rng.gauss(0, 15):.2f}")

    def wait(self) -> list[Fact]:
        due = self.pipe.due
        assert due is not None
        self.t_ns = due
        return self.tell(self.pipe.fire(due))

    def kinds(self) -> list[str]:
        found = [type(fact).__name__ for fact in self.facts]
        return [kind for i, kind in enumerate(found) if i == 0 or kind != found[i - 1]]


def test_a_placement_from_the_link_to_the_lift() -> None:
    level = Level()
    level.tell(level.pipe.link("up", "", "x"))
    assert level.facts == [LinkFact("a", "up", "x")]
    level.wave()
    level.lie(18.0, 30)
    level.wave()
    assert level.kinds() == [
        "LinkFact", "Hearing", "InHand", "Rested", "Ready", "Restless", "InHand"
    ] or level.kinds() == [
        "LinkFact", "Hearing", "InHand", "Rested", "Ready", "InHand"
    ]  # fmt: skip
    assert level.facts[1] == Hearing("a", True)
    ready = [fact for fact in level.facts if isinstance(fact, Ready)]
    assert ready[-1].placement == 1
    assert ready[-1].reading.mean_deg == pytest.approx(18.0, abs=0.03)


def test_a_ready_average_comes_with_every_sample() -> None:
    level = Level()
    level.lie(18.0, 20)
    for _ in range(10):
        said = level.send("18.00")
        assert [type(fact) for fact in said] == [Ready]
        assert isinstance(said[0], Ready)
        assert said[0].reading is level.pipe.reading


def test_silence_ends_the_placement_and_is_over_with_the_next_sample() -> None:
    level = Level()
    level.lie(18.0, 20)
    last = level.t_ns
    assert level.pipe.due == last + NS
    assert level.pipe.last_ns == last
    assert level.wait() == [
        LinkFact("a", "silent", "no sample for 1 s", 1.0),
        Hearing("a", False),
        InHand("a", unseen=True),
    ]
    assert level.pipe.due is None
    assert (level.pipe.reading, level.pipe.motion) == (None, None)
    level.t_ns += 2 * NS - STEP_NS
    assert level.send("18.00") == [LinkFact("a", "back", "", 3.0), Hearing("a", True)]
    assert level.pipe.reading is None
    level.lie(18.0, 20)
    assert [f.placement for f in level.facts if isinstance(f, Rested)] == [1, 2]


def test_what_waited_while_the_program_stood_still_is_not_taken_as_fresh() -> None:
    """A level read 14 s late shows where it lay before: nothing may be read from that."""
    level = Level()
    level.lie(20.0, 40)
    assert "Ready" in level.kinds()
    level.facts.clear()
    level.t_ns += 14 * NS
    level.tell(level.pipe.stopped(level.t_ns))
    for _ in range(140):  # what had waited, all at once
        level.t_ns += NS // 1000
        level.tell(
            level.pipe.feed(level.t_ns, 0, f"{20 + level.rng.gauss(0, 0.03):.2f}\n".encode())
        )
    assert level.kinds() == ["InHand"]
    level.lie(60.0, 40)
    assert level.pipe.reading is not None
    assert level.pipe.reading.mean_deg == pytest.approx(60.0, abs=0.05)


def test_what_a_level_sent_on_change_while_it_stood_still_holds() -> None:
    level = Level(reporting={"mode": "on-change", "rate_hz": 10.0})
    level.lie(20.0, 5)
    level.tell(level.pipe.stopped(level.t_ns))
    level.send("31.00")
    assert level.pipe.motion is not None
    assert level.pipe.shown(level.t_ns).tilt_deg == pytest.approx(31.0)


def test_after_standing_still_silence_is_counted_from_when_it_is_heard_again() -> None:
    """What is not listened to is not missed: no "silent" before the first second is over."""
    level = Level()
    level.lie(18.0, 20)
    level.tell(level.pipe.stopped(level.t_ns))
    due = level.pipe.due
    assert due == level.t_ns + 2 * NS  # a second unread, and another without a sample
    level.lie(18.0, 9)
    assert level.pipe.due == due
    level.lie(18.0, 2)
    assert level.pipe.due == level.t_ns + NS


def test_down_forgets_a_half_received_frame() -> None:
    level = Level()
    level.lie(18.0, 20)
    assert level.pipe.feed(level.t_ns + 1, 0, b"77") == []
    assert level.tell(level.pipe.link("down", "gone", "")) == [
        LinkFact("a", "down", "gone"), Hearing("a", False), InHand("a", unseen=True),
    ]  # fmt: skip
    assert level.tell(level.pipe.link("up", "", "x")) == [LinkFact("a", "up", "x")]
    level.begin()
    level.send("18.00")
    assert level.pipe.shown(level.t_ns).tilt_deg == pytest.approx(18.0)
    assert level.tell(level.pipe.link("up", "", "y"))[1] == LinkFact("a", "swapped", "was x, now y")


def test_a_gap_is_forgotten_by_gate_and_rate() -> None:
    level = Level(limits={"step_deg": 5})
    level.lie(18.0, 20)
    level.wait()
    level.send("80.00")
    assert level.pipe.refused == {}
    slow = Level()
    for _ in range(9):
        slow.lie(18.0, 3)
        slow.wait()
    assert not any(isinstance(fact, LearnedFact) for fact in slow.facts)


def test_stuck_is_said_once_and_not_across_a_gap() -> None:
    level = Level()
    for _ in range(30):
        level.send("18.00")
    stuck = [fact for fact in level.facts if isinstance(fact, LinkFact)]
    assert [fact.state for fact in stuck] == ["stuck"]
    assert level.pipe.shown(level.t_ns).state == "stuck"
    assert not level.pipe.heard
    assert [f.heard for f in level.facts if isinstance(f, Hearing)] == [True, False]
    level.send("18.01")
    assert level.facts[-1] != Hearing("a", False)
    assert level.pipe.heard
    for _ in range(15):
        level.send("18.00")
    level.wait()
    for _ in range(15):
        level.send("18.00")
    assert [f.state for f in level.facts if isinstance(f, LinkFact)].count("stuck") == 1


def test_only_levels_that_are_watched_say_their_samples() -> None:
    blade, hub = Level(), Level("hub")
    for level in (blade, hub):
        level.send("18.00")
    assert not any(isinstance(fact, Sampled) for fact in blade.facts)
    sampled = [fact for fact in hub.facts if isinstance(fact, Sampled)]
    assert [fact.tilt.angle_deg for fact in sampled] == pytest.approx([18.0])


def test_what_is_refused_is_counted_by_reason_and_does_not_enter() -> None:
    level = Level(limits={"low_deg": -60, "high_deg": 60})
    level.send("18.00")
    said = [fact for _ in range(12) for fact in level.send("70.00")]
    assert said == [RefusedFact("a", "out of range", 1), RefusedFact("a", "out of range", 10)]
    assert level.pipe.refused == {"out of range": 12}
    shown = level.pipe.shown(level.t_ns)
    assert shown.refused == 12
    assert shown.tilt_deg == pytest.approx(18.0)
    assert shown.age_s == pytest.approx(1.2)
    across = Level("blade", convention="projection")
    across.send("91.00")
    assert list(across.pipe.refused) == ["a projection level cannot show more than 90"]
    assert not across.pipe.heard
    assert across.pipe.last_ns is None


BUTTONED = {
    "angle": {"source": "1"},
    "button": {"source": "2", "unit": "1"},
    "battery": {"source": "3", "unit": "percent"},
}


def test_the_levels_own_button_and_its_battery() -> None:
    level = Level(fields=BUTTONED)
    assert level.pipe.shown(0).battery_percent is None
    level.lie(18.0, 0)
    assert Pressed("a") not in level.send("18.00 0 81")
    assert level.pipe.shown(level.t_ns).battery_percent == 81.0
    said = level.send("18.00 1 80")
    assert said[0] == Pressed("a")
    assert said.count(Pressed("a")) == 1
    assert level.pipe.shown(level.t_ns).battery_percent == 80.0


def test_another_rate_than_the_profile_says_is_learned_and_used() -> None:
    level = Level(reporting={"rate_hz": 20.0})
    assert level.pipe.rate_hz == 20.0
    level.lie(18.0, 51)
    learned = [fact for fact in level.facts if isinstance(fact, LearnedFact)]
    assert learned == [LearnedFact("a", "rate", 10.0, 0.0, 50)]
    assert level.pipe.rate_hz == 10.0
    assert level.pipe.shown(level.t_ns).rate_hz == 10.0


def test_what_the_stream_taught_is_told_at_the_end() -> None:
    level = Level(noise={"sd_deg": 0.3, "n": 0})
    assert level.pipe.learned() == []
    for _ in range(8):
        level.wave()
        level.lie(18.0, 60)
    (learned,) = level.pipe.learned()
    assert isinstance(learned, LearnedFact)
    assert (learned.level, learned.what) == ("a", "noise")
    assert learned.value == pytest.approx(0.03, rel=0.3)
    assert learned.n >= 60
    # and used from the next placement on, where nobody knew it
    assert level.pipe.reading is not None
    assert level.pipe.reading.dof > 60


def test_a_creep_is_said_with_what_it_shows() -> None:
    level = Level(noise={"sd_deg": 0.01, "lag1": 0.0, "n": 600})
    for i in range(150):
        level.send(f"{18.0 + 0.005 * i + level.rng.gauss(0, 0.01):.2f}")
    crept = [fact for fact in level.facts if isinstance(fact, Crept)]
    assert crept
    assert 18.0 < crept[-1].angle_deg < 18.75


def test_motion_is_the_levels_own() -> None:
    level = Level()
    assert level.pipe.motion is None
    level.lie(18.0, 30)
    motion = level.pipe.motion
    assert motion is not None
    assert (motion.doing, motion.progress, motion.psi_deg) == ("ready", 1.0, None)
    assert motion.angle_deg == pytest.approx(18.0, abs=0.06)
    assert level.pipe.reading is not None
    assert motion.u_deg == level.pipe.reading.u_deg
    level.wave(3)
    assert level.pipe.motion is not None
    assert level.pipe.motion.u_deg is None


def test_the_health_of_a_level() -> None:
    level = Level("watch")
    shown = level.pipe.shown(5)
    assert (shown.name, shown.role, shown.state) == ("a", "watch", "waiting")
    assert (shown.tilt_deg, shown.age_s, shown.rate_hz, shown.refused) == (None, None, 10.0, 0)
    level.send("18.00")
    shown = level.pipe.shown(level.t_ns + NS // 2)
    assert (shown.state, shown.age_s) == ("streaming", 0.5)
    assert level.pipe.streaming
    level.wait()
    assert level.pipe.shown(level.t_ns).tilt_deg is None
    assert level.pipe.name == "a"


def test_what_sends_on_change_still_shows_the_same_while_it_is_quiet() -> None:
    """Each sample that it would have sent has a deadline, half a period late, until one comes."""
    level = Level(reporting={"mode": "on-change", "rate_hz": 10.0})
    assert level.pipe.due is None
    level.tell(level.pipe.link("up", "", "x"))
    assert level.facts[-1] == Hearing("a", True)
    level.send("18.00")
    assert level.pipe.due == level.t_ns + 3 * STEP_NS // 2
    said, dues = [], []
    while (due := level.pipe.due) is not None:
        dues.append(due)
        said += level.pipe.fire(due)
    assert {b - a for a, b in pairwise(dues)} == {STEP_NS}
    assert said[0] == Rested("a", 1)
    assert isinstance(said[-1], Ready)
    assert said[-1].reading.mean_deg == pytest.approx(18.0)
    assert 10 * NS < dues[-1] - level.t_ns < 15 * NS, "the longest average is full by then"


def test_presses_of_a_level_that_sends_on_a_press_are_each_ready() -> None:
    level = Level(reporting={"mode": "on-press", "rate_hz": 1.0})
    for number, angle in enumerate(("18.00", "25.00", "31.00"), 1):
        level.t_ns += 60 * NS
        said = level.send(angle)[-2:]
        assert said[0] == Rested("a", number)
        assert isinstance(said[1], Ready)
        assert said[1].reading.mean_deg == pytest.approx(float(angle))


def test_every_sample_of_a_chunk_has_its_own_time() -> None:
    level = Level()
    level.pipe.feed(100, 0, b"18.00\n18.01\n18.02\n")
    assert level.pipe.last_ns == 102


DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("lie"), st.integers(1, 30)),
        st.tuples(st.just("move"), st.integers(1, 12)),
        st.tuples(st.just("wave"), st.integers(1, 12)),
        st.tuples(st.sampled_from(["silence", "down", "up"]), st.just(0)),
    ),
    max_size=12,
)


@pytest.mark.parametrize("mode", ["stream", "on-change", "on-press"])
@given(deeds=DEEDS)
@settings(max_examples=25, deadline=None)
def test_facts_alone_tell_whether_it_is_heard_and_what_a_press_may_take(
    mode: str, deeds: list[tuple[str, int]]
) -> None:
    level = Level(reporting={"mode": mode, "rate_hz": 10.0})
    heard, reading, angle = False, None, 18.0

    def follow(facts: list[Fact]) -> None:
        nonlocal heard, reading
        for fact in facts:
            match fact:
                case Hearing(_, so):
                    heard = so
                case Still(reading=now) | Ready(reading=now):
                    reading = now
                case Restless() | InHand():
                    reading = None
        assert level.pipe.heard is heard
        assert level.pipe.reading is reading

    follow(level.pipe.link("up", "", "x"))
    for deed, samples in deeds:
        if deed in {"down", "up"}:
            follow(level.pipe.link(deed, "", "x"))  # type: ignore[arg-type]
        elif deed == "silence" and level.pipe.due is not None:
            follow(level.wait())
        for _ in range(samples):
            angle += 0.4 if deed == "move" else 0.0
            off = level.rng.gauss(0, 15 if deed == "wave" else 0.03)
            follow(level.send(f"{angle + off:.2f}"))


def readings(level: Level) -> list[Reading]:
    return [fact.reading for fact in level.facts if isinstance(fact, Ready)]


def test_readings_do_not_depend_on_how_samples_are_chunked() -> None:
    texts = [f"{18 + random.Random(i).gauss(0, 0.03):.2f}\n".encode() for i in range(60)]
    one, many = Level(), Level()
    for i, text in enumerate(texts):
        one.tell(one.pipe.feed((i + 1) * STEP_NS, 0, text))
    for i in range(0, 60, 6):
        many.tell(many.pipe.feed((i + 6) * STEP_NS, 0, b"".join(texts[i : i + 6])))
    assert readings(one) == readings(many) != []


def test_what_comes_and_cannot_be_read_is_not_nothing() -> None:
    """Another speed or another format: who only hears of silence looks for a battery."""
    level = Level()
    level.lie(18.0, 20)
    assert not level.pipe.shown(level.t_ns).unread
    for _ in range(4):
        level.send("?.!")
    level.wait()
    assert not level.pipe.shown(level.t_ns).unread, "a plug that is pulled makes some noise"
    level.send("?.!")
    assert level.pipe.shown(level.t_ns).unread
    level.lie(18.0, 1)
    assert not level.pipe.shown(level.t_ns).unread


def test_a_level_that_speaks_on_a_press_may_say_other_things_in_between() -> None:
    level = Level(reporting={"mode": "on-press"})
    for _ in range(20):
        level.send("?.!")
    assert not level.pipe.shown(level.t_ns).unread


class Swings:
    """What follows a level, but for how far it finds the aircraft to sway."""

    def __init__(self, following: Any) -> None:
        self._following = following
        self.swing_deg = 0.0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._following, name)


def test_a_sway_is_said_again_where_it_is_a_fifth_larger_and_when_it_has_begun_anew() -> None:
    level = Level()
    following: Any = Swings(level.pipe._following)
    level.pipe._following = following
    told = []
    for swing in (0.0, 0.1, 0.1, 0.119, 0.121, 0.14, 0.1, 0.146, 0.0, 0.0, 0.1):
        following.swing_deg = swing
        facts = level.send("18.00")
        told.append([fact.swing_deg for fact in facts if isinstance(fact, Sways)])
    assert told == [[], [0.1], [], [], [0.121], [], [], [0.146], [], [], [0.1]]
