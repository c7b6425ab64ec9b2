"""Every recorded log gives the output beside it, however its bytes are cut."""

from pathlib import Path

import pytest

from drivers import codecs
from drivers.recordings import Chunk, decoded, from_text, to_text
from shared.errors import BadInputError

FOLDER = Path(__file__).parent / "recordings"
LOGS = sorted(FOLDER.glob("*.log"))
STREAMS = [log for log in LOGS if log.stem not in {"ble-notify", "bthome", "manufacturer-data"}]
"""The others are packets: the radio never cuts or joins them."""


def bare(text: str) -> list[str]:
    """Decoded lines without their times, which depend on the cutting."""
    return [
        line if line.startswith("refused") else line.split(" ", 1)[1]
        for line in text.splitlines()
        if not line.startswith("#")
    ]


def test_every_codec_has_a_log() -> None:
    recorded = {
        from_text(log.read_text("utf-8"), log.name).level_profile().format.codec for log in LOGS
    }
    assert recorded == set(codecs.names())


@pytest.mark.parametrize("log", LOGS, ids=lambda log: log.stem)
def test_log_gives_its_expected_output(log: Path) -> None:
    recording = from_text(log.read_text("utf-8"), log.name)
    assert recording.source, "a log says where it came from"
    expected = log.with_suffix(".expected").read_text("utf-8")
    assert decoded(recording.level_profile(), recording.chunks) == expected


@pytest.mark.parametrize("size", [1, 2, 7, 4096])
@pytest.mark.parametrize("log", STREAMS, ids=lambda log: log.stem)
def test_any_cutting_gives_the_same(log: Path, size: int) -> None:
    recording = from_text(log.read_text("utf-8"), log.name)
    profile = recording.level_profile()
    stream = b"".join(one.data for one in recording.chunks if one.data is not None)
    cut = [Chunk(0.0, 0, stream[at : at + size]) for at in range(0, len(stream), size)]
    assert bare(decoded(profile, cut)) == bare(log.with_suffix(".expected").read_text("utf-8"))


@pytest.mark.parametrize("log", LOGS, ids=lambda log: log.stem)
def test_log_is_read_back_as_written(log: Path) -> None:
    text = log.read_text("utf-8")
    assert to_text(from_text(text, log.name)) == text


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("", "line 1"),
        ("# stillblade recording 1\n# profile: text-line\n0.0 0 zz\n", "line 3"),
        ("# stillblade recording 1\n# settings: [1]\n", "settings"),
        ("# stillblade recording 1\n# settings: {\n", "settings"),
        ("# stillblade recording 1\n# settings: " + '{"a":' * 5000 + "\n", "settings"),
    ],
)
def test_damaged_log_says_where(text: str, key: str) -> None:
    with pytest.raises(BadInputError) as caught:
        from_text(text, "a.log")
    assert (caught.value.where, caught.value.key) == ("a.log", key)
