"""What a proof measures on one half."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HalfFacts:
    """Figures of one half, all measured on its finished mesh.

    Attributes
    ----------
    min_gap_mm, min_gap_at_mm : least distance to the untouched part, and where on the part.
    way_gap_mm : least distance met while the part goes straight in; None when not measured (draft).
    overlap_mm3 : part inside the half, 0 where it fits.
    relief_mm3 : material taken only so that the part can go in.
    wall_mm, floor_mm : least material beside the cavity and under (over) it, inf where none was found.
    """

    volume_mm3: float
    triangles: int
    size_mm: tuple[float, float, float]
    min_gap_mm: float
    min_gap_at_mm: tuple[float, float, float]
    way_gap_mm: float | None
    overlap_mm3: float
    relief_mm3: float
    wall_mm: float
    floor_mm: float
