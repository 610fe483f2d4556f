"""How far it is from a place to the finished halves, in a straight line."""

from __future__ import annotations

import numpy as np

from housingdesk.geometry.section import section
from housingdesk.geometry.types import Floats, Mesh


def free_mm(half: Mesh, at: Floats, way: Floats, beside: Floats) -> float:
    """Return how far it is from a place to a half; infinite where nothing is ahead.

    Parameters
    ----------
    at, way : (3,) a place, and the unit direction looked in, build frame.
    beside : (3,) unit, square to ``way``: with it the plane of the section that is looked in.
    """
    least = np.inf
    for line in section(half, at, way, beside):
        a, b = line.points, np.roll(line.points, -1, axis=0)
        crosses = (a[:, 1] >= 0) != (b[:, 1] >= 0)
        a, b = a[crosses], b[crosses]
        ahead = a[:, 0] - a[:, 1] * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        least = min(least, float(ahead[ahead > 0].min(initial=np.inf)))
    return least
