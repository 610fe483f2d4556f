"""Cable glands with metric thread; glands differ by maker."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from housingdesk.standards._data import Entry, Positive, Range, table
from housingdesk.standards.screws import across_corners_mm

GlandSize = Literal["M12", "M16", "M20", "M25"]


class Gland(Entry):
    """A cable gland.

    Attributes
    ----------
    thread_mm, hole_mm : nominal diameter, and the panel hole that clears it.
    cable_mm : diameters it seals on.
    nut_flats_mm, nut_height_mm : its locknut.
    shoulder_mm : width of its seat outside, over the corners.
    thread_length_mm : so long is the thread that goes through wall and nut.
    """

    thread_mm: Positive
    hole_mm: Positive
    cable_mm: Range
    nut_flats_mm: Positive
    nut_height_mm: Positive
    shoulder_mm: Positive
    thread_length_mm: Positive

    @property
    def nut_corners_mm(self) -> float:
        """Width of the locknut over its corners."""
        return across_corners_mm(self.nut_flats_mm)


def glands() -> Mapping[str, Gland]:
    """All glands by thread, smallest first."""
    return table("cable_glands", Gland)
