"""Compiled loops: let rounds and flats grow over facets from one to the next."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.fitting import bulges, refine, rms_of, set_side, start
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import dot, main_directions, mean_of, spread_of
from housingdesk.geometry.types import Floats

COS_OFF = float(np.cos(np.radians(25.0)))  # a facet's normal against the surface it shall lie on
HOOD_COS = 0.17  # a neighbourhood takes less than 80 degrees to each side
MANY = 100  # corners; a flat full of holes is no strip of a round, and slow to try
SLANT = float(np.radians(2.0))
MAX_WIDTH = float(np.radians(41.0))  # nine facets a turn and more are round, eight are an octagon
MAX_BEND_DEG = 41.0
ROUGH = 1e-6  # of a square sum: finer than any decision while growing needs
WIDTH_RATIO = 1.7  # strips of one cylinder are alike; a milled flat is wider


@njit(cache=True, nogil=True)
def _width(
    f: int,
    model: Floats,
    points: Floats,
    normals: Floats,
    corner_start: Index,
    corners: Index,
    tolerance: float,
    sag: float,
    cos_off: float,
) -> float:
    """Angle a facet takes of the turn in radians, or -1 where it does not lie on the round.

    Corners may lie ``tolerance`` outside and ``sag`` inside the round, two at least within ``tolerance``.
    """
    first, last = corner_start[f], corner_start[f + 1]
    if last - first < 3:
        return -1.0
    a, k = model[3:6], model[7]
    scale = 1.0 / np.sqrt(1 + k * k)
    ux, uy, uz = 0.0, 0.0, 0.0
    low, high, on_it = 0.0, 0.0, 0
    for pass_ in range(2):
        for c in range(first, last):
            v = corners[c]
            dx, dy, dz = points[v, 0] - model[0], points[v, 1] - model[1], points[v, 2] - model[2]
            h = dx * a[0] + dy * a[1] + dz * a[2]
            dx, dy, dz = dx - h * a[0], dy - h * a[1], dz - h * a[2]
            rho = np.sqrt(dx * dx + dy * dy + dz * dz)
            if pass_ == 0:
                off = (rho - model[6] - k * h) * scale
                if off > tolerance or off < -sag or model[6] + k * h < -tolerance:
                    return -1.0
                if off >= -tolerance:
                    on_it += 1
                if rho > tolerance:
                    ux, uy, uz = ux + dx / rho, uy + dy / rho, uz + dz / rho
            elif rho > tolerance:
                side = a[0] * (uy * dz - uz * dy) + a[1] * (uz * dx - ux * dz) + a[2] * (ux * dy - uy * dx)
                angle = np.arctan2(side, dx * ux + dy * uy + dz * uz)
                low, high = min(low, angle), max(high, angle)
        if pass_ == 0:
            length = np.sqrt(ux * ux + uy * uy + uz * uz)
            if length < 0.3 or on_it < 2:
                return -1.0
            ux, uy, uz = ux / length, uy / length, uz / length
            side = model[8] * scale
            dot = normals[f, 0] * (ux - k * a[0]) + normals[f, 1] * (uy - k * a[1])
            dot += normals[f, 2] * (uz - k * a[2])
            if dot * side < cos_off:
                return -1.0
    return float(high - low)


@njit(cache=True, nogil=True)
def _corners_of(
    facets: Index, n: int, corner_start: Index, corners: Index, seen: Index, stamp: int, out: Index
) -> int:
    """Collect the distinct corners of facets."""
    count = 0
    for i in range(n):
        for c in range(corner_start[facets[i]], corner_start[facets[i] + 1]):
            v = corners[c]
            if seen[v] != stamp:
                seen[v] = stamp
                out[count] = v
                count += 1
    return count


@njit(cache=True, nogil=True)
def _hood(
    f: int,
    g: int,
    size: int,
    normals: Floats,
    corner_start: Index,
    near_start: Index,
    near: Index,
    near_deg: Floats,
    claimed: Index,
    seen: Index,
    stamp: int,
    hood: Index,
) -> int:
    """Collect up to ``size`` free facets about a pair, over smooth edges."""
    hood[0], hood[1], n = f, g, 2
    seen[f], seen[g] = stamp, stamp
    at = 0
    while at < n and n < size:
        for e in range(near_start[hood[at]], near_start[hood[at] + 1]):
            q = near[e]
            if n < size and seen[q] != stamp and claimed[q] < 0 and near_deg[e] < MAX_BEND_DEG:
                seen[q] = stamp
                if dot(normals[q], normals[f]) > HOOD_COS and corner_start[q + 1] - corner_start[q] < MANY:
                    hood[n] = q
                    n += 1
        at += 1
    return n


@njit(cache=True, nogil=True)
def _grow(
    f: int,
    g: int,
    limit: float,
    model: Floats,
    points: Floats,
    normals: Floats,
    areas: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
    near_deg: Floats,
    claimed: Index,
    tolerance: float,
    seen: Index,
    stamp: int,
    region: Index,
    widths: Floats,
) -> tuple[int, float, float]:
    """Collect the free facets on a round, from a pair over smooth edges.

    Returns how many (0 unless three are alike in width: any three strips of a symmetrical bevel lie on
    one cylinder), their area, and their mean width weighted with area.
    """
    n, at, area, turn, widest = 2, 0, 0.0, 0.0, 0.0
    region[0], region[1] = f, g
    seen[f], seen[g] = stamp, stamp
    for i in range(2):
        w = _width(region[i], model, points, normals, corner_start, corners, tolerance, tolerance, COS_OFF)
        if w < 0 or w > limit:
            return 0, 0.0, 0.0
        area += areas[region[i]]
        turn += w * areas[region[i]]
        widths[i] = w
        widest = max(widest, w)
    while at < n:
        for e in range(near_start[region[at]], near_start[region[at] + 1]):
            q = near[e]
            if seen[q] == stamp or claimed[q] >= 0 or near_deg[e] > MAX_BEND_DEG:
                continue
            seen[q] = stamp
            w = _width(q, model, points, normals, corner_start, corners, tolerance, tolerance, COS_OFF)
            if 0 <= w <= limit:
                region[n] = q
                widths[n] = w
                widest = max(widest, w)
                n += 1
                area += areas[q]
                turn += w * areas[q]
        at += 1
    alike = 0
    for i in range(n):
        if widths[i] > 0.55 * widest:
            alike += 1
    return (n if alike > 2 else 0), area, turn / area


@njit(cache=True, nogil=True)
def find_rounds(
    points: Floats,
    normals: Floats,
    areas: Floats,
    centres: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
    near_deg: Floats,
    seeds: Index,
    claimed: Index,
    exact_or_noise: float,
    share: float,
    quiet: float,
    least_facets: int,
    least_corners: int,
    least_sag: float,
    least_deg: float,
    max_radius: float,
    hoods: Index,
    first_number: int,
) -> int:
    """Grow rounds from seeds over smooth edges; ``claimed`` (facets,) gets the number of each.

    From every seed (a pair of adjacent facets, (s, 2)) neighbourhoods of growing size are tried, first as
    a cylinder, then as a cone; what fits is grown to all adjacent facets within tolerance and fitted
    again, until it no longer grows.  On the surface is a corner within ``exact_or_noise`` mm, and within
    ``share`` of the radius; a piece cut at random out of another surface fills that band, a true round is
    quiet in it: its rms is below ``quiet`` of it.  The rounds are numbered from ``first_number``; the next
    number is returned.
    """
    n_facets, n_points = len(areas), len(points)
    seen_p, seen_f = np.zeros(n_points, np.int64), np.zeros(n_facets, np.int64)
    dead = np.zeros(n_facets, np.uint8)
    which = np.empty(n_points, np.int64)
    region, kept = np.empty(n_facets, np.int64), np.empty(n_facets, np.int64)
    widths = np.empty(n_facets)
    hood = np.empty(hoods.max() + 1, np.int64)
    model, spent = np.zeros(9), np.zeros(2)
    stamp_p, stamp_f, number = 0, 0, first_number
    for s in range(len(seeds)):
        f, g = seeds[s, 0], seeds[s, 1]
        if claimed[f] >= 0 or claimed[g] >= 0 or (dead[f] and dead[g]):
            continue
        if max(corner_start[f + 1] - corner_start[f], corner_start[g + 1] - corner_start[g]) >= MANY:
            continue
        found, best_area, n_hood = 0, 0.0, 0
        spent[:] = 0.0
        for size in hoods:
            stamp_f += 1
            n_hood = _hood(
                f, g, size, normals, corner_start, near_start, near, near_deg, claimed, seen_f, stamp_f, hood
            )
            for sloped in (False, True):
                stamp_p += 1
                n = _corners_of(hood, n_hood, corner_start, corners, seen_p, stamp_p, which)
                # all points of a smaller neighbourhood are in the larger, so it misses them by as much
                if spent[int(sloped)] > 2 * n * exact_or_noise**2:
                    continue
                if n < 5 or not start(points, normals, areas, hood, n_hood, centres, which, n, model, sloped):
                    continue
                if n_hood > 2 or sloped:
                    rms = refine(points, which, n, model, sloped and n > 6, ROUGH, 2 * exact_or_noise)
                    if rms > exact_or_noise:
                        spent[int(sloped)] = n * rms * rms
                    if rms < 0 or rms > exact_or_noise:
                        continue
                tolerance = min(exact_or_noise, share * abs(model[6]))
                limit = 0.0
                set_side(model, normals, centres, hood, n_hood)
                for i in range(n_hood):
                    w = _width(
                        hood[i], model, points, normals, corner_start, corners, tolerance, tolerance, COS_OFF
                    )
                    limit = max(limit, w)
                limit = min(MAX_WIDTH, limit * WIDTH_RATIO + 1e-4)
                n_region, area, good = 0, 0.0, False
                for _ in range(12):
                    if abs(model[6]) > max_radius:
                        good = False
                        break
                    before = n_region
                    stamp_f += 1
                    n_region, area, width = _grow(
                        f, g, limit, model, points, normals, areas, corner_start, corners, near_start, near,
                        near_deg, claimed, tolerance, seen_f, stamp_f, region, widths,
                    )  # fmt: skip
                    stamp_p += 1
                    n = _corners_of(region, n_region, corner_start, corners, seen_p, stamp_p, which)
                    good = n_region >= least_facets and n >= least_corners
                    if n_region <= before or n < least_corners:
                        break
                    limit = min(MAX_WIDTH, WIDTH_RATIO * width + 1e-4)
                    if refine(points, which, n, model, sloped, ROUGH, np.inf) < 0:
                        good = False
                        break
                if not good:
                    continue
                if rms_of(points, which, n, model) > quiet * tolerance:
                    for i in range(n_region):  # all of it would end the same way
                        dead[region[i]] = 1
                elif area > 1.2 * best_area and bulges(
                    normals, region, n_region, model, least_sag, least_deg
                ):
                    best_area = area
                    found = n_region
                    kept[:n_region] = region[:n_region]
            if found:
                break
        if found:
            for i in range(found):
                claimed[kept[i]] = number
            number += 1
        else:
            dead[f] = 1
            dead[g] = 1
    return number


@njit(cache=True, nogil=True)
def absorb(
    model: Floats,
    core: Index,
    points: Floats,
    normals: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
    near_deg: Floats,
    owner: Index,
    number: int,
    tolerance: float,
    room: Index,
) -> Index:
    """Add the strips that another surface cuts: some of their corners lie on chords, inside the true round.

    Such a corner may lie off by the sag r (1 - cos(w / 2)) of the widest strip; two corners at least must
    lie on the round.  ``owner`` of what is added gets ``number``; returned are the facets added.
    ``room`` (facets,) is overwritten: a new one for each round would cost more than the search.
    """
    widest = 0.0
    for f in core:
        widest = max(
            widest, _width(f, model, points, normals, corner_start, corners, tolerance, tolerance, COS_OFF)
        )
    radius = 0.0
    for f in core:
        for c in range(corner_start[f], corner_start[f + 1]):
            h = dot(points[corners[c]], model[3:6]) - dot(model[:3], model[3:6])
            radius = max(radius, model[6] + model[7] * h)
    sag = radius * (1 - np.cos(widest / 2)) + tolerance
    # a strip cut short faces as the whole one did, by up to half its width away from its own middle
    cos_off = np.cos(widest / 2 + SLANT)
    count, at = 0, 0
    while at < len(core) + count:
        f = core[at] if at < len(core) else room[at - len(core)]
        for e in range(near_start[f], near_start[f + 1]):
            q = near[e]
            if owner[q] < 0 and near_deg[e] < MAX_BEND_DEG:
                w = _width(q, model, points, normals, corner_start, corners, tolerance, sag, cos_off)
                if 0 <= w <= widest + 1e-4:
                    owner[q] = number
                    room[count] = q
                    count += 1
        at += 1
    return room[:count].copy()


@njit(cache=True, nogil=True)
def find_flats(
    points: Floats,
    normals: Floats,
    areas: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
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
    n_facets = len(areas)
    seen_f, seen_p = np.zeros(n_facets, np.int64), np.zeros(len(points), np.int64)
    dead = np.zeros(n_facets, np.uint8)
    region, which = np.empty(n_facets, np.int64), np.empty(len(points), np.int64)
    spread, values, vectors = np.empty((3, 3)), np.empty(3), np.empty((3, 3))
    stamp, stamp_p, number = 0, 0, first_number
    for f in seeds:
        if claimed[f] >= 0 or dead[f]:
            continue
        n_region, before = 1, 0
        region[0] = f
        rms = 0.0
        normal, at_point = normals[f].copy(), points[corners[corner_start[f]]].copy()
        for turn in range(8):
            stamp += 1
            before, n_region = n_region, 1
            region[0] = f
            seen_f[f] = stamp
            at, level = 0, dot(at_point, normal)
            while at < n_region:
                if turn == 0 and n_region >= hood_size:
                    break
                for e in range(near_start[region[at]], near_start[region[at] + 1]):
                    q = near[e]
                    if seen_f[q] == stamp or claimed[q] >= 0:
                        continue
                    seen_f[q] = stamp
                    if dot(normals[q], normal) < cos_off:
                        continue
                    near_by = True
                    if turn > 0:
                        for c in range(corner_start[q], corner_start[q + 1]):
                            near_by &= abs(dot(points[corners[c]], normal) - level) <= tolerance
                    if near_by:
                        region[n_region] = q
                        n_region += 1
                at += 1
            if n_region < 3 or (turn > 1 and n_region <= before):
                break
            stamp_p += 1
            n = _corners_of(region, n_region, corner_start, corners, seen_p, stamp_p, which)
            mean_of(points, which, n, at_point)
            spread_of(points, which, n, at_point, spread)
            main_directions(spread, values, vectors)
            rms = np.sqrt(max(0.0, values[0]) / n)
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
