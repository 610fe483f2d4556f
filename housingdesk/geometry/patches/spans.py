"""Compiled loops: how far a found surface goes; about its axis, over its edges, across its plane."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.facets import Index
from housingdesk.geometry.patches.fitting import JOIN_MM, across, add, dot
from housingdesk.geometry.types import Floats

EDGE = 0.35  # of the radius: a larger rounding or chamfer is a shape of its own
SQUARE = 0.9999


@njit(cache=True, nogil=True)
def share_of_turn(points: Floats, facets: Index, corner_start: Index, corners: Index, model: Floats) -> float:
    """Share of the full turn that facets cover about a round's axis, each from first corner to last."""
    e1, e2, d = np.empty(3), np.empty(3), np.empty(3)
    across(model[3:6], e1, e2)
    near = 1e-3 * abs(model[6])
    first, last = np.empty(len(facets)), np.empty(len(facets))
    for i in range(len(facets)):
        f = facets[i]
        # corners relative to the facet's own middle, so that the seam at 180 degrees does not matter
        sine, cosine, low, high = 0.0, 0.0, 0.0, 0.0
        for looking in (True, False):
            middle = np.arctan2(sine, cosine)
            for c in range(corner_start[f], corner_start[f + 1]):
                add(points[corners[c]], -1.0, model[:3], d)
                x, y = dot(d, e1), dot(d, e2)
                length = np.sqrt(x * x + y * y)
                if length <= near:
                    continue
                if looking:
                    sine, cosine = sine + y / length, cosine + x / length
                else:
                    off = (np.arctan2(y, x) - middle + np.pi) % (2 * np.pi) - np.pi
                    low, high = min(low, off), max(high, off)
        first[i] = (np.arctan2(sine, cosine) + low) % (2 * np.pi)
        last[i] = first[i] + high - low
    # the union of the arcs, opened at the seam
    reach = max(0.0, last.max() - 2 * np.pi)
    gaps = 0.0
    for i in np.argsort(first):
        gaps += max(0.0, first[i] - reach)
        reach = max(reach, last[i])
    gaps += max(0.0, 2 * np.pi - reach)
    return float(min(1.0, max(0.0, 1 - gaps / (2 * np.pi))))


@njit(cache=True, nogil=True)
def end_over_edge(
    end: float,
    model: Floats,
    length: float,
    own: Index,
    points: Floats,
    normals: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
    owner: Index,
) -> float:
    """How far a rounded or chamfered end of a cylinder goes on to its end face, mm; 0 where it does not.

    ``end`` is -1 or 1, ``own`` the cylinder's facets; see `rounds.over_edges`.
    """
    seen = np.zeros(len(near_start) - 1, np.uint8)
    todo = np.empty(len(near_start), np.int64)
    for i in range(len(own)):
        seen[own[i]] = 1
        todo[i] = own[i]
    n, faces, total, lowest, highest = len(own), 0, 0.0, np.inf, -np.inf
    d = np.empty(3)
    while n > 0:
        n -= 1
        at = todo[n]
        for e in range(near_start[at], near_start[at + 1]):
            q = near[e]
            size = corner_start[q + 1] - corner_start[q]
            if seen[q] or not size:
                continue
            seen[q] = 1
            h_least, h_most, h_sum, off_least, off_most = np.inf, -np.inf, 0.0, np.inf, -np.inf
            for c in range(corner_start[q], corner_start[q + 1]):
                add(points[corners[c]], -1.0, model[:3], d)
                along = dot(d, model[3:6])
                h = end * along - length / 2
                off = model[8] * (model[6] - np.sqrt(max(0.0, dot(d, d) - along * along)))
                h_least, h_most, h_sum = min(h_least, h), max(h_most, h), h_sum + h
                off_least, off_most = min(off_least, off), max(off_most, off)
            if h_most < JOIN_MM:  # the other end, or a slot in the side
                continue
            if end * dot(normals[q], model[3:6]) > SQUARE and owner[q] >= 0:
                level = h_sum / size
                faces += 1
                total += level
                lowest, highest = min(lowest, level), max(highest, level)
                continue
            if off_least < -JOIN_MM or max(off_most, h_most) > EDGE * model[6] or h_least < -JOIN_MM:
                return 0.0
            todo[n] = q
            n += 1
    return max(0.0, total / faces) if faces and highest - lowest < JOIN_MM else 0.0


@njit(cache=True, nogil=True)
def _left_of(x: Floats, y: Floats, a: int, b: int, c: int) -> bool:
    return bool((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a]) > 0)


@njit(cache=True, nogil=True)
def narrowest_box(points: Floats, which: Index, normal: Floats) -> tuple[float, float]:
    """Length and width of the smallest rectangle about points of a plane, the longest of equal ones.

    The hull by the chain of points from left to right and back (A. M. Andrew, Inf. Proc. Letters 9, 1979),
    the rectangle has a side along it, by H. Freeman and R. Shapira (Comm. ACM 18, 1975).
    """
    e1, e2 = np.empty(3), np.empty(3)
    across(normal, e1, e2)
    m = len(which)
    x, y = np.empty(m), np.empty(m)
    for i in range(m):
        x[i], y[i] = dot(points[which[i]], e1), dot(points[which[i]], e2)
    order = np.argsort(x)
    # Points above one another in any order would fold the chain.
    i = 0
    while i < m:
        j = i + 1
        while j < m and x[order[j]] == x[order[i]]:
            j += 1
        if j - i > 1:
            run = order[i:j].copy()
            order[i:j] = run[np.argsort(y[run])]
        i = j
    hull, n = np.empty(2 * m + 1, np.int64), 0
    for back in (False, True):
        floor = max(n, 1)  # the way back starts at the last point of the way there
        for i in range(1 if back else 0, m):
            p = order[m - 1 - i] if back else order[i]
            while n > floor and not _left_of(x, y, hull[n - 2], hull[n - 1], p):
                n -= 1
            hull[n] = p
            n += 1
    least, length, width = np.inf, 0.0, 0.0
    for i in range(n - 1):
        u, v = x[hull[i + 1]] - x[hull[i]], y[hull[i + 1]] - y[hull[i]]
        side = np.sqrt(u * u + v * v)
        if side == 0:
            continue
        a0, a1, b0, b1 = np.inf, -np.inf, np.inf, -np.inf
        for j in range(n - 1):
            a = (x[hull[j]] * u + y[hull[j]] * v) / side
            b = (y[hull[j]] * u - x[hull[j]] * v) / side
            a0, a1, b0, b1 = min(a0, a), max(a1, a), min(b0, b), max(b1, b)
        area, longer = (a1 - a0) * (b1 - b0), max(a1 - a0, b1 - b0)
        # About a triangle all three rectangles are alike: the longest, or rounding would choose.
        if area < least * (1 - 1e-6) or (area < least * (1 + 1e-6) and longer > length):
            least = min(least, area)
            length, width = longer, min(a1 - a0, b1 - b0)
    return length, width
