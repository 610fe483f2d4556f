"""General tolerances for lengths, ISO 2768-1."""

from __future__ import annotations

from typing import Literal

from housingdesk.errors import SpecError
from housingdesk.standards._data import Entry, Figure, Positive, table

Grade = Literal["f", "m", "c"]


class GeneralTolerance(Entry):
    """+- limits for sizes over ``over_mm`` up to and with ``to_mm``: fine, medium, coarse."""

    over_mm: Positive
    to_mm: Positive
    f: Positive
    m: Positive
    c: Positive


def general_limit_mm(size_mm: float, grade: Grade) -> Figure:
    """Return the +- limit of a size without a tolerance of its own, mm.

    Raises
    ------
    SpecError
        For sizes under 0.5 or over 400 mm.
    """
    for row in table("iso2768", GeneralTolerance).values():
        # The first step includes its lower end.
        if (row.over_mm < size_mm or size_mm == row.over_mm == 0.5) and size_mm <= row.to_mm:
            return row.figure(grade)
    raise SpecError("The general tolerances cover sizes from 0.5 to 400 mm; enter a size in between.")
