"""A base flange all around the floor, with a pattern of holes."""

from __future__ import annotations

from typing import Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.plate import (
    EDGE_ROOM_MM,
    HEAD_ROOM_MM,
    RIM_MM,
    FloorMount,
    Hole,
    MountSize,
    foot,
    head_mm,
    hole_mm,
    mounted,
    overhead,
    screw_lines,
)
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats


class Flange(FloorMount):
    """A plate that stands out all around the floor."""

    TITLE = "base flange"
    SENTENCE = (
        "Let the floor stand out all around (reach: {reach_mm}, thickness: {thickness_mm}), with {count} "
        "holes for "
        "screws {size}."
    )

    kind: Literal["flange"] = "flange"
    reach_mm: float | None = Field(
        default=None,
        ge=1,
        le=100,
        title="reach",
        description="How far it stands out. As needed: as much as a screw's head, its hole and a rim need.",
    )
    count: Literal["4", "6", "8"] = Field(
        default="4",
        title="holes",
        description="At the corners; 6 and 8 have more in the middle of the sides.",
    )
    size: MountSize = Field(default="M4", title="screws", description="Clear holes by ISO 273 medium.")

    def build(self, site: Site) -> Work:
        """Add the flange.

        Raises
        ------
        SpecError : no room for the holes, or it reaches over the parting plane.
        """
        diameter, head = hole_mm(site, self.size), head_mm(self.size)
        out = head / 2 + HEAD_ROOM_MM
        least = out + max(diameter / 2 + RIM_MM, head / 2 + self.broken_mm(site) + EDGE_ROOM_MM)
        reach = least if self.reach_mm is None else self.reach_mm
        if reach < out + diameter / 2 + 1.0:
            raise SpecError(
                f"A flange of {reach:g} mm has no room for screws {self.size}; let it stand out by "
                f"{least:.1f} mm."
            )
        thick = self.thick_mm(site)
        outline = (foot(site, thick) | overhead(site, thick)).hull()
        holes = [
            Hole(Outline.circle(place, diameter / 2, outside=True), head)
            for place in _pattern(outline.grown(out, "sharp"), int(self.count))
        ]
        plate = outline.grown(reach)
        # A sharp corner of the ring of holes lies further out than a rounded corner of the plate.
        plate = Outline.union([plate, *(h.outline.grown(least - out - diameter / 2) for h in holes)]).hull()
        bill = screw_lines(len(holes), self.size, self.name)
        return mounted(self, site, plate, holes, bill=bill)

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a flange as wide as its screws need."""
        return cls()


def _pattern(ring: Outline, count: int) -> list[Floats]:
    """Return places on a ring without dents: towards its corners, then in the middle of its sides."""
    loop = ring.loops[0]
    middle = ring.bounds.mean(axis=0)
    wide, deep = np.ptp(ring.bounds, axis=0).tolist()
    corners = [(1, 1), (-1, -1), (1, -1), (-1, 1)]
    sides = [(0, 1), (0, -1)] if wide >= deep else [(1, 0), (-1, 0)]
    rest = [(1, 0), (-1, 0)] if wide >= deep else [(0, 1), (0, -1)]
    ways = (corners + sides + rest)[:count]
    return [_towards(loop, middle, np.array(way, float)) for way in ways]


def _towards(loop: Floats, middle: Floats, way: Floats) -> Floats:
    """Return the place of a loop furthest along a direction; of a whole side, its middle."""
    along = (loop - middle) @ way
    best = loop[along > along.max() - 1e-6]
    return np.asarray((best.min(axis=0) + best.max(axis=0)) / 2)
