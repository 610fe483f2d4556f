"""Room in one direction: a surface pushed along an axis, with the walls that the push leaves behind."""

from __future__ import annotations

import numpy as np

from housingdesk.geometry.types import Floats

_FACING = 0.35  # cosine: what faces the push less than that is its side, not its end


def stretched(tris: Floats, axis: Floats, length_mm: float) -> Floats:
    """Return what a surface sweeps when its ends are pushed outward along an axis.

    Triangles that face the axis, to either side of the plane, are moved by ``length_mm``; the rim of the
    moved piece is joined to where it came from.  Together with the surface itself this bounds the union of
    all places on the way (the prism over each triangle is bounded by its two ends and its rim).

    Parameters
    ----------
    tris : (m, 3, 3) mm, corners counter-clockwise seen from outside.
    axis : (3,) unit.

    Returns
    -------
    (k, 3, 3) the moved triangles and their walls; empty where nothing faces the axis.
    """
    normals = np.cross(tris[:, 1] - tris[:, 0], tris[:, 2] - tris[:, 0])
    size = np.linalg.norm(normals, axis=1)
    facing = (normals @ axis) > _FACING * size
    if not facing.any():
        return np.zeros((0, 3, 3))
    ends = tris[facing]
    by = length_mm * np.asarray(axis, float)
    starts, stops = ends.reshape(-1, 3), np.roll(ends, -1, axis=1).reshape(-1, 3)
    # An edge that two of the triangles share lies inside; only the rim gets walls.
    key = np.round(np.stack([starts, stops], axis=1), 6) + 0.0
    low = _smaller_first(key)
    _, inverse, count = np.unique(low.reshape(len(low), 6), axis=0, return_inverse=True, return_counts=True)
    rim = count[inverse.ravel()] == 1
    a, b = starts[rim], stops[rim]
    walls = np.concatenate([np.stack([a, b, b + by], axis=1), np.stack([a, b + by, a + by], axis=1)])
    return np.concatenate([ends + by, walls])


def _smaller_first(edges: Floats) -> Floats:
    """Return (n, 2, 3) edges with their ends in lexical order, so that both directions are alike."""
    a, b = edges[:, 0], edges[:, 1]
    swap = np.zeros(len(edges), bool)
    decided = np.zeros(len(edges), bool)
    for axis in range(3):
        differs = ~decided & (a[:, axis] != b[:, axis])
        swap[differs] = a[differs, axis] > b[differs, axis]
        decided |= differs
    out = edges.copy()
    out[swap] = edges[swap][:, ::-1]
    return out
