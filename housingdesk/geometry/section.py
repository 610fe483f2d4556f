"""The outline in which a plane cuts a mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from housingdesk.geometry.types import Floats, Mesh
from housingdesk.geometry.weld import same_points


@dataclass(frozen=True, eq=False, slots=True)
class Loop:
    """One line of a section.

    Attributes
    ----------
    points : (k, 2) float64, mm in the drawing's own axes; the first point is not repeated.
    closed : whether the last point is joined to the first.
    """

    points: Floats
    closed: bool


def section(mesh: Mesh, origin_mm: ArrayLike, right: ArrayLike, up: ArrayLike) -> tuple[Loop, ...]:
    """Cut a mesh with a plane.

    Points exactly in the plane count as just in front of it (symbolic perturbation), so every triangle
    is crossed in two sides or not at all, and a closed mesh gives closed lines wherever the plane lies.

    Parameters
    ----------
    mesh : any mesh, welded or not, open, flipped or crowded.
    origin_mm : (3,) a point of the plane; (0, 0) of the drawing.
    right, up : (3,) orthonormal directions of the drawing's axes; the plane is looked at against
        ``right x up``.

    Returns
    -------
    The lines.  Of a closed mesh that faces outward all are closed, with the material on the left
    as drawn: outlines run counter-clockwise, holes clockwise.  Open lines come first.
    """
    origin, x, y = (np.asarray(v, np.float64).reshape(3) for v in (origin_mm, right, up))
    normal = np.cross(x, y)
    # Coordinate by coordinate: equal points must get equal heights, which a matrix product does not promise.
    v = mesh.vertices
    height = (v[:, 0] - origin[0]) * normal[0]
    height += (v[:, 1] - origin[1]) * normal[1]
    height += (v[:, 2] - origin[2]) * normal[2]
    front = height >= 0
    crossed = front[mesh.faces[:, 0]]
    crossed = (crossed != front[mesh.faces[:, 1]]) | (crossed != front[mesh.faces[:, 2]])
    faces = mesh.faces[crossed]
    if not len(faces):
        return ()

    used, number = np.unique(faces, return_inverse=True)
    first, kind = same_points(v[used])
    corners, heights = v[used][first], height[used][first]
    sides = kind[number.reshape(-1, 3)]
    start, end = sides.reshape(-1), sides[:, [1, 2, 0]].reshape(-1)
    cut = (heights[start] >= 0) != (heights[end] >= 0)
    falling = heights[start[cut]] >= 0  # in an outward triangle the line enters where a side falls through
    low = np.minimum(start[cut], end[cut]).astype(np.int64)
    high = np.maximum(start[cut], end[cut]).astype(np.int64)
    edge, node = np.unique(low * len(corners) + high, return_inverse=True)
    low, high = np.divmod(edge, len(corners))
    share = heights[low] / (heights[low] - heights[high])
    points = corners[low] + share[:, None] * (corners[high] - corners[low]) - origin
    drawn = np.column_stack([points @ x, points @ y])

    pairs, way = node.reshape(-1, 2), falling.reshape(-1, 2)
    segments = np.where(way[:, :1], pairs, pairs[:, ::-1])
    loops = [Loop(_plain(drawn[chain], closed), closed) for chain, closed in _chains(segments, len(edge))]
    return tuple(sorted((c for c in loops if len(c.points) > 1), key=lambda c: c.closed))


def _chains(segments: NDArray[np.int64], nodes: int) -> list[tuple[list[int], bool]]:
    """Join segments at their common nodes into as few lines as follow from walking on.

    Returns
    -------
    Each line's nodes in order, and whether it closes; a closed line does not repeat its first node.
    """
    at_node: list[list[int]] = [[] for _ in range(nodes)]
    ends = segments.tolist()
    for i, (a, b) in enumerate(ends):
        at_node[a].append(i)
        at_node[b].append(i)
    fresh = [True] * len(ends)

    def walk(node: int) -> list[int]:
        chain = [node]
        while True:
            # Onward segments first, so that lines keep their sense where many meet in a point.
            here = [i for i in at_node[node] if fresh[i]]
            if not here:
                return chain
            i = next((i for i in here if ends[i][0] == node), here[0])
            fresh[i] = False
            a, b = ends[i]
            node = b if a == node else a
            if node == chain[0]:
                return [*chain, node]
            chain.append(node)

    starts = [n for n in range(nodes) if len(at_node[n]) % 2]
    leaving = np.zeros(nodes, np.int64)
    np.add.at(leaving, segments[:, 0], 1)
    np.add.at(leaving, segments[:, 1], -1)
    starts.sort(key=lambda n: -int(leaving[n]))
    out = []
    for node in [*starts, *range(nodes)]:
        while any(fresh[i] for i in at_node[node]):
            chain = walk(node)
            closed = len(chain) > 2 and chain[0] == chain[-1]
            out.append((chain[:-1] if closed else chain, closed))
    return out


def _plain(points: Floats, closed: bool) -> Floats:
    """Drop points that repeat the one before; they arise where the plane passes through a corner."""
    keep = np.ones(len(points), bool)
    keep[1:] = np.any(points[1:] != points[:-1], axis=1)
    if closed and len(points) > 1:
        keep[0] = bool(np.any(points[0] != points[-1]))
    return points[keep]


def area_mm2(loops: Sequence[Loop]) -> float:
    """Return the area between closed lines by the even-odd rule, mm2; open lines enclose nothing.

    A line inside an odd number of others is a hole, whichever way round it runs.  Lines of one section of a
    clean body do not cross; where those of overlapping bodies do, the result is an estimate.
    """
    rings = [c.points for c in loops if c.closed and len(c.points) > 2]
    total = 0.0
    for i, ring in enumerate(rings):
        depth = sum(_encloses(other, ring[0]) for j, other in enumerate(rings) if j != i)
        total += (-1) ** (depth % 2) * abs(_shoelace(ring))
    return total


def _shoelace(ring: Floats) -> float:
    """Return the signed area of a ring, positive counter-clockwise (Gauss's area formula)."""
    x, y = (ring - ring[0]).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _encloses(ring: Floats, point: Floats) -> bool:
    """Tell whether a ring encloses a point: a ray along +x crosses it an odd number of times."""
    a, b = ring - point, np.roll(ring, -1, axis=0) - point
    spans = (a[:, 1] >= 0) != (b[:, 1] >= 0)
    a, b = a[spans], b[spans]
    crossing = a[:, 0] + (b[:, 0] - a[:, 0]) * a[:, 1] / (a[:, 1] - b[:, 1])
    return bool(np.count_nonzero(crossing > 0) % 2)
