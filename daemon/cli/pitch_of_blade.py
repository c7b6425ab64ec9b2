"""`stillblade pitch`: what a blade angle means to the trade, from the numbers that are known."""

import json

from daemon.measure import pitch
from shared.angles import stated
from shared.errors import BadInputError

INCH_M = 0.0254
KELVIN = 273.15
MILE_HOUR_M_S = 0.44704
LIMIT_MACH = 0.85
"""Above this a tip is loud and loses thrust; common practice, no source."""


def pitch_command(
    angle_deg: float,
    radius_m: float,
    *,
    rpm: float | None,
    speed_m_s: float | None,
    diameter_m: float | None,
    celsius: float,
    as_json: bool,
) -> int:
    """Print geometric pitch and twist, and with more numbers slip, tip speed and advance ratio.

    Raises:
        BadInputError: a number that cannot be.
    """
    _check(-30 < angle_deg < 80, "ANGLE", f"{angle_deg} is not between -30 and 80 degrees")
    for name, value in (("--radius-m", radius_m), ("--rpm", rpm), ("--diameter-m", diameter_m)):
        _check(value is None or value > 0, name, f"{value} is not more than 0")
    _check(speed_m_s is None or speed_m_s >= 0, "--speed-m-s", f"{speed_m_s} is less than 0")
    _check(celsius > -KELVIN, "--celsius", f"{celsius} is below absolute zero")
    rows = _at_the_station(angle_deg, radius_m)
    if rpm is not None:
        rows += _turning(rows[0][1], rpm, speed_m_s, diameter_m, celsius + KELVIN)
    if as_json:
        print(json.dumps({"event": "pitch", **{key: stated(value) for key, value, _ in rows}}))
    else:
        for _, value, say in rows:
            print(say.format(value))
    return 0


Row = tuple[str, float, str]


def _at_the_station(angle_deg: float, radius_m: float) -> list[Row]:
    advance = pitch.geometric_pitch(radius_m, angle_deg)
    twist = pitch.twist_deg_per_mm(angle_deg, radius_m)
    per_tenth = pitch.geometric_pitch(radius_m, angle_deg + 0.1) - advance
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
    ideal = pitch.geometric_mph(inches, rpm) * MILE_HOUR_M_S
    rows: list[Row] = [("geometric_speed_m_s", ideal, "speed without slip {:.1f} m/s")]
    if speed_m_s is not None:
        effective, slip = pitch.slip(inches, rpm, speed_m_s / MILE_HOUR_M_S)
        rows.append(("effective_pitch_m", effective * INCH_M, "effective pitch {:.3f} m"))
        rows.append(("slip", slip, "slip {:.1%} of the geometric pitch"))
    if diameter_m is None:
        return rows
    forward = speed_m_s or 0.0
    tip = pitch.tip_speed(diameter_m, rpm, forward)
    mach = pitch.tip_mach(diameter_m, rpm, temperature_k, forward)
    high = f", over {LIMIT_MACH}: see the manual's limits" if mach > LIMIT_MACH else ""
    rows.append(("tip_speed_m_s", tip, "tip speed {:.1f} m/s"))
    rows.append(("tip_mach", mach, "  = Mach {:.3f}" + high))
    if speed_m_s is not None:
        ratio = pitch.advance_ratio(speed_m_s, rpm, diameter_m)
        rows.append(("advance_ratio", ratio, "advance ratio J {:.3f}"))
    return rows


def _check(good: bool, key: str, problem: str) -> None:
    if not good:
        raise BadInputError("command line", key, problem)
