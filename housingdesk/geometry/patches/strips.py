"""Compiled loops: how a facet lies on a round, and which strips cut short belong to one."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.fitting import centred, span_of
from housingdesk.geometry.patches.net import Groups, Net, begin, gather, new_cloud
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.types import Floats

COS_OFF = float(np.cos(np.radians(25.0)))  # a facet's normal against the surface it shall lie on
SLANT = float(np.radians(2.0))
MAX_BEND_DEG = 41.0  # nine facets a turn and more are round, eight are an octagon


@njit(cache=True, nogil=True, error_model="numpy")
def _angle(share: float) -> float:
    """Angle, -pi to pi, of what `width` goes by instead: 1 at a right angle, 2 straight back."""
    return float(np.arctan2(share if abs(share) <= 1 else np.copysign(2, share) - share, 1 - abs(share)))


@njit(cache=True, nogil=True, error_model="numpy")
def width(f: int, model: Floats, net: Net, tolerance: float, sag: float, cos_off: float) -> float:
    """Angle a facet takes of the turn in radians, or -1 where it does not lie on the round.

    Corners may lie ``tolerance`` outside and ``sag`` inside the round, two at least within ``tolerance``.
    """
    points, corners, normals = net.points, net.corners, net.normals
    first, last = net.corner_start[f], net.corner_start[f + 1]
    if last - first < 3:
        return -1.0
    px, py, pz, ax, ay, az = model[0], model[1], model[2], model[3], model[4], model[5]
    r, k = model[6], model[7]
    scale = 1.0 / np.sqrt(1 + k * k)
    ux, uy, uz, on_it = 0.0, 0.0, 0.0, 0
    for c in range(first, last):
        v = corners[c]
        dx, dy, dz = points[v, 0] - px, points[v, 1] - py, points[v, 2] - pz
        h = dx * ax + dy * ay + dz * az
        dx, dy, dz = dx - h * ax, dy - h * ay, dz - h * az
        rho = np.sqrt(dx * dx + dy * dy + dz * dz)
        off = (rho - r - k * h) * scale
        if off > tolerance or off < -sag or r + k * h < -tolerance:
            return -1.0
        if off >= -tolerance:
            on_it += 1
        if rho > tolerance:
            ux, uy, uz = ux + dx / rho, uy + dy / rho, uz + dz / rho
    length = np.sqrt(ux * ux + uy * uy + uz * uz)
    if length < 0.3 or on_it < 2:
        return -1.0
    ux, uy, uz = ux / length, uy / length, uz / length
    faces = normals[f, 0] * (ux - k * ax) + normals[f, 1] * (uy - k * ay) + normals[f, 2] * (uz - k * az)
    if faces * model[8] * scale < cos_off:
        return -1.0
    vx, vy, vz = ay * uz - az * uy, az * ux - ax * uz, ax * uy - ay * ux
    low, high = 0.0, 0.0
    for c in range(first, last):
        v = corners[c]
        dx, dy, dz = points[v, 0] - px, points[v, 1] - py, points[v, 2] - pz
        x, y = dx * ux + dy * uy + dz * uz, dx * vx + dy * vy + dz * vz
        # grows with the angle as that itself does, at a fraction of the cost
        size = abs(x) + abs(y)
        if size > tolerance:
            share = np.copysign(1 - x / size, y)
            low, high = min(low, share), max(high, share)
    return _angle(high) - _angle(low)


@njit(cache=True, nogil=True, error_model="numpy")
def _absorb(
    model: Floats, core: Index, net: Net, owner: Index, number: int, tolerance: float, room: Index
) -> int:
    """Put the strips that another surface cuts into ``room``; how many.

    Some of their corners lie on chords, inside the true round: off by up to the sag r (1 - cos(w / 2)) of
    the widest strip; two corners at least must lie on the round.
    """
    points, corners = net.points, net.corners
    widest, radius = 0.0, 0.0
    for f in core:
        widest = max(widest, width(f, model, net, tolerance, tolerance, COS_OFF))
        for c in range(net.corner_start[f], net.corner_start[f + 1]):
            v = corners[c]
            h = (points[v, 0] - model[0]) * model[3] + (points[v, 1] - model[1]) * model[4]
            h += (points[v, 2] - model[2]) * model[5]
            radius = max(radius, model[6] + model[7] * h)
    sag = radius * (1 - np.cos(widest / 2)) + tolerance
    # a strip cut short faces as the whole one did, by up to half its width away from its own middle
    cos_off = np.cos(widest / 2 + SLANT)
    count, at = 0, 0
    while at < len(core) + count:
        f = core[at] if at < len(core) else room[at - len(core)]
        for e in range(net.near_start[f], net.near_start[f + 1]):
            q = net.near[e]
            if owner[q] < 0 and net.near_deg[e] < MAX_BEND_DEG:
                w = width(q, model, net, tolerance, sag, cos_off)
                if 0 <= w <= widest + 1e-4:
                    owner[q] = number
                    room[count] = q
                    count += 1
        at += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def cut_strips(
    models: Floats, cores: Groups, net: Net, owner: Index, first: int, tolerance: float
) -> tuple[Groups, Floats]:
    """Add to each round the strips that another surface cuts.

    ``owner`` of them gets the round's number, counted from ``first``; ``models`` (r, 9) are moved to the
    middle of the longer rounds.  Returned are the facets added to each and the lengths (r,), mm.
    """
    n = len(models)
    start, lengths = np.zeros(n + 1, np.int64), np.empty(n)
    cut, cloud = np.empty(len(owner), np.int64), new_cloud(net.points)
    for i in range(n):
        core = cores.members[cores.start[i] : cores.start[i + 1]]
        more = cut[start[i] :]
        count = _absorb(models[i], core, net, owner, first + i, tolerance, more)
        start[i + 1] = start[i] + count
        begin(cloud)
        size = gather(net, more, count, cloud, gather(net, core, len(core), cloud, 0))
        low, high = span_of(cloud.xyz, size, models[i])
        centred(models[i], low, high)
        lengths[i] = high - low
    return Groups(start, cut[: start[n]].copy()), lengths
