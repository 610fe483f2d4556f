"""Merging cells whose piece of the surface is the same throughout, so that flats come in few large faces.

Merged are cubes of cells that one plane runs through, and rods of cells along an axis in all of which the
surface is the same.

*Why the surface stays closed and unfolded.*  A merged cell is a box, and the surface in it one flat or ruled
piece that ends on the box.  Seen on the surface the boxes are convex tiles; two of them share at most one
side, every tile's point lies in its tile, and around a crossed grid edge the tiles' points follow each other
in a circle.  The faces (see ``quilt``) are the dual of that tiling.  Cells next to a bend are left as they
are: every face at a merged point lies in the plane, or joins the parallel lines, that the surface consists of
there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.contour import SAME_MM, SAME_TURN
from housingdesk.geometry.marks import IN, find
from housingdesk.geometry.nearest import jit
from housingdesk.geometry.types import Floats

CUBE = 32  # greatest merged box, in cells; a power of two
FLAT = 8


@jit
def find_even(
    state: NDArray[np.uint8],
    x_from: int,
    x_to: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    points: Floats,
    even: NDArray[np.uint8],
) -> None:
    """Mark the cells of some cell columns through which the surface runs on along an axis.

    Parameters
    ----------
    starts, height, points : all crossed cells of the grid.
    even : (cells,), changed in place; gets the bit of an axis where the points before and behind lie in one
        line with the cell's own.
    """
    ny = state.shape[1] - 1
    for i in range(x_from, x_to):
        for j in range(ny):
            for c in range(starts[i * ny + j], starts[i * ny + j + 1]):
                k = height[c]
                for axis in range(3):
                    if _crossed(state, i, j, k, axis):
                        continue
                    u, w = (axis + 1) % 3, (axis + 2) % 3
                    a, b = int(axis == 0), int(axis == 1)
                    same = 0
                    for step in (-1, 1):
                        d = _cell(starts, height, ny, i + step * a, j + step * b, k + step * (1 - a - b))
                        if d >= 0 and _in_line(points, c, d, u, w):
                            same += 1
                    if same == 2:
                        even[c] |= 1 << axis


@jit
def find_calm(
    x_from: int,
    x_to: int,
    ny: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    points: Floats,
    flat: Floats,
    even: NDArray[np.uint8],
    calm: NDArray[np.uint8],
) -> None:
    """Mark the cells of some cell columns that may be merged, looking at the cells around.

    Parameters
    ----------
    flat : (cells, 3) normal of cells that one plane runs through, zero for others.
    even : from ``find_even``.
    calm : (cells,), changed in place; gets the bit of an axis where the surface runs on along it in the cell
        and beside it, and ``FLAT`` where all cells around lie in one plane with it.  So whatever a face joins
        to a merged cell's point lies in the cell's own lines or plane.
    """
    for i in range(x_from, x_to):
        for j in range(ny):
            for c in range(starts[i * ny + j], starts[i * ny + j + 1]):
                mark = even[c] | (FLAT if _coplanar(points, flat, c, c) else 0)
                for di in range(-1, 2):
                    for dj in range(-1, 2):
                        for dk in range(-1, 2):
                            away = abs(di) + abs(dj) + abs(dk)
                            if mark == 0 or away == 0 or away == 3:
                                continue
                            d = _cell(starts, height, ny, i + di, j + dj, height[c] + dk)
                            if d < 0:
                                continue
                            if mark & FLAT and not _coplanar(points, flat, c, d):
                                mark ^= FLAT
                            beside = (1 if di == 0 else 0) | (2 if dj == 0 else 0) | (4 if dk == 0 else 0)
                            mark &= ~(beside & ~even[d])
                calm[c] = mark


@jit
def _cell(starts: NDArray[np.int64], height: NDArray[np.int32], ny: int, i: int, j: int, k: int) -> int:
    """Return the number of a crossed cell, -1 where the surface does not cross it."""
    at = i * ny + j
    if i < 0 or j < 0 or j >= ny or at >= starts.shape[0] - 1 or starts[at] == starts[at + 1]:
        return -1
    d = find(height, starts[at], starts[at + 1], k)
    return d if height[d] == k else -1


@jit
def merge(
    x_from: int,
    x_to: int,
    ny: int,
    nz: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    points: Floats,
    flat: Floats,
    calm: NDArray[np.uint8],
    leader: NDArray[np.int32],
) -> None:
    """Merge cells of the cell columns ``x_from <= i < x_to`` (``x_from`` a multiple of ``CUBE``).

    Parameters
    ----------
    ny, nz : cell columns a row, and nodes a column.
    flat, calm : see ``find_calm``.
    points : changed in place; a leader's point becomes the middle of its box's points.
    leader : (cells,), changed in place; the cell whose point stands for each cell.
    """
    leader[starts[x_from * ny] : starts[x_to * ny]] = -1
    side = CUBE
    while side > 1:
        _merge_cubes(x_from, x_to, ny, nz, side, starts, height, points, flat, calm, leader)
        side //= 2
    for axis in range(3):
        side = CUBE
        while side > 1:
            _merge_rods(x_from, x_to, ny, axis, side, starts, height, points, calm, leader)
            side //= 2
    for c in range(starts[x_from * ny], starts[x_to * ny]):
        if leader[c] < 0:
            leader[c] = c


@jit
def _coplanar(points: Floats, flat: Floats, a: int, b: int) -> bool:
    """Return whether one plane runs through two cells."""
    along, off = 0.0, 0.0
    for x in range(3):
        along += flat[a, x] * flat[b, x]
        off += flat[a, x] * (points[b, x] - points[a, x])
    return bool(along > 1.0 - SAME_TURN and abs(off) <= SAME_MM)


@jit
def _in_line(points: Floats, a: int, b: int, u: int, w: int) -> bool:
    """Return whether two points agree in the coordinates u and w."""
    return bool(abs(points[a, u] - points[b, u]) <= SAME_MM and abs(points[a, w] - points[b, w]) <= SAME_MM)


@jit
def _merge_cubes(
    x_from: int,
    x_to: int,
    ny: int,
    nz: int,
    side: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    points: Floats,
    flat: Floats,
    calm: NDArray[np.uint8],
    leader: NDArray[np.int32],
) -> None:
    """Merge the cubes of ``side`` cells that one plane runs through."""
    cubes = nz // side + 1
    first = np.zeros(cubes, np.int64)
    count = np.zeros(cubes, np.int64)
    middle = np.zeros((cubes, 3))
    for i0 in range(x_from, x_to, side):
        for j0 in range(0, ny, side):
            first[:] = -1
            count[:] = 0
            middle[:] = 0.0
            for i in range(i0, min(i0 + side, x_to)):
                for j in range(j0, min(j0 + side, ny)):
                    column = i * ny + j
                    for c in range(starts[column], starts[column + 1]):
                        cube = height[c] // side
                        if first[cube] == -1:
                            first[cube] = c
                        if first[cube] < 0:
                            continue
                        fits = leader[c] < 0 and calm[c] & FLAT
                        if not fits or not _coplanar(points, flat, first[cube], c):
                            first[cube] = -2
                            continue
                        count[cube] += 1
                        for x in range(3):
                            middle[cube, x] += points[c, x]
            for cube in range(cubes):
                if first[cube] >= 0 and count[cube] > 1:
                    points[first[cube]] = middle[cube] / count[cube]
                else:
                    first[cube] = -2
            for i in range(i0, min(i0 + side, x_to)):
                for j in range(j0, min(j0 + side, ny)):
                    column = i * ny + j
                    for c in range(starts[column], starts[column + 1]):
                        lead = first[height[c] // side]
                        if lead >= 0:
                            leader[c] = lead


@jit
def _merge_rods(
    x_from: int,
    x_to: int,
    ny: int,
    axis: int,
    side: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    points: Floats,
    calm: NDArray[np.uint8],
    leader: NDArray[np.int32],
) -> None:
    """Merge rods of ``side`` cells along an axis in which the surface keeps its line."""
    rod = np.zeros(side, np.int64)
    u, w = (axis + 1) % 3, (axis + 2) % 3
    for i in range(x_from, x_to):
        if axis == 0 and (i % side or i + side > x_to):
            continue
        for j in range(ny):
            if axis == 1 and (j % side or j + side > ny):
                continue
            column = i * ny + j
            for c in range(starts[column], starts[column + 1]):
                k = height[c]
                if leader[c] >= 0 or not calm[c] & (1 << axis) or (axis == 2 and k % side):
                    continue
                n = 0
                middle = 0.0
                while n < side:
                    d = _cell(
                        starts, height, ny, i + n * (axis == 0), j + n * (axis == 1), k + n * (axis == 2)
                    )
                    if d < 0 or leader[d] >= 0 or not calm[d] & (1 << axis):
                        break
                    if not _in_line(points, c, d, u, w):
                        break
                    middle += points[d, axis]
                    rod[n] = d
                    n += 1
                if n == side:
                    points[c, axis] = middle / side
                    for a in range(side):
                        leader[rod[a]] = c


@jit
def _crossed(state: NDArray[np.uint8], i: int, j: int, k: int, axis: int) -> bool:
    """Return whether the surface crosses an edge of a cell that runs along an axis."""
    for e in range(4):
        if axis == 0:
            b, c = j + (e & 1), k + (e >> 1)
            both = state[i, b, c] ^ state[i + 1, b, c]
        elif axis == 1:
            b, c = i + (e & 1), k + (e >> 1)
            both = state[b, j, c] ^ state[b, j + 1, c]
        else:
            b, c = i + (e & 1), j + (e >> 1)
            both = state[b, c, k] ^ state[b, c, k + 1]
        if both & IN:
            return True
    return False
