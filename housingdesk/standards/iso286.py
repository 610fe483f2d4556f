"""Standard tolerances IT6 to IT14 of ISO 286-1."""

from __future__ import annotations

import math

from housingdesk.errors import SpecError
from housingdesk.standards._data import Entry, Figure, Positive, Source, table

# Multiples of the standard tolerance factor i, ISO 286-1: the R5 series from IT6 on.
GRADE_FACTOR = {6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100, 12: 160, 13: 250, 14: 400}
_STEPS_MM = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0, 180.0, 250.0, 315.0, 400.0, 500.0)
_FORMULA = Source(
    standard="ISO 286-1", mark="C", text="i = 0.45 D^(1/3) + 0.001 D micrometres, D = sqrt(step)"
)


class ItStep(Entry):
    """One step of sizes: over ``over_mm`` up to and with ``to_mm``; tolerances in micrometres."""

    over_mm: Positive
    to_mm: Positive
    it7_um: Positive
    it9_um: Positive
    it11_um: Positive
    it12_um: Positive
    it13_um: Positive
    it14_um: Positive


def factor_um(over_mm: float, to_mm: float) -> float:
    """Return the standard tolerance factor i of a step, micrometres; D is the geometric mean of its ends."""
    mean = math.sqrt(over_mm * to_mm)
    return 0.45 * math.cbrt(mean) + 0.001 * mean


def it_mm(size_mm: float, grade: int) -> Figure:
    """Return the whole width of a standard tolerance, mm.

    The published table where it was read, elsewhere the formula (unrounded, within 4 % of the table).

    Parameters
    ----------
    size_mm : nominal size, over 3 (below, the printed table leaves the formula) up to 500.
    grade : 6 to 14.

    Raises
    ------
    SpecError
        For a size or a grade outside these limits.
    """
    if grade not in GRADE_FACTOR:
        raise SpecError(f"IT{grade} is not in the table; take IT6 to IT14.")
    if not _STEPS_MM[0] < size_mm <= _STEPS_MM[-1]:
        raise SpecError("The tolerance grades cover sizes over 3 up to 500 mm; enter a size in between.")
    for step in table("iso286", ItStep).values():
        field = f"it{grade}_um"
        if step.over_mm < size_mm <= step.to_mm and field in ItStep.model_fields:
            return Figure(getattr(step, field) / 1000, step.source(field))
    at = next(i for i, end in enumerate(_STEPS_MM) if size_mm <= end)
    return Figure(GRADE_FACTOR[grade] * factor_um(_STEPS_MM[at - 1], _STEPS_MM[at]) / 1000, _FORMULA)
