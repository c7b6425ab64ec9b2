"""`stillblade calc`, and what is said of a level whose reading hangs on an unknown azimuth."""

import json
from pathlib import Path
from typing import Any

import pytest

from daemon.__main__ import main
from daemon.core.engine import Engine
from daemon.session.headers import make_header
from shared.errors import BadInputError
from shared.events import Noted
from tests.daemon.bench import LEVEL, job


def pitch(capsys: pytest.CaptureFixture[str], *args: str) -> dict[str, Any]:
    assert main(["calc", "pitch", *args, "--json"]) == 0
    made: dict[str, Any] = json.loads(capsys.readouterr().out)
    return made


def test_the_pitch_of_a_handbook_propeller(capsys: pytest.CaptureFixture[str]) -> None:
    # FAA-H-8083-32: geometric pitch = 2 pi R tan(angle at R); 50 in at 30 in is 14.86 degrees
    got = pitch(capsys, "14.86", "--radius-m", str(30 * 0.0254))
    assert got["geometric_pitch_in"] == pytest.approx(50.0, abs=0.02)
    assert "slip" not in got


def test_turns_and_speed_add_slip_tip_speed_and_advance_ratio(
    capsys: pytest.CaptureFixture[str],
) -> None:
    args = ("--rpm", "2400", "--speed-m-s", "40", "--diameter-m", "1.5")
    got = pitch(capsys, "20", "--radius-m", "0.6", *args)
    # by hand: 40 turns a second advance 1 m each of the 1.3721 m that 20 degrees give
    assert got["effective_pitch_m"] == pytest.approx(1.0, abs=1e-6)
    assert got["slip"] == pytest.approx(1 - 1 / 1.37213, abs=1e-4)
    assert got["advance_ratio"] == pytest.approx(40 / (40 * 1.5))
    # ICAO Doc 7488: 340.294 m/s at 15 degrees Celsius
    assert got["tip_mach"] == pytest.approx((188.4956**2 + 40**2) ** 0.5 / 340.294, abs=1e-4)


def test_a_fast_tip_is_pointed_out(capsys: pytest.CaptureFixture[str]) -> None:
    main(["calc", "pitch", "20", "--radius-m", "0.6", "--rpm", "3600", "--diameter-m", "1.7"])
    assert "see the manual's limits" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("args", "word"),
    [
        (["95", "--radius-m", "0.6"], "ANGLE"),
        (["20", "--radius-m", "0"], "--radius-m"),
        (["20", "--radius-m", "0.6", "--rpm", "-1"], "--rpm"),
        (["20", "--radius-m", "0.6", "--celsius", "-300"], "--celsius"),
    ],
)
def test_numbers_that_cannot_be(
    args: list[str], word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calc", "pitch", *args]) == 2
    assert word in capsys.readouterr().err


PROJECTION = {**LEVEL, "settings": {**LEVEL["settings"], "convention": "projection"}}


@pytest.mark.parametrize(("u_psi", "said"), [(0.5, 0), (2.0, 1)])
def test_a_projection_level_warns_of_an_unknown_azimuth(u_psi: float, said: int) -> None:
    made = job(level=[PROJECTION], setup={"psi_u_deg": u_psi})
    events = Engine(make_header(made, Path(), session="bench")).advance(0)
    cautions = [e.body.say for e in events if isinstance(e.body, Noted)]
    assert len([say for say in cautions if "hub witness" in say]) == said


def test_a_projection_level_is_refused_where_the_azimuth_may_be_far_off() -> None:
    made = job(level=[PROJECTION], setup={"psi_u_deg": 3.5})
    with pytest.raises(BadInputError, match="hub witness"):
        make_header(made, Path())
    hub = {**LEVEL, "name": "hub", "port": "/dev/zero", "role": "hub"}
    make_header(job(level=[PROJECTION, hub], setup={"psi_u_deg": 3.5}), Path())


def calc(capsys: pytest.CaptureFixture[str], *args: str) -> dict[str, Any]:
    main(["calc", *args, "--json"])
    made: dict[str, Any] = json.loads(capsys.readouterr().out)
    return made


def test_the_wrench_of_the_circular(capsys: pytest.CaptureFixture[str]) -> None:
    # FAA AC 43.13-1B, figure 7-2 (inputs from memory): 135 with a 10 in wrench, 1.5 in adapter
    args = ("torque", "135", "--unit", "lbf.in", "--length-mm", "254")
    assert calc(capsys, *args, "--adapter-mm", "38.1")["dial"] == [pytest.approx(117.391304)]
    assert calc(capsys, *args, "--adapter-mm", "-38.1")["dial"] == [pytest.approx(158.823529)]
    assert calc(capsys, *args, "--adapter-mm", "38.1", "--angle", "90")["dial"] == [135.0]


def test_every_pass_has_its_part_and_the_prevailing_torque(
    capsys: pytest.CaptureFixture[str],
) -> None:
    got = calc(capsys, "torque", "20", "--prevailing", "2", "--passes", "0.3", "0.6", "1")
    assert got["at_bolt"] == [8.0, 14.0, 22.0] == got["dial"]


def test_a_setting_outside_the_wrench_is_answered_no(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", "torque", "25", "--lowest", "5", "--highest", "20"]) == 1
    assert "NOT WITH THIS WRENCH: above the wrench's range" in capsys.readouterr().out
    assert main(["calc", "torque", "4", "--lowest", "5"]) == 1
    assert "starts at 5" in capsys.readouterr().out
    assert main(["calc", "torque", "20", "--lowest", "5", "--highest", "20"]) == 0


def test_what_is_printed_names_formula_inputs_and_source(
    capsys: pytest.CaptureFixture[str],
) -> None:
    args = ["--length-mm", "250", "--adapter-mm", "40", "--angle", "45", "--bolts", "6"]
    assert main(["calc", "torque", "25", *args]) == 0
    said = capsys.readouterr().out
    assert "T L / (L + A cos a)" in said
    assert "A 40 mm, a 45 degrees" in said
    assert "AC 43.13-1B" in said
    assert "star order: 1 4 2 5 3 6" in said
    assert "what the bolt really got it cannot know" in said
    assert main(["calc", "convert", "25", "N.m", "lbf.in"]) == 0
    said = capsys.readouterr().out
    assert "221.268645 lbf·in" in said
    assert "NIST SP 811" in said
    assert main(["calc", "pitch", "20", "--radius-m", "0.6"]) == 0
    assert "2 pi r tan(angle)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("args", "word"),
    [
        (["0"], "VALUE"),
        (["nan"], "VALUE"),
        (["20", "--prevailing", "-1"], "--prevailing"),
        (["20", "--passes", "0.6", "0.3", "1"], "--passes"),
        (["20", "--passes", "0.3", "0.6"], "--passes"),
        (["20", "--bolts", "0"], "--bolts"),
        (["20", "--adapter-mm", "40"], "--length-mm"),
        (["20", "--length-mm", "40", "--adapter-mm", "-40"], "--adapter-mm"),
        (["20", "--lowest", "30", "--highest", "20"], "--highest"),
    ],
)
def test_a_torque_that_cannot_be(
    args: list[str], word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calc", "torque", *args]) == 2
    assert word in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["calc", "torque", "much"], 'Invalid value for VALUE: "much" is not a number.'),
        (["demo", "--seed", "x"], 'Invalid value for --seed: "x" is not a whole number.'),
    ],
)
def test_what_is_no_number_is_refused_in_words(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    assert capsys.readouterr().err == f"stillblade: {said}\n"
