"""Seeded streams of a watched level and its witness, with everything that may befall them."""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Literal

from shared.profile import Noise

Call = tuple[Literal["push", "witness", "missed"], float]
HAPPENINGS = [
    "step",
    "step",
    "step",
    "small",
    "creep",
    "creep",
    "stop",
    "aircraft-step",
    "aircraft-creep",
    "hub-step",
    "lift",
    "park",
    "wild",
    "shake",
    "shake",
    "silence",
    "silences",
    "witness-silent",
    "witness-back",
]


@dataclass
class Hangar:
    """What a blade, the aircraft and two levels do, one sample after another."""

    rng: random.Random
    rate: float
    witness: bool
    blade: float = 0.0
    aircraft: float = 0.0
    hub: float = 0.0
    slope: float = 0.0
    aircraft_slope: float = 0.0
    lifted: float = 0.0
    shaking: float = 0.0
    frequency: float = 5.0
    common: bool = False
    left: int = 0
    hears: bool = True
    silences: list[int] = field(default_factory=list)

    def happen(self, what: str) -> None:
        """Let one thing happen; lifts and shakings last for some samples."""
        self._moves(what)
        self._is_handled(what)
        self._is_not_heard(what)

    def _moves(self, what: str) -> None:
        rng = self.rng
        match what:
            case "step":
                self.blade += rng.uniform(-1.0, 1.0) * rng.choice([0.2, 0.5, 3.0])
            case "small":
                self.blade += rng.uniform(-0.15, 0.15)
            case "creep":
                self.slope = rng.uniform(-0.05, 0.05)
            case "stop":
                self.slope = self.aircraft_slope = 0.0
            case "aircraft-step":
                self.aircraft += rng.uniform(-0.6, 0.6)
            case "aircraft-creep":
                self.aircraft_slope = rng.uniform(-0.02, 0.02)
            case "hub-step":
                self.hub += rng.uniform(-0.5, 0.5)

    def _is_handled(self, what: str) -> None:
        rng, rate = self.rng, self.rate
        match what:
            case "lift":
                self.lifted, self.left = 40.0, int(rng.uniform(0.1, 8.0) * rate)
            case "park":
                self.lifted, self.left = rng.uniform(-20.0, 20.0), int(rng.uniform(5, 40) * rate)
            case "wild":
                self.lifted, self.left = 30.0, 1
            case "shake":
                self.shaking, self.frequency = rng.choice([0.1, 0.5, 3.0]), rng.uniform(1.0, 9.0)
                self.left, self.common = int(rng.choice([1, 3, 10, 90]) * rate), rng.random() < 0.4

    def _is_not_heard(self, what: str) -> None:
        rng = self.rng
        match what:
            case "silence":
                self.silences = [rng.randint(1, 12)]
            case "silences":
                times = range(rng.randint(1, 3))
                self.silences = [int(rng.uniform(0.5, 7.0) * self.rate) + 1 for _ in times]
            case "witness-silent":
                self.hears = False
            case "witness-back":
                self.hears = True

    def pass_on(self) -> None:
        """Let one sample's time pass."""
        self.left -= 1
        if self.left <= 0:
            self.lifted = self.shaking = 0.0
            self.common = False
        self.blade += self.slope / self.rate
        self.aircraft += self.aircraft_slope / self.rate


@dataclass(frozen=True)
class Stream:
    """The calls of one watch, and what it is made with."""

    made_with: dict[str, Any]
    calls: list[Call]


def draw(seed: int) -> Stream:
    """Draw one stream of one to five minutes."""
    rng = random.Random(seed)
    rate = rng.choice([2.0, 3.3, 5.0, 10.0, 10.0, 10.0, 20.0, 50.0])
    sd, lag1 = rng.choice([0.005, 0.02, 0.03, 0.05]), rng.choice([0.0, 0.0, 0.3, 0.8, 0.95])
    known = Noise(sd_deg=sd, lag1=lag1, n=600)
    hangar = Hangar(rng, rate, witness=rng.random() < 0.6)
    made_with: dict[str, Any] = {
        "rate_hz": rate,
        "resolution_deg": rng.choice([0.001, 0.01, 0.05]),
        "witness": hangar.witness,
        "noise": rng.choice([Noise(), known, known, Noise(sd_deg=0.01, n=200)]),
        "name": "blade 2",
        "seat_deg": rng.choice([0.02, 0.05, 0.1]),
    }
    samples = min(int(rng.uniform(60.0, 300.0) * rate), 2500)
    calls = _calls(hangar, samples, made_with["resolution_deg"], sd, lag1)
    return Stream(made_with, list(calls))


def _calls(h: Hangar, samples: int, resolution: float, sd: float, lag1: float) -> Iterator[Call]:
    mount, rng = h.rng.uniform(-180.0, 180.0), h.rng
    own = other = 0.0
    for k in range(samples):
        if rng.random() < 1.0 / (12.0 * h.rate):
            h.happen(rng.choice(HAPPENINGS))
        yield from (("missed", float(samples)) for samples in h.silences)
        h.silences = []
        h.pass_on()
        own = lag1 * own + math.sqrt(1.0 - lag1 * lag1) * rng.gauss(0.0, sd)
        other = lag1 * other + math.sqrt(1.0 - lag1 * lag1) * rng.gauss(0.0, sd)
        shaken = h.shaking * math.sin(h.frequency * k / h.rate)
        if h.witness and h.hears and rng.random() < 0.98:
            shown = h.aircraft + h.hub + other + (shaken if h.common else 0.0)
            yield "witness", round(shown / resolution) * resolution
        shown = mount + h.aircraft + h.blade + h.lifted + shaken + own
        yield "push", round(shown / resolution) * resolution
