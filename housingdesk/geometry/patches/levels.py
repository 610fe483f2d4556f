"""Compiled loops: let flats with noise grow over facets from one to the next."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.net import Net, begin, gather, new_cloud
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import dot, main_directions
from housingdesk.geometry.types import Floats


@njit(cache=True, nogil=True, error_model="numpy")
def _plane_of(xyz: Floats, n: int, mean: Floats, spread: Floats, values: Floats, vectors: Floats) -> float:
    """Fit a plane through ``mean``, which is written; its normal in column 0 of ``vectors``; the rms, mm."""
    mean[:] = 0.0
    spread[:] = 0.0
    for i in range(n):
        for u in range(3):
            mean[u] += xyz[u, i]
    for u in range(3):
        mean[u] /= n
    for i in range(n):
        x, y, z = xyz[0, i] - mean[0], xyz[1, i] - mean[1], xyz[2, i] - mean[2]
        spread[0, 0] += x * x
        spread[0, 1] += x * y
        spread[0, 2] += x * z
        spread[1, 1] += y * y
        spread[1, 2] += y * z
        spread[2, 2] += z * z
    main_directions(spread, values, vectors)
    return float(np.sqrt(max(0.0, values[0]) / n))


@njit(cache=True, nogil=True, error_model="numpy")
def find_flats(
    net: Net,
    seeds: Index,
    claimed: Index,
    tolerance: float,
    quiet: float,
    cos_off: float,
    least_facets: int,
    hood_size: int,
    first_number: int,
) -> int:
    """Grow flats with noise from seed facets (s,); numbers go into ``claimed`` as in `find_rounds`."""
    points, normals, corner_start, corners = net.points, net.normals, net.corner_start, net.corners
    near_start, near = net.near_start, net.near
    n_facets = len(net.areas)
    cloud, seen = new_cloud(points), np.zeros(n_facets, np.int64)
    dead = np.zeros(n_facets, np.uint8)
    region = np.empty(n_facets, np.int64)
    normal, mean = np.empty(3), np.empty(3)
    spread, values, vectors = np.empty((3, 3)), np.empty(3), np.empty((3, 3))
    stamp, number = 0, first_number
    for f in seeds:
        if claimed[f] >= 0 or dead[f]:
            continue
        n_region, before, rms = 1, 0, 0.0
        normal[:] = normals[f]
        mean[:] = points[corners[corner_start[f]]]
        for turn in range(8):
            stamp += 1
            before, n_region = n_region, 1
            region[0] = f
            seen[f] = stamp
            at, level = 0, dot(mean, normal)
            nx, ny, nz = normal[0], normal[1], normal[2]
            while at < n_region:
                if turn == 0 and n_region >= hood_size:
                    break
                for e in range(near_start[region[at]], near_start[region[at] + 1]):
                    q = near[e]
                    if seen[q] == stamp or claimed[q] >= 0:
                        continue
                    seen[q] = stamp
                    if normals[q, 0] * nx + normals[q, 1] * ny + normals[q, 2] * nz < cos_off:
                        continue
                    near_by = True
                    if turn > 0:
                        for c in range(corner_start[q], corner_start[q + 1]):
                            v = corners[c]
                            off = points[v, 0] * nx + points[v, 1] * ny + points[v, 2] * nz - level
                            near_by &= abs(off) <= tolerance
                    if near_by:
                        region[n_region] = q
                        n_region += 1
                at += 1
            if n_region < 3 or (turn > 1 and n_region <= before):
                break
            begin(cloud)
            n = gather(net, region, n_region, cloud, 0)
            rms = _plane_of(cloud.xyz, n, mean, spread, values, vectors)
            side = 0.0
            for u in range(3):
                side += vectors[u, 0] * normal[u]
            for u in range(3):
                normal[u] = vectors[u, 0] if side >= 0 else -vectors[u, 0]
        if n_region >= least_facets and rms <= quiet * tolerance:
            for i in range(n_region):
                claimed[region[i]] = number
            number += 1
        else:
            for i in range(min(n_region, hood_size)):
                dead[region[i]] = 1
    return number
