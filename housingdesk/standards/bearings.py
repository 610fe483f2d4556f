"""Deep groove ball bearings (ISO 15) and plain bushes with a shoulder (ISO 2795): boundary dimensions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Self

from pydantic import model_validator

from housingdesk.standards._data import Entry, Positive, table


class Bearing(Entry):
    """A ball bearing by its designation: bore, outside diameter and width, mm."""

    bore_mm: Positive
    outside_mm: Positive
    width_mm: Positive

    @model_validator(mode="after")
    def _ring(self) -> Self:
        if self.bore_mm >= self.outside_mm:
            raise ValueError("a bearing's bore is smaller than its outside")
        return self


def bearings() -> Mapping[str, Bearing]:
    """All bearings by designation, in the table's order."""
    return table("iso15", Bearing)


def bearing_for(shaft_mm: float, slack_mm: float = 0.05) -> tuple[Bearing, ...]:
    """Bearings whose bore is the shaft's diameter within ``slack_mm``, the smallest outside first."""
    fitting = (b for b in bearings().values() if abs(b.bore_mm - shaft_mm) <= slack_mm)
    return tuple(sorted(fitting, key=lambda b: (b.outside_mm, b.width_mm)))


class Bush(Entry):
    """A plain bush with a shoulder, mm; the length goes over the shoulder."""

    bore_mm: Positive
    outside_mm: Positive
    length_mm: Positive
    shoulder_mm: Positive
    shoulder_thick_mm: Positive


def bush_for(shaft_mm: float, slack_mm: float = 0.05) -> tuple[Bush, ...]:
    """Return bushes whose bore is the shaft's diameter within ``slack_mm``; all figures are from memory."""
    return tuple(b for b in bushes().values() if abs(b.bore_mm - shaft_mm) <= slack_mm)


def bushes() -> Mapping[str, Bush]:
    """All bushes by bore."""
    return table("iso2795", Bush)
