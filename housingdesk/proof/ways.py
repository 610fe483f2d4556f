"""Ways out of shafts as built: their diameter, by sections of the finished halves."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.loops import distance
from housingdesk.geometry.section import section
from housingdesk.geometry.types import Floats, Mesh

SECTIONS = 4  # from the mouth to behind its chamfer
_PAST_MM = 0.1
_UP = np.array([0.0, 0.0, 1.0])


def measure_way(halves: Iterable[Mesh], mouth_mm: Floats, axis: Floats, chamfer_mm: float) -> float:
    """Return the diameter of the widest bar about an axis that passes a mouth and its chamfer, mm.

    Infinite where nothing is about it.
    """
    across = rotation_to(_UP, axis)[:3, :2].T
    depths = np.linspace(_PAST_MM / 2, chamfer_mm + _PAST_MM, SECTIONS).tolist()
    found = list(halves)
    lines = [
        [line.points for half in found for line in section(half, mouth_mm - depth * axis, *across)]
        for depth in depths
    ]
    return 2 * min(distance(loops, (0.0, 0.0)) for loops in lines)
