"""Decimal numbers as instruments write them. Never nan, inf, hex or underscores."""

import math
import re
from functools import lru_cache

_DECIMAL = re.compile(rb"[+-]?(?:\d{1,20}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,3})?\Z")


@lru_cache(maxsize=64)
def decimal(text: bytes, *, comma: bool = False) -> float | None:
    """Read one number in ASCII digits; None when it is anything else.

    comma: the decimal mark is a comma instead of a point.
    """
    text = text.strip(b" \t")
    if comma:
        if b"." in text:
            return None
        text = text.replace(b",", b".")
    if not _DECIMAL.match(text):
        return None
    value = float(text)
    return value if math.isfinite(value) else None
