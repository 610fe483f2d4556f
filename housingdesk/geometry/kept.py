"""The space a part fills in its seat, without a way in: for a half whose material is to be kept."""

from __future__ import annotations

import numpy as np

from housingdesk.geometry.grid import grid_for, spacing_for
from housingdesk.geometry.offset import CAVITY_SLACK, LEAST_REACH_MM, THINNED, without_hollows
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.surface import surface
from housingdesk.geometry.types import Floats


def seated_cavity(tris: Floats, reach: Floats, *, seal_mm: float, tolerance_mm: float = 0.02) -> Solid:
    """Return the grown part, its hollows and narrow gaps filled.

    Every surface point is at least ``reach`` from the seated part, and at most ``tolerance_mm`` further where
    the exact grown part is flat.

    Parameters
    ----------
    tris : (m, 3, 3) the part in the build frame, mm.
    reach : (m,) clearance of each triangle, mm.
    seal_mm : gaps narrower than this are not printed into.
    """
    reach = np.maximum(reach, LEAST_REACH_MM) + CAVITY_SLACK * tolerance_mm
    flat = tris.reshape(-1, 3)
    bounds = np.array([flat.min(axis=0), flat.max(axis=0)])
    # The skin around the surface must be thick enough to keep the flood out.
    h = min(spacing_for(float(reach.min()), tolerance_mm), 1.1 * float(reach.min()))
    # The flood begins where no triangle is near, and near is half the seal and a skin further out.
    grid = grid_for(bounds, float(reach.max()) + seal_mm / 2 + 2 * h, h)
    points, faces = surface(tris, reach, grid=grid, seal_mm=seal_mm, lift_sides=True)
    return without_hollows(points, faces, THINNED * tolerance_mm)
