"""Golden sessions: outputs do not change unless `rules` does, on any processor."""

from pathlib import Path

import pytest

from daemon.core.rules import RULES
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from tests.golden.record import FOLDER, path
from tests.whole.program import stillblade

GOLDEN = sorted(FOLDER.glob("format*-rules*.jsonl"))
FEATURES = (
    "SSE42 AVX F16C FMA3 AVX2 AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL AVX512_ICL"
    " X86_V3 X86_V4"
)


def test_there_is_one_for_todays_rules() -> None:
    assert path() in GOLDEN, "python -m tests.golden.record"


@pytest.mark.parametrize("golden", GOLDEN, ids=lambda p: p.stem)
def test_a_golden_session_replays(golden: Path) -> None:
    recording = read(golden)
    replayed = replay(recording)
    if recording.header.rules == RULES:
        assert replayed == recording.events, "outputs changed: raise RULES and record a new one"
    assert verify(recording, replayed).agrees


def test_todays_golden_session_replays_without_the_processors_extras() -> None:
    """Numpy and libm take other paths there (features that cannot be disabled are ignored).

    Today's alone: the code is the same for all of them, and so is nearly every input.
    """
    done = stillblade(
        "replay",
        str(path()),
        "--verify",
        NPY_DISABLE_CPU_FEATURES=FEATURES,
        GLIBC_TUNABLES="glibc.cpu.hwcaps=-AVX2_Usable,-AVX2,-FMA,-FMA_Usable,-AVX512F",
    )
    assert done.returncode == 0, done.stdout + done.stderr
