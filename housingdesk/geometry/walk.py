"""Which columns of a grid lie near a triangle, and which heights there.  Compiled kernels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.nearest import jit
from housingdesk.geometry.types import Floats


@jit
def _y_range(t: Floats, x: float, r: float) -> tuple[float, float]:
    """Return the least and greatest y of a triangle cut to the slab |x' - x| <= r; empty if low > high."""
    low, high = np.inf, -np.inf
    for e in range(3):
        f = (e + 1) % 3
        x0, x1 = t[e, 0], t[f, 0]
        u0, u1 = 0.0, 1.0
        if x0 == x1:
            if abs(x0 - x) > r:
                continue
        else:
            a, b = (x - r - x0) / (x1 - x0), (x + r - x0) / (x1 - x0)
            u0, u1 = max(0.0, min(a, b)), min(1.0, max(a, b))
            if u0 > u1:
                continue
        y0 = t[e, 1] + u0 * (t[f, 1] - t[e, 1])
        y1 = t[e, 1] + u1 * (t[f, 1] - t[e, 1])
        low, high = min(low, y0, y1), max(high, y0, y1)
    return low, high


@jit
def z_range(t: Floats, n: Floats, x: float, y: float, r: float) -> tuple[float, float]:
    """Return bounds of z within ``r`` of the triangle on the vertical line through (x, y)."""
    dx = max(0.0, min(t[0, 0], t[1, 0], t[2, 0]) - x, x - max(t[0, 0], t[1, 0], t[2, 0]))
    dy = max(0.0, min(t[0, 1], t[1, 1], t[2, 1]) - y, y - max(t[0, 1], t[1, 1], t[2, 1]))
    left = np.sqrt(max(0.0, r * r - dx * dx - dy * dy))
    low = min(t[0, 2], t[1, 2], t[2, 2]) - left
    high = max(t[0, 2], t[1, 2], t[2, 2]) + left
    if abs(n[2]) > 1e-6:
        at = t[0, 2] - (n[0] * (x - t[0, 0]) + n[1] * (y - t[0, 1])) / n[2]
        half = r / abs(n[2])
        low, high = max(low, at - half), min(high, at + half)
    return low, high


@jit
def normal_of(t: Floats) -> Floats:
    """Return the unit normal of a triangle that does not point up, zero where it has no area."""
    u, v = t[1] - t[0], t[2] - t[0]
    n = np.array([u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]])
    length = np.sqrt(n[0] ** 2 + n[1] ** 2 + n[2] ** 2)
    if length > 0.0:
        n /= -length if n[2] > 0.0 else length
    return n


@jit
def index_range(low: float, high: float, origin: float, h: float, least: int, most: int) -> tuple[int, int]:
    """Return the first index and one past the last index of grid coordinates in [low, high]."""
    first = int(np.ceil((low - origin) / h - 1e-9))
    last = int(np.floor((high - origin) / h + 1e-9))
    return max(first, least), min(last + 1, most)


@jit
def find_rows(
    t: Floats,
    r: float,
    x0: float,
    y0: float,
    h: float,
    x_from: int,
    x_to: int,
    ny: int,
    rows: NDArray[np.int64],
) -> tuple[int, int]:
    """Find the columns of the grid within ``r`` of a triangle (and a few more): the walk all kernels share.

    Returns
    -------
    The first row i and one past the last, cut to ``x_from <= i < x_to``; ``rows[i - x_from]`` gets the
    first j and one past the last.
    """
    x_min, x_max = min(t[0, 0], t[1, 0], t[2, 0]), max(t[0, 0], t[1, 0], t[2, 0])
    i0, i1 = index_range(x_min - r, x_max + r, x0, h, x_from, x_to)
    for i in range(i0, i1):
        x = x0 + h * i
        y_low, y_high = _y_range(t, x, r)
        beside = max(0.0, x_min - x, x - x_max)
        left = np.sqrt(max(0.0, r * r - beside * beside))
        rows[i - x_from, 0], rows[i - x_from, 1] = index_range(y_low - left, y_high + left, y0, h, 0, ny)
    return i0, i1
