"""Reading and writing numbers as people type them.  No Qt."""

from __future__ import annotations

import math
import re

# The inch is 25.4 mm exactly (international yard and pound agreement, 1959).
_FACTOR_MM = {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, '"': 25.4}
# No second digit after a leading nought: 00.850 is what is left of two numbers typed into one another.
_NUMBER = re.compile(r"([+-]?(?:(?:0|[1-9]\d*)[.,]?\d*|[.,]\d+))\s*([a-zA-Z\"]*)")


def read_number(text: str, unit: str, least: float, most: float, *, whole: bool = False) -> float:
    """Read what somebody typed into a field.

    Parameters
    ----------
    text : a decimal number with point or comma; for lengths a unit may follow (mm, cm, m, in).
    unit : unit of the field, ``mm`` or a sign such as ``°``.
    least, most : limits of the field, both allowed.
    whole : only whole numbers are taken, as for counts.

    Returns
    -------
    The value in the field's unit.

    Raises
    ------
    ValueError
        With a plain sentence, when it is no number or lies outside the limits.
    """
    stripped = text.strip() if unit == "mm" else text.strip().removesuffix(unit).strip()
    match = _NUMBER.fullmatch(stripped)
    if not match:
        raise ValueError(
            f"“{text.strip()}” is not a number; type one such as {write_number(max(least, 1.0))}."
        )
    digits, suffix = match[1].replace(",", "."), match[2].lower()
    if suffix and (unit != "mm" or suffix not in _FACTOR_MM):
        raise ValueError(f"“{match[2]}” is not a unit known here; type {unit or 'a bare number'}.")
    value = float(digits) * _FACTOR_MM[suffix]
    if whole and value != round(value):
        raise ValueError(f"“{text.strip()}” is not a whole number; only those are taken here.")
    if not math.isfinite(value) or not least <= value <= most:
        raise ValueError(
            f"Choose a number from {write_number(least)} to {write_number(most)} {unit}.".replace(" .", ".")
        )
    return value


def write_number(value: float, decimals: int = 2) -> str:
    """Write a value with fixed decimals, never as minus nought."""
    text = f"{value:.{decimals}f}"
    return text[1:] if float(text) == 0 and text.startswith("-") else text


def size_words(size_mm: tuple[float, float, float]) -> str:
    """Write a size as ``61.5 × 44.0 × 22.0 mm``."""
    return " × ".join(write_number(float(s), 1) for s in size_mm) + " mm"
