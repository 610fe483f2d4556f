"""A closed loop moved inward, corner by corner: the rings from which chamfered and rounded rims are made."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.errors import SolidError
from housingdesk.geometry.types import Floats

Index = NDArray[np.intp]
_FLAT = 1e-9


def inset(loop: Floats, by_mm: float) -> Floats:
    """Move every edge of a loop inward and return where its corners go.

    Edges that shrink to nothing on the way (small rounds) are passed over: their corners meet where the edges
    beside them cross.  So the answer has as many corners as the loop, in the same order.

    Parameters
    ----------
    loop : (n, 2) mm, counter-clockwise, no corner twice.

    Raises
    ------
    SolidError : nothing is left.
    """
    along = np.roll(loop, -1, axis=0) - loop
    along = along / np.linalg.norm(along, axis=1)[:, None]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    depth = np.einsum("ij,ij->i", inward, loop)
    left = np.arange(len(loop))  # edge i runs from corner i to corner i + 1
    while True:
        if len(left) < 3:
            raise SolidError("The form is too small for edges of this size.")
        before = np.roll(left, 1)
        starts = _crossing(loop, inward, depth, before, left, 0.0)
        moved = _crossing(loop, inward, depth, before, left, by_mm)
        was = np.einsum("ij,ij->i", np.roll(starts, -1, axis=0) - starts, along[left])
        now = np.einsum("ij,ij->i", np.roll(moved, -1, axis=0) - moved, along[left])
        gone = np.flatnonzero(now < -_FLAT)
        if not len(gone):
            break
        # Lengths change evenly with the way: the edge that vanishes first goes first.
        first = gone[np.argmin(was[gone] / np.maximum(was[gone] - now[gone], _FLAT))]
        left = np.delete(left, first)
    # A corner goes where the edge at or after it begins; an edge passed over lends its neighbour's.
    place = np.searchsorted(left, np.arange(len(loop))) % len(left)
    return np.asarray(moved[place])


def _crossing(
    loop: Floats, inward: Floats, depth: Floats, first: Index, second: Index, by_mm: float
) -> Floats:
    """Return where lines ``first`` and ``second`` cross, all moved inward by ``by_mm``; (n, 2)."""
    a, b = inward[first], inward[second]
    p, q = depth[first] + by_mm, depth[second] + by_mm
    det = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    parallel = np.abs(det) < _FLAT
    if (parallel & (np.einsum("ij,ij->i", a, b) < 0)).any():
        raise SolidError("The form is too narrow for edges of this size.")
    det = np.where(parallel, 1.0, det)
    crossed = np.stack([p * b[:, 1] - q * a[:, 1], a[:, 0] * q - b[:, 0] * p], axis=1) / det[:, None]
    # Two edges in one line cross anywhere: their common corner goes straight in.
    return np.where(parallel[:, None], loop[second] + by_mm * b, crossed)


def without_straight_corners(loop: Floats, tolerance_mm: float = 1e-4) -> Floats:
    """Return a closed loop, (n, 2), without corners that lie between their neighbours in one line."""
    keep = np.ones(len(loop), bool)
    changed = True
    while changed:
        own = np.flatnonzero(keep)
        p = loop[own]
        before, after = np.roll(p, 1, axis=0), np.roll(p, -1, axis=0)
        chord = after - before
        size = np.maximum(np.linalg.norm(chord, axis=1), _FLAT)
        off = np.abs(chord[:, 0] * (p - before)[:, 1] - chord[:, 1] * (p - before)[:, 0]) / size
        weak = off < tolerance_mm
        weak &= ~np.roll(weak, 1)  # not two neighbours at once
        changed = bool(weak.any()) and len(own) > 3
        if changed:
            keep[own[weak]] = False
    return loop[keep]
