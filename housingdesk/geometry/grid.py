"""The regular grid that the engine works on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from housingdesk.errors import PartError
from housingdesk.geometry.types import Floats

MAX_NODES = 1_100_000_000  # a byte each
PREFERRED = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)  # ISO 3:1973, series R10 (from memory)


@dataclass(frozen=True, slots=True)
class Grid:
    """A regular grid of nodes: origin and spacing in mm, counts along x, y, z."""

    origin: Floats
    spacing_mm: float
    counts: tuple[int, int, int]

    @property
    def arrays(self) -> tuple[Floats, NDArray[np.int64]]:
        """All of it in arrays, to be compared."""
        return np.array([*self.origin, self.spacing_mm]), np.array(self.counts)


def spacing_for(reach_mm: float, tolerance_mm: float) -> float:
    """Return the grid spacing at which a round of radius ``reach_mm`` is met within ``tolerance_mm``.

    A chord of length w departs from a round of radius R by w^2 / (8 R); points of neighbouring cells lie
    about one spacing apart.
    """
    return float(np.clip(0.9 * np.sqrt(8.0 * reach_mm * tolerance_mm), 8.0 * tolerance_mm, 2.0))


def preferred_mm(size_mm: float, *, up: bool) -> float:
    """Return the preferred number (ISO 3, series R10) next above a size or below it, or the size itself.

    Grids that follow such numbers stay where they are while a clearance changes a little.
    """
    decade = 10.0 ** np.floor(np.log10(size_mm))
    steps = np.array([*PREFERRED, 10.0]) * decade
    # A hair of rounding must not push a size that stands on a step to the next one.
    if up:
        return float(steps[np.searchsorted(steps, size_mm * (1 - 1e-9))])
    return float(steps[np.searchsorted(steps, size_mm * (1 + 1e-9), side="right") - 1])


def nodes_of(bounds: Floats, margin_mm: float, spacing_mm: float) -> float:
    """Return how many nodes the grid over a box and a margin around it has."""
    return float(np.prod(np.ceil(_size(bounds, margin_mm, spacing_mm) / spacing_mm) + 1))


def _size(bounds: Floats, margin_mm: float, spacing_mm: float) -> Floats:
    size: Floats = bounds[1] - bounds[0] + 2 * margin_mm + 4.0 * spacing_mm
    return size


def grid_for(bounds: Floats, margin_mm: float, spacing_mm: float) -> Grid:
    """Return the grid that covers a box and a margin around it; PartError where it would be too large."""
    low = bounds[0] - margin_mm - 2.0 * spacing_mm
    size = _size(bounds, margin_mm, spacing_mm)
    counts = np.ceil(size / spacing_mm).astype(np.int64) + 1
    if nodes_of(bounds, margin_mm, spacing_mm) > MAX_NODES:
        raise PartError(
            f"The part is too large for so fine a fit ({size[0]:.0f} x {size[1]:.0f} x {size[2]:.0f} mm); "
            "check its unit, or ask for more clearance."
        )
    return Grid(low, spacing_mm, (int(counts[0]), int(counts[1]), int(counts[2])))
