"""Edges of a triangle mesh: equal points welded, who meets at each edge, and how."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.types import Floats
from housingdesk.geometry.weld import same_points

Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Edges:
    """The edges of a mesh after welding equal points.

    Attributes
    ----------
    vertices : (k, 3) float64 mm, welded; points that no triangle uses are left out.
    faces : (m, 3) int64 into ``vertices``; triangles that lost a side by welding are left out.
    ends : (e, 2) int64 into ``vertices``, smaller number first.
    count : (e,) triangles at each edge.
    paired : (e,) bool, as many triangles run along the edge one way as the other.
    opposite : (e, 2) int64, third vertices of the first two triangles at the edge (-1 where there is none);
        where ``simple``, column 0 belongs to the triangle that runs along ``ends`` as given.
    simple : (e,) bool, exactly two triangles meet, in opposite directions.
    """

    vertices: Floats
    faces: Longs
    ends: Longs
    count: Longs
    paired: Flags
    opposite: Longs
    simple: Flags

    @property
    def closed(self) -> bool:
        """Whether the surface has no border and one outside."""
        return len(self.faces) > 0 and bool(self.paired.all())


def edges_of(points: NDArray[Any], triangles: NDArray[Any]) -> Edges:
    """Return the edge table of any mesh, welded or not, open, flipped or crowded.

    Parameters
    ----------
    points : (n, 3) float, mm.
    triangles : (m, 3) int, into ``points``.
    """
    used = np.zeros(len(points), bool)
    used[triangles] = True
    vertices = np.asarray(points, np.float64)[used]
    first, number = same_points(vertices)
    vertices = vertices[first]
    faces = number[(np.cumsum(used) - 1)[triangles]].reshape(-1, 3)
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    faces = faces[whole]
    start = faces.T.reshape(-1)
    end = faces[:, [1, 2, 0]].T.reshape(-1)
    third = faces[:, [2, 0, 1]].T.reshape(-1)
    forward = start < end
    low, high = np.where(forward, start, end), np.where(forward, end, start)
    # Forward runs first, so that column 0 of ``opposite`` is theirs.
    order = np.argsort((low * len(vertices) + high) * 2 + ~forward, kind="stable")
    low, high, third, forward = low[order], high[order], third[order], forward[order]
    new = np.ones(len(low), bool)
    new[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    at = np.flatnonzero(new)
    count = np.diff(np.append(at, len(low)))
    along = np.add.reduceat(forward.astype(np.int64), at) if len(at) else np.zeros(0, np.int64)
    second = np.full(len(at), -1, np.int64)
    second[count > 1] = third[at[count > 1] + 1]
    return Edges(
        vertices=vertices,
        faces=faces,
        ends=np.column_stack([low[at], high[at]]),
        count=count,
        paired=along * 2 == count,
        opposite=np.column_stack([third[at], second]),
        simple=(count == 2) & (along == 1),
    )


def bend(edges: Edges) -> Floats:
    """Return how far each edge stands out of the flat, mm.

    For an edge of exactly two triangles: height of the second triangle's far corner over the plane of the
    first, and the same the other way round, whichever is the greater in size; negative where the edge
    is a ridge seen from outside, positive in a valley, 0 where flat.  For any other edge, and beside a
    triangle of no area, minus infinity: nothing may be concluded about it.

    Returns
    -------
    (e,) float64.  The sign means ridge or valley only where ``edges.simple``.
    """
    out = np.full(len(edges.ends), -np.inf)
    two = np.flatnonzero(edges.count == 2)
    a, b = (edges.vertices[edges.ends[two, i]] for i in range(2))
    c, d = (edges.vertices[edges.opposite[two, i]] for i in range(2))
    first = np.cross(b - a, c - a)
    second = np.cross(d - a, b - a)
    with np.errstate(divide="ignore", invalid="ignore"):
        over_first = np.einsum("ij,ij->i", first, d - a) / np.linalg.norm(first, axis=1)
        over_second = np.einsum("ij,ij->i", second, c - a) / np.linalg.norm(second, axis=1)
    greater = np.where(np.abs(over_first) > np.abs(over_second), over_first, over_second)
    known = np.isfinite(over_first) & np.isfinite(over_second)
    out[two[known]] = greater[known]
    return out
