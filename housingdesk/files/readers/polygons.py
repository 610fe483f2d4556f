"""Polygons into triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.types import Floats, Ints

_MAX_CORNERS = 2000  # ear clipping below is quadratic; larger outlines are cut as a fan


def triangulated(vertices: Floats, corners: NDArray[np.int64], sizes: NDArray[np.int64]) -> Ints:
    """Cut polygons into triangles that cover just the polygon, dented ones too.

    Parameters
    ----------
    vertices : (n, 3) float.
    corners : the corner indices of all polygons, one after another; each within ``vertices``.
    sizes : (p,) corners of each polygon; those with less than three are left out.

    Returns
    -------
    (m, 3) int32, turning the same way as the polygon; in no special order.
    """
    starts = np.cumsum(sizes) - sizes
    out: list[Ints] = []
    for size in np.unique(sizes[sizes >= 3]):
        loops = corners[starts[sizes == size][:, None] + np.arange(size)]
        dented = ~_convex(vertices, loops) if 3 < size <= _MAX_CORNERS else np.zeros(len(loops), bool)
        plain = loops[~dented]
        fan = np.stack(
            [np.repeat(plain[:, :1], size - 2, axis=1), plain[:, 1:-1], plain[:, 2:]], axis=-1
        ).reshape(-1, 3)
        out.append(fan.astype(np.int32))
        out.extend(_clip_ears(vertices[loop], loop) for loop in loops[dented])
    return np.vstack(out) if out else np.zeros((0, 3), np.int32)


def _convex(vertices: Floats, loops: NDArray[np.int64]) -> NDArray[np.bool_]:
    """For each loop of equal size, whether every corner turns the way the whole loop turns."""
    points = vertices[loops]
    points = points - points[:, :1]
    before, after = points - np.roll(points, 1, axis=1), np.roll(points, -1, axis=1) - points
    turns = np.cross(before, after)
    normal = np.cross(points, np.roll(points, -1, axis=1)).sum(axis=1)  # Newell's area vector, doubled
    return np.asarray((np.einsum("lkj,lj->lk", turns, normal) >= 0).all(axis=1))


def _clip_ears(points: Floats, loop: NDArray[np.int64]) -> Ints:
    """Triangulate one simple outline by ear clipping (Meisters 1975), in the plane of its area vector."""
    centred = points - points[0]
    normal = np.cross(centred, np.roll(centred, -1, axis=0)).sum(axis=0)
    drop = int(np.argmax(np.abs(normal)))
    flat = np.delete(centred, drop, axis=1) * ([1, -1][(drop == 1) ^ bool(normal[drop] < 0)], 1)
    left = list(range(len(loop)))
    out = []
    while len(left) > 3:
        ear = next((i for i in range(len(left)) if _is_ear(flat, left, i)), 0)
        out.append((left[ear - 1], left[ear], left[(ear + 1) % len(left)]))
        del left[ear]
    out.append((left[0], left[1], left[2]))
    return np.asarray(loop[np.array(out)], np.int32)


def _is_ear(flat: Floats, left: list[int], i: int) -> bool:
    """Whether corner ``i`` of a counter-clockwise outline bulges and no other corner lies in its triangle."""
    a, b, c = flat[left[i - 1]], flat[left[i]], flat[left[(i + 1) % len(left)]]
    if _turn(a, b, c) <= 0:
        return False
    others = flat[left]
    inside = (_turn(a, b, others) >= 0) & (_turn(b, c, others) >= 0) & (_turn(c, a, others) >= 0)
    corner = (others == a).all(axis=1) | (others == b).all(axis=1) | (others == c).all(axis=1)
    return not bool((inside & ~corner).any())


def _turn(a: Floats, b: Floats, p: Floats) -> Floats:
    """Twice the signed area of the triangles a, b, p."""
    ab, ap = b - a, p - a
    return np.asarray(ab[..., 0] * ap[..., 1] - ab[..., 1] * ap[..., 0])
