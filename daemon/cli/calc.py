"""`stillblade calc`: the arithmetic around the job, each with its formula, inputs and source.

pitch: what a blade angle means to the trade. torque: what to dial on the wrench, in which passes and
in which order. convert: a torque in another unit.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from cyclopts import App, Parameter

from daemon.cli.options import AsJson, check
from daemon.measure.proving import pitch as by
from shared import bolts, torque
from shared.angles import stated

calc = App(name="calc", help="The arithmetic around the job: pitch, torque, conversion.")

INCH_M = 0.0254
KELVIN = 273.15
MILE_HOUR_M_S = 0.44704
LIMIT_MACH = 0.85
"""Above this a tip is loud and loses thrust; common practice, no source."""


@calc.command
def pitch(
    angle: float,
    *,
    radius_m: float,
    rpm: float | None = None,
    speed_m_s: float | None = None,
    diameter_m: float | None = None,
    celsius: float = 15.0,
    json_: AsJson = False,
) -> int:
    """Show what a blade angle means: geometric pitch, twist, slip, tip speed, advance ratio.

    Parameters
    ----------
    angle
        Blade angle at the station, degrees.
    radius_m
        Radius of the station, metres.
    rpm
        Turns of the propeller a minute (not of the engine, where a gearbox lies between).
    speed_m_s
        True airspeed, metres a second: with the turns it gives slip and advance ratio.
    diameter_m
        Of the propeller, metres: with the turns it gives tip speed and Mach number.
    celsius
        Temperature of the air.
    json_
        One JSON object a line on standard output.
    """
    check(-30 < angle < 80, "ANGLE", f"{angle} is not between -30 and 80 degrees")
    for name, value in (("--radius-m", radius_m), ("--rpm", rpm), ("--diameter-m", diameter_m)):
        check(value is None or value > 0, name, f"{value} is not more than 0")
    check(speed_m_s is None or speed_m_s >= 0, "--speed-m-s", f"{speed_m_s} is less than 0")
    check(celsius > -KELVIN, "--celsius", f"{celsius} is below absolute zero")
    rows = _at_the_station(angle, radius_m)
    if rpm is not None:
        rows += _turning(rows[0][1], rpm, speed_m_s, diameter_m, celsius + KELVIN)
    if json_:
        print(json.dumps({"event": "pitch", **{key: stated(value) for key, value, _ in rows}}))
        return 0
    for _, value, say in rows:
        print(say.format(value))
    print(f"p = 2 pi r tan(angle), angle {angle:g} degrees, r {radius_m:g} m\n{PITCH_SOURCE}")
    return 0


PITCH_SOURCE = "source: FAA-H-8083-32, propellers; speed of sound: ICAO Doc 7488"
Row = tuple[str, float, str]


def _at_the_station(angle_deg: float, radius_m: float) -> list[Row]:
    advance = by.geometric_pitch(radius_m, angle_deg)
    twist = by.twist_deg_per_mm(angle_deg, radius_m)
    per_tenth = by.geometric_pitch(radius_m, angle_deg + 0.1) - advance
    return [
        ("geometric_pitch_m", advance, "geometric pitch {:.3f} m"),
        ("geometric_pitch_in", advance / INCH_M, "  = {:.1f} in"),
        ("pitch_per_tenth_m", per_tenth, "  0.1 degrees coarser adds {:.4f} m"),
        (
            "twist_deg_per_mm",
            twist,
            "twist at the station {:+.4f} degrees a millimetre outwards (constant pitch)",
        ),
    ]


def _turning(
    advance_m: float,
    rpm: float,
    speed_m_s: float | None,
    diameter_m: float | None,
    temperature_k: float,
) -> list[Row]:
    inches = advance_m / INCH_M
    ideal = by.geometric_mph(inches, rpm) * MILE_HOUR_M_S
    rows: list[Row] = [("geometric_speed_m_s", ideal, "speed without slip {:.1f} m/s")]
    if speed_m_s is not None:
        effective, slip = by.slip(inches, rpm, speed_m_s / MILE_HOUR_M_S)
        rows.append(("effective_pitch_m", effective * INCH_M, "effective pitch {:.3f} m"))
        rows.append(("slip", slip, "slip {:.1%} of the geometric pitch"))
    if diameter_m is None:
        return rows
    forward = speed_m_s or 0.0
    tip = by.tip_speed(diameter_m, rpm, forward)
    mach = by.tip_mach(diameter_m, rpm, temperature_k, forward)
    high = f", over {LIMIT_MACH}: see the manual's limits" if mach > LIMIT_MACH else ""
    rows.append(("tip_speed_m_s", tip, "tip speed {:.1f} m/s"))
    rows.append(("tip_mach", mach, "  = Mach {:.3f}" + high))
    if speed_m_s is not None:
        ratio = by.advance_ratio(speed_m_s, rpm, diameter_m)
        rows.append(("advance_ratio", ratio, "advance ratio J {:.3f}"))
    return rows


TORQUE_SOURCE = "source: FAA AC 43.13-1B, paragraph 7-40 and figure 7-2; units: NIST SP 811"
MANUAL = (
    "The manual's value, order and passes come first. Wrench in calibration and inside its range,\n"
    "threads clean and dry unless the manual says otherwise, a smooth pull; what chatters is backed\n"
    "off and tightened anew. This is arithmetic: what the bolt really got it cannot know."
)


Parts = Annotated[Sequence[float], Parameter(consume_multiple=True, negative=())]


@dataclass(frozen=True, slots=True)
class Wrench:
    """A torque wrench with what is put on it; lengths in millimetres.

    lowest, highest: its range in the unit of the torque, None: not stated.
    """

    length_mm: float | None
    adapter_mm: float
    angle_deg: float
    lowest: float | None
    highest: float | None

    def dialled(self, at_bolt: float) -> float:
        """Return the setting for a torque at the bolt."""
        if self.length_mm is None:
            return at_bolt
        return torque.dialled(at_bolt, self.length_mm, self.adapter_mm, self.angle_deg)

    def cannot(self, setting: float) -> str:
        """Return why it cannot be set so; "": it can."""
        if self.lowest is not None and setting < self.lowest:
            return f"below the wrench's range, which starts at {self.lowest:g}"
        if self.highest is not None and setting > self.highest:
            return f"above the wrench's range, which ends at {self.highest:g}"
        return ""


@calc.command(name="torque")
def torque_(
    value: float,
    *,
    unit: torque.Unit = "N.m",
    prevailing: float = 0.0,
    passes: Parts = (1.0,),
    bolts_: int | None = None,
    length_mm: float | None = None,
    adapter_mm: float = 0.0,
    angle: float = 0.0,
    lowest: float | None = None,
    highest: float | None = None,
    json_: AsJson = False,
) -> int:
    """Show what to dial on the wrench for a torque at the bolt, pass by pass.

    Exit 1 where the wrench cannot be set so.

    Parameters
    ----------
    value
        The manual's torque at the bolt.
    unit
        Its unit, which every torque here has.
    prevailing
        Torque that turns the nut before it clamps (self-locking nuts): it is added in every pass.
    passes
        Parts of the value, each pass one, the last one 1: `--passes 0.3 0.6 1`.
    bolts_
        How many bolts the circle has: shows the star order.
    length_mm
        Wrench: from the middle of its drive to the mark on its grip.
    adapter_mm
        From the middle of the drive to the middle of the bolt; negative points back to the grip.
    angle
        Of the adapter against the wrench, degrees; 0 is in line.
    lowest
        Start of the wrench's range.
    highest
        End of the wrench's range.
    json_
        One JSON object a line on standard output.
    """
    _check_torque(value, prevailing, passes, bolts_)
    wrench = Wrench(length_mm, adapter_mm, angle, lowest, highest)
    _check_wrench(wrench)
    at_bolt = [value * part + prevailing for part in passes]
    dial = [wrench.dialled(each) for each in at_bolt]
    order = bolts.star(bolts_) if bolts_ else []
    if json_:
        found = {"at_bolt": [*map(stated, at_bolt)], "dial": [*map(stated, dial)], "order": order}
        print(json.dumps({"event": "torque", "unit": unit, **found}))
    else:
        for number, (want, setting) in enumerate(zip(at_bolt, dial, strict=True), start=1):
            print(_pass_line(number, want, setting, unit, wrench))
        print(_how(wrench, value, prevailing, unit))
        _print_order(order)
        print(f"{TORQUE_SOURCE}\n{MANUAL}")
    return int(any(wrench.cannot(each) for each in dial))


def _check_torque(
    value: float, prevailing: float, passes: Sequence[float], count: int | None
) -> None:
    check(0.0 < value < 1e6, "VALUE", f"{value} is not a torque above 0")
    check(0.0 <= prevailing < 1e6, "--prevailing", f"{prevailing} is not 0 or more")
    rising = all(0.0 < part <= 1.0 for part in passes) and list(passes) == sorted(set(passes))
    remedy = "give parts of the value, rising, such as --passes 0.3 0.6 1"
    check(bool(passes) and rising and passes[-1] == 1.0, "--passes", "do not rise to 1", remedy)
    check(count is None or 1 <= count <= MOST_BOLTS, "--bolts", f"{count} is not 1 to {MOST_BOLTS}")


MOST_BOLTS = 64


def _check_wrench(wrench: Wrench) -> None:
    length, adapter = wrench.length_mm, wrench.adapter_mm
    check(length is None or 0.0 < length < 1e5, "--length-mm", f"{length} is not a length")
    check(abs(adapter) < 1e5, "--adapter-mm", f"{adapter} is not a length")
    given = length is not None or adapter == 0.0
    remedy = "measure from the middle of the drive to the mark on the grip"
    check(given, "--length-mm", "an adapter needs the length of the wrench", remedy)
    check(-360.0 <= wrench.angle_deg <= 360.0, "--angle", f"{wrench.angle_deg} is not an angle")
    arm = 1.0 if length is None else torque.reach(length, adapter, wrench.angle_deg)
    check(arm > 0.0, "--adapter-mm", "the adapter points back as far as the grip or farther")
    low, high = wrench.lowest or 0.0, wrench.highest
    check(low >= 0.0 and (high is None or high > low), "--highest", "the range has no inside")


def _pass_line(number: int, want: float, setting: float, unit: torque.Unit, wrench: Wrench) -> str:
    cannot = wrench.cannot(setting)
    warning = f"  NOT WITH THIS WRENCH: {cannot}" if cannot else ""
    return (
        f"pass {number}: dial {setting:.2f} {torque.SAID[unit]} for {want:.2f} at the bolt{warning}"
    )


def _how(wrench: Wrench, value: float, prevailing: float, unit: torque.Unit) -> str:
    inputs = f"T = {value:g} + {prevailing:g} {torque.SAID[unit]}"
    if wrench.length_mm is None or wrench.adapter_mm == 0.0:
        return f"dial = T, {inputs} in the last pass"
    return (
        f"dial = T L / (L + A cos a), {inputs} in the last pass, L {wrench.length_mm:g} mm, "
        f"A {wrench.adapter_mm:g} mm, a {wrench.angle_deg:g} degrees"
    )


def _print_order(order: Sequence[int]) -> None:
    if order:
        print(f"star order: {' '.join(map(str, order))} (ASME PCC-1, legacy cross pattern)")
        marks = [f"{bolt}:{order.index(bolt) + 1}" for bolt in sorted(order)]
        print("\n".join(["bolt:turn", *bolts.circle(marks)]))


@calc.command
def convert(value: float, from_: torque.Unit, to: torque.Unit, *, json_: AsJson = False) -> int:
    """Show a torque in another unit.

    Parameters
    ----------
    value
        The torque.
    from_
        Its unit.
    to
        The unit wanted.
    json_
        One JSON object a line on standard output.
    """
    check(abs(value) < 1e9, "VALUE", f"{value} is not a torque")
    made = torque.converted(value, from_, to)
    if json_:
        print(json.dumps({"event": "convert", "value": made, "unit": to}))
        return 0
    print(f"{value:g} {torque.SAID[from_]} = {made:.9g} {torque.SAID[to]}")
    factor = torque.NEWTON_METRES
    print(
        f"1 {torque.SAID[from_]} = {factor[from_]:.16g} N·m, 1 {torque.SAID[to]} = {factor[to]:.16g} N·m"
    )
    print("source: NIST SP 811 (2008), appendix B.8")
    return 0
