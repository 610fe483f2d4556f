"""Compiled loops: how far a found round goes about its axis and over its edges."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.fitting import JOIN_MM
from housingdesk.geometry.patches.net import Groups, Net
from housingdesk.geometry.patches.patch import WHOLE_TURN
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import across
from housingdesk.geometry.types import Floats

EDGE = 0.35  # of the radius: a larger rounding or chamfer is a shape of its own
SQUARE = 0.9999


@njit(cache=True, nogil=True, error_model="numpy")
def _share_of_turn(net: Net, facets: Index, model: Floats, e1: Floats, e2: Floats) -> float:
    """Share of the full turn that facets cover about a round's axis, each from first corner to last."""
    points, corners = net.points, net.corners
    across(model[3:6], e1, e2)
    near = 1e-3 * abs(model[6])
    first, last = np.empty(len(facets)), np.empty(len(facets))
    for i in range(len(facets)):
        f = facets[i]
        # corners relative to the facet's own middle, so that the seam at 180 degrees does not matter
        sine, cosine, low, high = 0.0, 0.0, 0.0, 0.0
        for looking in (True, False):
            middle = np.arctan2(sine, cosine)
            for c in range(net.corner_start[f], net.corner_start[f + 1]):
                v = corners[c]
                dx, dy, dz = points[v, 0] - model[0], points[v, 1] - model[1], points[v, 2] - model[2]
                x, y = dx * e1[0] + dy * e1[1] + dz * e1[2], dx * e2[0] + dy * e2[1] + dz * e2[2]
                length = np.sqrt(x * x + y * y)
                if length <= near:
                    continue
                if looking:
                    sine, cosine = sine + y / length, cosine + x / length
                else:
                    off = (np.arctan2(y, x) - middle + np.pi) % (2 * np.pi) - np.pi
                    low, high = min(low, off), max(high, off)
        first[i] = (middle + low) % (2 * np.pi)
        last[i] = first[i] + high - low
    # the union of the arcs, opened at the seam
    reach = max(0.0, last.max() - 2 * np.pi)
    gaps = 0.0
    for i in np.argsort(first):
        gaps += max(0.0, first[i] - reach)
        reach = max(reach, last[i])
    gaps += max(0.0, 2 * np.pi - reach)
    return float(min(1.0, max(0.0, 1 - gaps / (2 * np.pi))))


@njit(cache=True, nogil=True, error_model="numpy")
def _over_edge(
    end: float,
    model: Floats,
    length: float,
    own: Index,
    net: Net,
    owner: Index,
    seen: Index,
    stamp: int,
    todo: Index,
) -> float:
    """How far a rounded or chamfered end of a cylinder goes on to its end face, mm; 0 where it does not.

    ``end`` is -1 or 1, ``own`` the cylinder's facets; see `spans_of`.
    """
    points, corners, corner_start, normals = net.points, net.corners, net.corner_start, net.normals
    px, py, pz, ax, ay, az = model[0], model[1], model[2], model[3], model[4], model[5]
    for i in range(len(own)):
        seen[own[i]] = stamp
        todo[i] = own[i]
    n, faces, total, lowest, highest = len(own), 0, 0.0, np.inf, -np.inf
    while n > 0:
        n -= 1
        at = todo[n]
        for e in range(net.near_start[at], net.near_start[at + 1]):
            q = net.near[e]
            size = corner_start[q + 1] - corner_start[q]
            if seen[q] == stamp or not size:
                continue
            seen[q] = stamp
            h_least, h_most, h_sum, off_least, off_most = np.inf, -np.inf, 0.0, np.inf, -np.inf
            for c in range(corner_start[q], corner_start[q + 1]):
                v = corners[c]
                dx, dy, dz = points[v, 0] - px, points[v, 1] - py, points[v, 2] - pz
                along = dx * ax + dy * ay + dz * az
                h = end * along - length / 2
                off = model[8] * (model[6] - np.sqrt(max(0.0, dx * dx + dy * dy + dz * dz - along * along)))
                h_least, h_most, h_sum = min(h_least, h), max(h_most, h), h_sum + h
                off_least, off_most = min(off_least, off), max(off_most, off)
            if h_most < JOIN_MM:  # the other end, or a slot in the side
                continue
            facing = end * (normals[q, 0] * ax + normals[q, 1] * ay + normals[q, 2] * az)
            if facing > SQUARE and owner[q] >= 0:
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


@njit(cache=True, nogil=True, error_model="numpy")
def spans_of(
    net: Net, models: Floats, lengths: Floats, facets: Groups, owner: Index
) -> tuple[Floats, Floats]:
    """How far rounds (r, 9) go about their axes, and how far whole cylinders go on over their edges.

    ``owner`` (facets,) is -1 where a facet is in no patch; facets of other patches are crossed only where
    they stay within the edge.  An end counts where every way from the rim over facets no further than
    `EDGE` radii leads to one face square to the axis and looking outward; otherwise it adds nothing.

    Returns
    -------
    Share of the full turn (r,), and mm at the low and the high end (r, 2).
    """
    n = len(models)
    turns, over = np.empty(n), np.zeros((n, 2))
    e1, e2 = np.empty(3), np.empty(3)
    seen, todo, stamp = np.zeros(len(net.areas), np.int64), np.empty(len(net.areas), np.int64), 0
    for i in range(n):
        own = facets.members[facets.start[i] : facets.start[i + 1]]
        turns[i] = _share_of_turn(net, own, models[i], e1, e2)
        if turns[i] < WHOLE_TURN or models[i, 7] != 0:
            continue
        for side in range(2):
            stamp += 1
            over[i, side] = _over_edge(
                2.0 * side - 1, models[i], lengths[i], own, net, owner, seen, stamp, todo
            )
    return turns, over
