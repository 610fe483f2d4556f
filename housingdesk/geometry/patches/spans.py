"""Compiled loops: how far a found round goes about its axis and over its edges."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.fitting import JOIN_MM
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import across, add, dot
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
