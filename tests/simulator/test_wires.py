"""Every wire in the hangar carries the angle; packets stay whole, lines are cut anywhere."""

from pathlib import Path

import pytest

from daemon.session.jobs import resolve_profiles
from drivers import codecs
from shared.inputs import NS
from simulator.hangar import Chunk, Hangar
from simulator.scenario import load, names
from simulator.wires import PACKETS, WIRES


def chunks(name: str, seconds: int = 10) -> list[Chunk]:
    outs = Hangar(load(name), 5).advance(seconds * NS, [], None)
    return [out for out in outs if isinstance(out, Chunk)]


@pytest.mark.parametrize("name", names())
def test_the_program_reads_what_the_hangar_sends(name: str) -> None:
    """Codec and wire are written by different hands: every sample comes through, none refused."""
    scenario = load(name)
    profiles = resolve_profiles(scenario.job, Path())
    readers = {entry.name: codecs.make(profiles[entry.name]) for entry in scenario.job.level}
    counts = dict.fromkeys(readers, 0)
    for chunk in chunks(name):
        counts[chunk.level] += len(readers[chunk.level].feed(chunk.channel, chunk.data))
    for entry in scenario.job.level:
        table = scenario.hangar.level[entry.name]
        expected = 10.0 * table.rate_hz
        if entry.watches:
            assert counts[entry.name] == 0  # in its case until it is laid on its blade
        elif table.reports == "on-change":
            assert 0 < counts[entry.name] <= expected + 3
        elif table.spoilt_share:
            assert 0.7 * expected < counts[entry.name] < expected
            assert readers[entry.name].refused.total() > 0
        else:
            assert counts[entry.name] == pytest.approx(expected, abs=3)
            assert readers[entry.name].refused.total() == 0


def test_packets_are_whole_and_lines_are_not() -> None:
    assert len({len(chunk.data) for chunk in chunks("radio-level")}) == 1
    assert len({len(chunk.data) for chunk in chunks("binary-level")}) > 5


def test_every_shipped_wire_is_used_by_a_scenario() -> None:
    used = {entry.profile for name in names() for entry in load(name).job.level}
    assert used == set(WIRES)
    assert used > PACKETS
