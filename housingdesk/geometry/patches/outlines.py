"""Compiled loops: how long and wide a flat is."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.fitting import distinct
from housingdesk.geometry.patches.net import Groups, Net
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import across, add, dot
from housingdesk.geometry.types import Floats

ALIKE = 1 + 1e-6


@njit(cache=True, nogil=True, error_model="numpy")
def _hull(x: Floats, y: Floats) -> tuple[Index, int]:
    """Corners of the convex hull of points of a plane in order about it, and how many (A. M. Andrew, 1979).

    Lower chain from left to right, then the upper one back; the first n of the indices returned.
    """
    order = np.argsort(x, kind="mergesort")
    for i in range(1, len(x)):  # points right above each other: from below
        j = i
        while j > 0 and x[order[j]] == x[order[j - 1]] and y[order[j]] < y[order[j - 1]]:
            order[j], order[j - 1] = order[j - 1], order[j]
            j -= 1
    hull, n = np.empty(2 * len(x) + 1, np.int64), 0
    for back in (False, True):
        first = n
        for i in range(len(x)):
            q = order[len(x) - 1 - i] if back else order[i]
            while n >= first + 2:
                a, b = hull[n - 2], hull[n - 1]
                if (x[b] - x[a]) * (y[q] - y[a]) > (y[b] - y[a]) * (x[q] - x[a]):
                    break
                n -= 1
            hull[n] = q
            n += 1
        n -= 1  # the last of one chain is the first of the next
    return hull, n


@njit(cache=True, nogil=True, error_model="numpy")
def narrowest_box(points: Floats, normal: Floats) -> tuple[float, float]:
    """Length and width of the smallest rectangle about (n, 3) points of a plane, the longest of equal ones.

    It has a side along the points' hull (H. Freeman and R. Shapira, Comm. ACM 18, 1975).
    """
    e1, e2 = np.empty(3), np.empty(3)
    across(normal, e1, e2)
    x, y = np.empty(len(points)), np.empty(len(points))
    for i in range(len(points)):
        x[i], y[i] = dot(points[i], e1), dot(points[i], e2)
    hull, n = _hull(x, y)
    if n < 2:
        return 0.0, 0.0
    along, over = np.empty(n), np.empty(n)
    for i in range(n):
        a, b = hull[i], hull[(i + 1) % n]
        u, v = x[b] - x[a], y[b] - y[a]
        length = max(np.sqrt(u * u + v * v), 1e-300)
        u, v = u / length, v / length
        least_along, most_along, least_over, most_over = np.inf, -np.inf, np.inf, -np.inf
        for j in range(n):
            p, q = x[hull[j]] - x[a], y[hull[j]] - y[a]
            s, t = u * p + v * q, u * q - v * p
            least_along, most_along = min(least_along, s), max(most_along, s)
            least_over, most_over = min(least_over, t), max(most_over, t)
        along[i], over[i] = most_along - least_along, most_over - least_over
    # About a triangle all three rectangles are alike: the longest, or rounding would choose.
    most = ALIKE * (along * over).min()
    best = -1
    for i in range(n):
        longer = best < 0 or max(along[i], over[i]) > max(along[best], over[best])
        if along[i] * over[i] <= most and longer:
            best = i
    return max(along[best], over[best]), min(along[best], over[best])


@njit(cache=True, nogil=True, error_model="numpy")
def _read_flat(points: Floats, vertices: Index, centre: Floats, normal: Floats) -> tuple[float, float, float]:
    """Return length, width and rms (mm) of a flat through a centre, over its vertices (repeated or not).

    All of them, not its corners alone: where the part is open, no other facet meets it at its corners.
    """
    which = distinct(vertices)
    off = np.empty((len(which), 3))
    total, square = 0.0, 0.0
    for i in range(len(which)):
        add(points[which[i]], -1.0, centre, off[i])
        total += dot(off[i], normal)
    for i in range(len(which)):
        square += (dot(off[i], normal) - total / len(which)) ** 2
    length, width = narrowest_box(off, normal)
    return length, width, np.sqrt(square / len(which))


@njit(cache=True, nogil=True, error_model="numpy")
def read_flats(net: Net, triangles: Index, facets: Groups, faces: Groups) -> tuple[Floats, Floats, Floats]:
    """Measure flats, given by their facets and by their rows in ``triangles`` (m, 3).

    Returns
    -------
    Middles (n, 3), unit normals (n, 3), and length, width and rms (n, 3), all mm.
    """
    n = len(facets.start) - 1
    centres, normals, sizes = np.zeros((n, 3)), np.zeros((n, 3)), np.empty((n, 3))
    for i in range(n):
        area = 0.0
        for at in range(facets.start[i], facets.start[i + 1]):
            f = facets.members[at]
            area += net.areas[f]
            add(centres[i], net.areas[f], net.centres[f], centres[i])
            add(normals[i], net.areas[f], net.normals[f], normals[i])
        length = np.sqrt(dot(normals[i], normals[i]))
        for u in range(3):
            centres[i, u] /= area
            normals[i, u] /= length
        first, last = faces.start[i], faces.start[i + 1]
        vertices = np.empty(3 * (last - first), np.int64)
        for at in range(first, last):
            for u in range(3):
                vertices[3 * (at - first) + u] = triangles[faces.members[at], u]
        sizes[i] = _read_flat(net.points, vertices, centres[i], normals[i])
    return centres, normals, sizes
