"""Points and closed lines of the plane: which holds which, and how far apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from housingdesk.geometry.types import Floats


def nearest_spot(loop: Floats, point: ArrayLike) -> Floats:
    """Return the (2,) spot of a closed line, (k, 2), that is nearest to a (2,) point."""
    at = np.asarray(point, float)
    way = np.roll(loop, -1, axis=0) - loop
    share = np.einsum("ij,ij->i", at - loop, way) / np.maximum(np.einsum("ij,ij->i", way, way), 1e-300)
    spots = loop + np.clip(share, 0.0, 1.0)[:, None] * way
    nearest: Floats = spots[np.linalg.norm(spots - at, axis=1).argmin()]
    return nearest


def distance(loops: Sequence[Floats], point: ArrayLike) -> float:
    """Return the least distance of a (2,) point to closed lines, mm; infinite without lines."""
    at = np.asarray(point, float)
    return min((float(np.linalg.norm(nearest_spot(loop, at) - at)) for loop in loops), default=float("inf"))


def contains(loops: Sequence[Floats], point: ArrayLike) -> bool:
    """Tell whether a (2,) point lies inside closed lines; those within others are holes (crossing number)."""
    x, y = np.asarray(point, float).tolist()
    inside = False
    for a in loops:
        b = np.roll(a, -1, axis=0)
        crosses = (a[:, 1] > y) != (b[:, 1] > y)
        rise = np.where(crosses, b[:, 1] - a[:, 1], 1.0)
        at = a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0])
        inside ^= bool(np.count_nonzero(crosses & (at > x)) % 2)
    return inside


def length(loop: Floats) -> float:
    """Return the length of a closed line, (k, 2), mm."""
    return float(np.linalg.norm(np.roll(loop, -1, axis=0) - loop, axis=1).sum())


def spread(loop: Floats, step_mm: float) -> Floats:
    """Return (n, 2) the corners of a closed line, (k, 2), and places between them, a step apart or less."""
    ends = np.roll(loop, -1, axis=0)
    pieces = np.ceil(np.linalg.norm(ends - loop, axis=1) / step_mm).astype(int).clip(1)
    return np.concatenate(
        [a + np.arange(n)[:, None] / n * (b - a) for a, b, n in zip(loop, ends, pieces.tolist(), strict=True)]
    )
