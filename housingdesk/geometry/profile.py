"""What a parting plane would cost at every height: relief and section, by counting grid nodes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.geometry.grid import Grid, grid_for
from housingdesk.geometry.marks import IN
from housingdesk.geometry.occupied import occupy
from housingdesk.geometry.offset import LEAST_REACH_MM
from housingdesk.geometry.types import Floats

MAX_CELLS_ALONG = 110  # keeps a count under a second; relief is then good to about one part in a hundred


@dataclass(frozen=True, eq=False)
class Profile:
    """Figures by height, all (k,) float64.

    Attributes
    ----------
    z_mm : heights of the grid's layers.
    lower_mm3 : relief cut from the lower half, if the plane lay at that height.
    upper_mm3 : the same for the upper half.
    section_mm2 : area of the grown part at that height.
    """

    z_mm: Floats
    lower_mm3: Floats
    upper_mm3: Floats
    section_mm2: Floats

    def relief_at(self, z_mm: float) -> tuple[float, float]:
        """Return the relief of the lower and the upper half for a plane at a height, mm3."""
        return (
            float(np.interp(z_mm, self.z_mm, self.lower_mm3)),
            float(np.interp(z_mm, self.z_mm, self.upper_mm3)),
        )

    def section_at(self, z_mm: float) -> float:
        """Return the section of the grown part at a height, mm2."""
        return float(np.interp(z_mm, self.z_mm, self.section_mm2))


def profile(tris: Floats, reach: Floats, *, seal_mm: float, cells_along: int = MAX_CELLS_ALONG) -> Profile:
    """Count relief and section at every height.

    Relief is what the sweep covers beyond the grown part, with hollows and sealed gaps filled.

    Parameters
    ----------
    tris : (m, 3, 3) the part in the build frame, mm; reach : (m,) its clearances, mm.
    """
    flat = tris.reshape(-1, 3)
    bounds = np.array([flat.min(axis=0), flat.max(axis=0)])
    reach = np.maximum(reach, LEAST_REACH_MM)
    h = float((bounds[1] - bounds[0]).max()) / cells_along
    # Skins thinner than a cell would be missed between nodes.
    reach = np.maximum(reach, 0.6 * h)
    grid = grid_for(bounds, float(reach.max()), h)
    grown = (occupy(tris, reach, grid=grid, seal_mm=seal_mm) & IN).astype(bool)
    up = (occupy(tris, reach, grid=grid, swept=True, seal_mm=seal_mm) & IN).astype(bool)
    mirror = tris * np.array([1.0, 1.0, -1.0])
    low = -(grid.origin[2] + h * (grid.counts[2] - 1))
    flipped = Grid(np.array([grid.origin[0], grid.origin[1], low]), h, grid.counts)
    down = (occupy(mirror, reach, grid=flipped, swept=True, seal_mm=seal_mm) & IN).astype(bool)[:, :, ::-1]
    lower = (up & ~grown).sum(axis=(0, 1)) * h**3
    upper = (down & ~grown).sum(axis=(0, 1)) * h**3
    return Profile(
        z_mm=grid.origin[2] + h * np.arange(grid.counts[2]),
        lower_mm3=np.cumsum(lower) - 0.5 * lower,
        upper_mm3=np.cumsum(upper[::-1])[::-1] - 0.5 * upper,
        section_mm2=grown.sum(axis=(0, 1)) * h**2,
    )
