"""How figures are written in findings."""

from __future__ import annotations

from collections.abc import Iterable

SLACK_MM = 0.01  # what a clearance may fall short: a twentieth of a printer's repeatability (common practice)


def mm(value: float, beside: float | None = None) -> str:
    """Write a length; with a third decimal where two would hide its difference from ``beside``."""
    close = beside is not None and value != beside and abs(value - beside) < 0.015
    return f"{value:.3f} mm" if close else f"{value:.2f} mm"


def volume(value_mm3: float) -> str:
    """Write a volume: cm³ from 1 cm³ on, mm³ below."""
    if abs(value_mm3) >= 1000.0:
        return f"{value_mm3 / 1000.0:.1f} cm³"
    return f"{value_mm3:.0f} mm³"


def triple(point: Iterable[float]) -> tuple[float, float, float] | None:
    """Return a place as plain numbers, or None where it is none."""
    x, y, z = (float(c) for c in point)
    return (x, y, z) if x == x and y == y and z == z else None
