"""A tilt from several messages: no lost one puts two moments together."""

from hypothesis import given
from hypothesis import strategies as st

from tests.drivers.encoders import LabelledLines
from tests.drivers.making import bare_codec

ROUNDS = 40


@given(lost=st.sets(st.integers(0, 2 * ROUNDS - 1), max_size=12))
def test_single_losses_never_mix_two_moments(lost: set[int]) -> None:
    alone = {one for one in lost if one + 1 not in lost and one - 1 not in lost}
    codec = bare_codec(
        "text-line",
        {
            "first_line": "keep",
            "decimal": "comma",
            "minus": ["-"],
            "plus": [""],
            "gather": ["roll", "pitch"],
        },
        {"roll": {"source": "Roll"}, "pitch": {"source": "Pitch"}},
        convention="roll-pitch",
    )
    wire = LabelledLines()
    sent = [
        data
        for moment in range(ROUNDS)
        for _channel, data in wire.write({"roll": float(moment), "pitch": float(-moment)})
    ]
    kept = b"".join(data for index, data in enumerate(sent) if index not in alone)
    found = [(one.values["roll"], one.values["pitch"]) for one in codec.feed(0, kept)]
    whole = [n for n in range(ROUNDS) if not alone & {2 * n, 2 * n + 1}]
    assert found == [(n, -n) for n in whole]
