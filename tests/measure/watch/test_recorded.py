"""Sixty wild streams, and all that is said of them, as it was recorded.

The outcomes were recorded with the watch as it was before it became modes, so they hold the
two to one another. Where a rule is changed on purpose: `python -m tests.measure.watch.test_recorded`
writes them anew, and the difference is what the change did.
"""

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from daemon.measure.watch.watch import Watch
from tests.measure.watch.hangar import draw

RECORDED = Path(__file__).with_name("recorded.json")
SEEDS = range(60)


def said(seed: int, made: Any = Watch) -> list[list[Any]]:
    """Play one stream; return the number of the call, state, change, U95 and sentence."""
    stream = draw(seed)
    watch = made(**stream.made_with)
    found = []
    for k, (kind, value) in enumerate(stream.calls):
        if kind == "witness":
            watch.push_witness(value)
            continue
        told = watch.push(value) if kind == "push" else watch.missed(int(value))
        found += [[k, one.state, one.change_deg, one.u95_deg, one.say] for one in told]
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_a_recorded_stream_says_the_same(seed: int) -> None:
    expected = json.loads(RECORDED.read_text(encoding="utf-8"))[str(seed)]
    found = said(seed)
    assert [(k, state, say) for k, state, _, _, say in found] == [
        (k, state, say) for k, state, _, _, say in expected
    ]
    for one, other in zip(found, expected, strict=True):
        assert one[2:4] == pytest.approx(other[2:4], abs=2e-6)


def test_the_recorded_streams_have_everything_in_them() -> None:
    recorded = json.loads(RECORDED.read_text(encoding="utf-8"))
    states = Counter(one[1] for stream in recorded.values() for one in stream)
    assert len(states) == 7
    assert min(states.values()) >= 20
    says = " ".join(one[4] for stream in recorded.values() for one in stream)
    for part in ("which", "did not follow", "look at the witness", "with it", "little by little"):
        assert part in says
    assert "has been shaken for" in says


def main(made: Any = Watch) -> None:
    """Record all streams."""
    lines = [f'"{seed}": {json.dumps(said(seed, made), ensure_ascii=False)}' for seed in SEEDS]
    RECORDED.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
