"""Fits of printed parts in the trade's words, and how far a process strays; shop guidance, no standard."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, Self

from pydantic import Field, model_validator

from housingdesk.standards._data import Entry, Positive, Range, table

Process = Literal["filament", "resin"]
Fit = Literal["press", "snug", "sliding", "loose"]
PROCESSES: tuple[Process, ...] = ("filament", "resin")
FITS: tuple[Fit, ...] = ("press", "snug", "sliding", "loose")


class FitPreset(Entry):
    """A fit of one process: clearance a side, mm, and the range that published guidance spans."""

    process: Process
    fit: Fit
    clearance_mm: float = Field(ge=0)
    published_mm: Range

    @model_validator(mode="after")
    def _within(self) -> Self:
        if not self.published_mm.low <= self.clearance_mm <= self.published_mm.high:
            raise ValueError("the preset lies outside the range it is taken from")
        return self


class ProcessSpread(Entry):
    """How far prints of a process stray, mm; limits are +-.

    Attributes
    ----------
    hole_correction_mm : to be added to a hole's diameter, as holes come out small.
    outside_correction_mm : to be added to an outside size.
    hole_limit_mm, outside_limit_mm : scatter of a size, after correction.
    position_limit_mm : scatter of where a feature lies.
    """

    hole_correction_mm: float
    outside_correction_mm: float
    hole_limit_mm: Positive
    outside_limit_mm: Positive
    position_limit_mm: Positive


def fit_presets() -> Mapping[str, FitPreset]:
    """All presets, named 'filament press' and so on."""
    return table("fits", FitPreset)


def fit_preset(process: Process, fit: Fit) -> FitPreset:
    """Return the preset of a process and a fit."""
    return fit_presets()[f"{process} {fit}"]


def process_spread(process: Process) -> ProcessSpread:
    """Return how far a process strays; a printer profile with measured figures takes its place."""
    return table("processes", ProcessSpread)[process]


def off_words(correction_mm: float) -> str:
    """Say what a size needs as how it comes out."""
    if correction_mm == 0:
        return "to size"
    return f"{abs(correction_mm):g} mm too {'small' if correction_mm > 0 else 'large'}"
