"""`stillblade pitch`: what a blade angle means to the trade, from the numbers that are known."""

import json

from daemon.cli.options import AsJson, check
from daemon.measure.proving import pitch as by
from shared.angles import stated

INCH_M = 0.0254
KELVIN = 273.15
MILE_HOUR_M_S = 0.44704
LIMIT_MACH = 0.85
"""Above this a tip is loud and loses thrust; common practice, no source."""


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
    else:
        for _, value, say in rows:
            print(say.format(value))
    return 0


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
