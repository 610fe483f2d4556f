"""Where a mesh bends: the thin lines that are drawn on the bench.  Pure, neither Qt nor VTK.

Cutting leaves slivers in flats: triangles so narrow that the rounding of their corners turns their normals
anywhere.  Drawn as they are, such a flat has stray lines.  A sliver is therefore taken to lie in the plane
of the triangle it shares its longest side with.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.types import Mesh
from housingdesk.geometry.weld import same_points

SLIVER_MM = 0.01  # least height of a triangle whose normal is believed (own choice)
_ROUNDS = 12  # slivers beside slivers: how many deep

Longs = NDArray[np.int64]


def crease_lines(mesh: Mesh, angle_deg: float) -> Longs:
    """Return the edges at which a mesh bends by more than an angle, and its open borders.

    Parameters
    ----------
    mesh : any mesh; equal points count as one.

    Returns
    -------
    (k, 2) int64 pairs of vertices.  Edges of more than two triangles are left out.
    """
    if not mesh.triangles:
        return np.zeros((0, 2), np.int64)
    first, kind = same_points(mesh.vertices)
    faces = kind[mesh.faces].astype(np.int64)
    points = mesh.vertices[first]
    corners = points[faces]
    sides = np.roll(corners, -1, axis=1) - corners
    normals = np.cross(sides[:, 0], sides[:, 1])
    doubled = np.linalg.norm(normals, axis=1)  # areas
    longest = np.linalg.norm(sides, axis=2).max(axis=1)
    sliver = doubled <= SLIVER_MM * longest
    normals /= np.where(doubled > 0, doubled, 1.0)[:, None]

    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    code = np.minimum(start, end) * len(points) + np.maximum(start, end)
    order = np.argsort(code, kind="stable")
    ordered = code[order]
    opens = np.flatnonzero(np.diff(ordered, prepend=-1))
    count = np.diff(opens, append=len(ordered))
    of = order // 3
    pairs = opens[count == 2]
    left, right, ends = of[pairs], of[pairs + 1], ordered[pairs]

    _lay_in_the_plane_beside(normals, sliver, left, right, _length(points, ends))
    bends = (normals[left] * normals[right]).sum(axis=1) < np.cos(np.radians(angle_deg))
    drawn = np.concatenate([ends[bends], ordered[opens[count == 1]]])
    return np.asarray(first[np.column_stack(np.divmod(drawn, len(points)))], np.int64)


def _length(points: NDArray[np.float64], ends: Longs) -> NDArray[np.float64]:
    low, high = np.divmod(ends, len(points))
    return np.asarray(np.linalg.norm(points[high] - points[low], axis=1))


def _lay_in_the_plane_beside(
    normals: NDArray[np.float64],
    sliver: NDArray[np.bool_],
    left: Longs,
    right: Longs,
    length_mm: NDArray[np.float64],
) -> None:
    """Give each sliver the normal across the longest side it shares with a triangle that is believed."""
    believed = ~sliver
    for _ in range(_ROUNDS):
        one_sided = np.flatnonzero(believed[left] != believed[right])
        if not len(one_sided):
            return
        one_sided = one_sided[np.argsort(length_mm[one_sided], kind="stable")]
        swap = believed[left[one_sided]]
        unsure = np.where(swap, right[one_sided], left[one_sided])
        sure = np.where(swap, left[one_sided], right[one_sided])
        normals[unsure] = normals[sure]  # the last of equal indices counts: the longest side
        believed[unsure] = True
