"""The way out of a turning shaft: a round hole through the wall, with a chamfered mouth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.errors import SolidError
from housingdesk.features.site import Shaft
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats

BEYOND_MM = 1.0  # cuts reach this far past the outer face, so that no skin stays


@dataclass(frozen=True, eq=False)
class Passage:
    """A shaft's hole through the wall, build frame.

    Attributes
    ----------
    zone : the turning zone it is for.
    axis : (3,) unit, pointing out.
    mouth_mm : (3,) on the axis, at the outer face.
    diameter_mm : of the hole.
    length_mm : through the wall.
    cut : what is taken from both halves.
    reaches : whether the shaft's end comes out of the housing.
    """

    zone: str
    axis: Floats
    mouth_mm: Floats
    diameter_mm: float
    cut: Solid
    reaches: bool


def passage(shaft: Shaft, form: Solid, mouth_chamfer_mm: float) -> Passage | None:
    """Return a shaft's way out of the outside form, or None where it meets no wall."""
    radius = shaft.diameter_mm / 2 + shaft.clearance_mm
    size = float(np.linalg.norm(np.ptp(form.bounds, axis=0))) + 10.0
    ray = Solid.rod(shaft.base_mm, shaft.base_mm + size * shaft.axis, 0.05)
    inside = form & ray
    if inside.is_empty:
        return None
    mouth = float(((inside.mesh().vertices - shaft.base_mm) @ shaft.axis).max())
    end = shaft.base_mm + shaft.axis * mouth
    try:
        cut = Solid.rod(shaft.base_mm, end + BEYOND_MM * shaft.axis, radius, outside=True)
        if mouth_chamfer_mm > 0:
            start = max(0.0, mouth - mouth_chamfer_mm)
            wide = radius + mouth_chamfer_mm + BEYOND_MM
            cone = Solid.rod(
                shaft.base_mm + shaft.axis * start,
                end + BEYOND_MM * shaft.axis,
                wide - (mouth + BEYOND_MM - start),
                wide,
                outside=True,
            )
            cut = cut | cone
    except SolidError:
        return None
    tip = float((shaft.tip_mm - shaft.base_mm) @ shaft.axis)
    return Passage(shaft.zone, shaft.axis, end, 2 * radius, cut, tip > mouth)
