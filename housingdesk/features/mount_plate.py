"""A flat plate under the housing with holes to a given drawing."""

from __future__ import annotations

import re
from typing import Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.plate import RIM_MM, FloorMount, Hole, foot, mounted
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats


class MountPlate(FloorMount):
    """A plate flush with the floor, wide enough for the holes of a drawing."""

    TITLE = "mounting plate"
    SENTENCE = (
        "Add a plate (thickness: {thickness_mm}) with holes Ø{hole_mm} at {points}, {rim_mm} of material "
        "around each."
    )

    kind: Literal["mount_plate"] = "mount_plate"
    points: str = Field(
        default="",
        max_length=2000,
        title="places",
        description="Places of the holes as on the drawing, in mm from the part's middle: across and to "
        "the back, separated by semicolons, such as -40 0; 40 0.",
    )
    hole_mm: float = Field(default=4.5, ge=0.5, le=50, title="hole", description="Diameter on the drawing.")
    head_mm: float = Field(
        default=9.0, ge=0.5, le=80, title="head", description="Widest thing on the plate: a washer or a head."
    )
    rim_mm: float = Field(default=4.0, ge=0.8, le=50, title="rim", description="Material around each hole.")

    def build(self, site: Site) -> Work:
        """Add the plate.

        Raises
        ------
        SpecError : places that cannot be read, or that lie under the housing.
        """
        places = read_points(self.points)
        radius = (self.hole_mm + site.hole_extra_mm) / 2
        holes = [Hole(Outline.circle(p, radius, outside=True), self.head_mm) for p in places]
        rims = [Outline.circle(p, radius + self.rim_mm) for p in places]
        return mounted(self, site, Outline.union([foot(site, self.thick_mm(site)), *rims]).hull(), holes)

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a plate with four holes beside the housing."""
        (x0, y0), (x1, y1) = site.outer_mm[:, :2].tolist()
        x0, x1 = x0 - 4.5 - RIM_MM, x1 + 4.5 + RIM_MM
        y0, y1 = y0 + 5.0, y1 - 5.0
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        return cls(points="; ".join(f"{x:.1f} {y:.1f}" for x, y in corners))


def read_points(text: str) -> list[Floats]:
    """Return places from text such as ``-40 0; 40 0``.

    Raises
    ------
    SpecError : not pairs of numbers, or none.
    """
    out = []
    for number, piece in enumerate(filter(str.strip, re.split(r"[;\n]", text)), 1):
        words = re.split(r"[\s,]+", piece.strip())
        try:
            x, y = (float(word) for word in words)
        except ValueError:
            raise SpecError(
                f"Place {number} '{piece.strip()}' is not two numbers; write places like -40 0; 40 0."
            ) from None
        if not (np.isfinite([x, y]).all() and max(abs(x), abs(y)) <= 1000):
            raise SpecError(f"Place {number} lies too far away; write places in mm from the part's middle.")
        out.append(np.array([x, y]))
    if not out:
        raise SpecError("The drawing has no holes yet; write their places like -40 0; 40 0.")
    return out
