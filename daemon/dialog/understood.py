"""What a person types, understood: each function returns a value, or says in words why not.

Every one raises ValueError with a sentence that is shown before the question is asked again. A
comma may stand for the decimal point. Lengths come out in metres, angles in degrees.
"""

import math
import re
from collections.abc import Mapping, Sequence
from typing import TypeVar

from shared.torque import SAID, Unit

Value = TypeVar("Value")
LONGEST = 200
"""Characters of an answer in words."""
METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
"""One of each unit in metres; inch and foot exactly (NIST SP 811, 2008, appendix B)."""
_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_DEGREES = re.compile(rf"({_NUMBER})\s*(?:°|deg|degs|degree|degrees)?", re.IGNORECASE)
_MINUTES = re.compile(
    r"([+-]?)(\d+)\s*(?:°|deg)\s*(\d+(?:[.,]\d*)?)\s*(?:'|\u2032|min)", re.IGNORECASE
)
_LENGTH = re.compile(rf"({_NUMBER})(?:\s+(\d+)/(\d+))?\s*([A-Za-z\"]+)")
_TORQUE = re.compile(rf"({_NUMBER})\s*(.*)")
_UNITS: dict[str, Unit] = {"nm": "N.m", "inlb": "lbf.in", "ftlb": "lbf.ft"}


def words(text: str) -> str:
    """Return words as they are; some have to be there."""
    if not text:
        raise ValueError("Something has to stand here.")
    return said(text)


def said(text: str) -> str:
    """Return words as they are, or none."""
    if len(text) > LONGEST:
        raise ValueError(f"That is {len(text)} characters long: at most {LONGEST}.")
    if not text.isprintable() or "\ufffd" in text:
        raise ValueError("There is a character in it that cannot be printed: type it again.")
    return text


def whole(text: str, least: int, most: int) -> int:
    """Return a whole number between two, which count."""
    if not re.fullmatch(r"\d{1,9}", text) or not least <= int(text) <= most:
        raise ValueError(f"{text!r} is no whole number from {least} to {most}.")
    return int(text)


def angle(text: str, low_deg: float, high_deg: float) -> float:
    """Return an angle between two, which do not count: "17.5", "17,5 deg" or "17° 30'"."""
    found = _minutes(text)
    if found is None:
        plain = _DEGREES.fullmatch(text)
        if plain is None:
            raise ValueError(f"{text!r} is no angle: type degrees such as 17.5, or 17° 30'.")
        found = _finite(plain[1])
    if not low_deg < found < high_deg:
        raise ValueError(
            f"{found:g} degrees cannot be: more than {low_deg:g} and less than {high_deg:g}."
        )
    return found


def _minutes(text: str) -> float | None:
    found = _MINUTES.fullmatch(text)
    if found is None:
        return None
    minutes = _finite(found[3])
    if minutes >= 60.0:
        raise ValueError(f"{minutes:g} minutes are more than a degree.")
    size = int(found[2]) + minutes / 60.0
    return -size if found[1] == "-" else size


def length(text: str) -> float:
    """Return a length in metres: "620 mm", "0.62 m", "24 3/8 in"."""
    found = _LENGTH.fullmatch(text)
    unit = (
        {'"': "in", "inch": "in", "inches": "in"}.get(found[4].lower(), found[4].lower())
        if found
        else ""
    )
    if found is None or unit not in METRES:
        units = ", ".join(METRES)
        raise ValueError(
            f"{text!r} is no length: a number with its unit ({units}), such as 620 mm."
        )
    value = _finite(found[1])
    if found[2]:
        if int(found[3]) == 0:
            raise ValueError(f"{text!r} divides by nothing.")
        value += int(found[2]) / int(found[3])
    metres = value * METRES[unit]
    if not 0.01 <= metres <= 5.0:
        raise ValueError(f"{metres:g} m is no radius of a propeller: 10 mm to 5 m.")
    return round(metres, 6)


def torque(text: str) -> tuple[float, Unit]:
    """Return a torque with its unit: "12 Nm", "106 lbf in", "9 ft-lb"."""
    found = _TORQUE.fullmatch(text)
    unit = _torque_unit(found[2]) if found else None
    if found is None or unit is None:
        units = ", ".join(SAID.values())
        raise ValueError(f"{text!r} is no torque: a number with its unit ({units}), such as 12 Nm.")
    value = _finite(found[1])
    if value <= 0.0:
        raise ValueError("A torque is more than nothing.")
    return value, unit


def _torque_unit(text: str) -> Unit | None:
    letters = re.sub(r"[^a-z]", "", text.lower()).replace("lbf", "lb").replace("lbs", "lb")
    letters = letters.replace("newtonmetres", "nm").replace("newtonmetre", "nm")
    letters = {"lbin": "inlb", "lbft": "ftlb"}.get(letters, letters)
    return _UNITS.get(letters)


def passes(text: str, full: float) -> list[float]:
    """Return passes as shares of the torque, the last 1.

    They are typed as percent ("50 100"), as shares ("0.5 1") or as the torque of each pass
    ("6 12"), whose last is the whole torque.
    """
    given = [_finite(one) for one in re.findall(_NUMBER, text)]
    left = re.sub(_NUMBER, "", text.lower())
    if not given or re.sub(r"(?:percent|nm|n\.m|and|then|[%;,\s]|lbf?|in|ft|-)+", "", left):
        raise ValueError(f"{text!r}: type the passes in their order, such as 50 % 100 %.")
    whole_is = next((one for one in (100.0, full, 1.0) if math.isclose(given[-1], one)), None)
    if whole_is is None:
        raise ValueError(f"The last pass has to be the whole torque: 100 %, or {full:g}.")
    shares = [round(one / whole_is, 6) for one in given]
    if shares != sorted(set(shares)) or shares[0] <= 0.0:
        raise ValueError("Each pass has to be tighter than the one before it.")
    return shares


def choice(text: str, options: Mapping[str, Value]) -> Value:
    """Return what is meant by a word, by the beginning of one, or by its number from 1."""
    names = list(options)
    lower = text.lower()
    if lower.isdecimal() and 1 <= int(lower[:4]) <= len(names):
        return options[names[int(lower[:4]) - 1]]
    exact = [name for name in names if name.lower() == lower]
    near = exact or [name for name in names if lower and name.lower().startswith(lower)]
    if len(near) != 1:
        raise ValueError(f"{text!r} is none of these: {', '.join(names)}.")
    return options[near[0]]


def yes(text: str) -> bool:
    """Return whether it is a yes."""
    if text.isdecimal():
        raise ValueError(f"{text!r} is neither yes nor no.")
    return choice(text, {"yes": True, "no": False})


def labels(text: str, blades: int) -> list[str]:
    """Return a name for each blade, or none at all."""
    found = [one.strip() for one in said(text).split(",") if one.strip()]
    if found and len(found) != blades:
        raise ValueError(f"That names {len(found)} blades, and there are {blades}.")
    if len({one.lower() for one in found}) != len(found):
        raise ValueError("Two blades have the same name.")
    return found


def listed(text: str, count: int) -> list[str]:
    """Return words between commas, so many where a count is given, or none at all."""
    found = [one.strip() for one in said(text).split(",")] if text else []
    if "" in found:
        raise ValueError("Between two commas something has to stand, such as none.")
    if found and count and len(found) != count:
        raise ValueError(f"That names {len(found)}, and there are {count} blades.")
    return found


def clamps(text: str, blades: int) -> list[list[int]]:
    """Return which blades one tightening turns together; [] means all of them.

    They are typed as "all", "each", or sets between commas: "1 2, 3 4".
    """
    if text.lower() == "all":
        return []
    if text.lower() == "each":
        return [[blade] for blade in range(1, blades + 1)]
    if not re.fullmatch(r"[\d\s+,&]+", text):
        raise ValueError(f"{text!r}: type all, each, or sets of blades such as 1 2, 3 4.")
    sets = [[int(one[:4]) for one in re.findall(r"\d+", part)] for part in text.split(",")]
    _once_each([blade for one in sets for blade in one], blades)
    found = [one for one in sets if one]
    return found if len(found) > 1 else []


def _once_each(named: Sequence[int], blades: int) -> None:
    missing = [str(blade) for blade in range(1, blades + 1) if blade not in named]
    if missing:
        raise ValueError(f"Blade {missing[0]} is in no set: each of {blades} has to be.")
    if len(named) != blades:
        raise ValueError(f"A blade is named twice, or one that is not there: 1 to {blades}.")


def name_of_level(text: str) -> str:
    """Return a name of a level as a job file takes it."""
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}", text):
        raise ValueError(f"{text!r}: a name has letters, digits, - and _, and begins with no sign.")
    return text


def name_of_bolts(text: str) -> str:
    """Return a name of a group of bolts as a job file takes it."""
    if not re.fullmatch(r"[a-z0-9][a-z0-9 +-]{0,11}", text.lower()):
        raise ValueError(f"{text!r}: at most 12 letters, digits and blanks.")
    return text.lower()


def _finite(text: str) -> float:
    value = float(text.replace(",", "."))
    if not math.isfinite(value) or abs(value) > 1e9:
        raise ValueError(f"{text} is too large to be meant.")
    return value
