"""Any chunking gives the same samples, and no bytes raise: properties over every format."""

import itertools
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import codecs
from drivers.recordings import from_text
from shared.samples import Codec
from tests.drivers.test_recordings import LOGS, STREAMS


def opened(log: Path) -> tuple[Callable[[], Codec], bytes]:
    """A maker of fresh codecs, and the log's bytes in one piece."""
    recording = from_text(log.read_text("utf-8"), log.name)
    profile = recording.level_profile()
    stream = b"".join(one.data for one in recording.chunks if one.data is not None)
    return lambda: codecs.make(profile), stream


STREAM_MAKERS = {log.stem: opened(log) for log in STREAMS}
ALL_MAKERS = {log.stem: opened(log) for log in LOGS}


def mutated(stream: bytes, seed: int) -> bytes:
    """A part of a stream with bytes changed, lost, invented, repeated."""
    source = random.Random(seed)
    start = int(source.random() * len(stream))
    data = bytearray(stream[start : start + 120])
    for _ in range(1 + int(source.random() * 6)):
        at = int(source.random() * (len(data) + 1))
        kind = int(source.random() * 4)
        byte = int(source.random() * 256)
        if kind == 0 and at < len(data):
            data[at] = byte
        elif kind == 1:
            del data[at : at + 1 + byte % 9]
        elif kind == 2:
            data[at:at] = bytes([byte]) * (1 + byte % 3)
        else:
            data[at:at] = data[at : at + byte % 40]
    return bytes(data)


@pytest.mark.parametrize("name", STREAM_MAKERS)
@given(seed=st.integers(0, 2**32), cuts=st.lists(st.integers(0, 200), max_size=12))
@settings(max_examples=120, deadline=None)
def test_any_chunking_of_spoiled_bytes(name: str, seed: int, cuts: list[int]) -> None:
    make, stream = STREAM_MAKERS[name]
    data = mutated(stream, seed)
    whole, cut = make(), make()
    expected = whole.feed(0, data)
    edges = [0, *sorted(min(one, len(data)) for one in cuts), len(data)]
    found = [
        sample
        for start, end in itertools.pairwise(edges)
        for sample in cut.feed(0, data[start:end])
    ]
    assert found == expected
    assert cut.refused == whole.refused


CHUNKS = st.lists(st.tuples(st.integers(0, 255), st.binary(max_size=60)), max_size=8)


def swallow(name: str, chunks: list[tuple[int, bytes]]) -> None:
    codec = ALL_MAKERS[name][0]()
    for channel, data in chunks:
        for sample in codec.feed(channel, data):
            assert sample.values
            assert all(value - value == 0.0 for value in sample.values.values())
        codec.feed(0, data)
    codec.reset()


@pytest.mark.parametrize("name", ALL_MAKERS)
@given(chunks=CHUNKS)
@settings(max_examples=100, deadline=None)
def test_any_bytes_on_any_channel(name: str, chunks: list[tuple[int, bytes]]) -> None:
    swallow(name, chunks)


@pytest.mark.long
@pytest.mark.parametrize("name", ALL_MAKERS)
@given(chunks=CHUNKS)
@settings(max_examples=5_000, deadline=None)
def test_five_thousand_times_any_bytes(name: str, chunks: list[tuple[int, bytes]]) -> None:
    swallow(name, chunks)
