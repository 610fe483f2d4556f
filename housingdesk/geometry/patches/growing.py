"""Compiled loops: let rounds grow over facets from one to the next."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.fitting import bulges, new_room, refine, rms_of, set_side
from housingdesk.geometry.patches.guessing import start
from housingdesk.geometry.patches.net import Net, begin, gather, new_cloud
from housingdesk.geometry.patches.strips import COS_OFF, MAX_BEND_DEG, width
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.types import Floats

HOOD_COS = 0.17  # a neighbourhood takes less than 80 degrees to each side
MANY = 100  # corners; a flat full of holes is no strip of a round, and slow to try
MAX_WIDTH = float(np.radians(41.0))  # see MAX_BEND_DEG
ROUGH = 1e-6  # of a square sum: finer than any decision while growing needs
WIDTH_RATIO = 1.7  # strips of one cylinder are alike; a milled flat is wider


@njit(cache=True, nogil=True, error_model="numpy")
def _hood(f: int, g: int, size: int, net: Net, claimed: Index, seen: Index, stamp: int, hood: Index) -> int:
    """Collect up to ``size`` free facets about a pair, over smooth edges."""
    near_start, near, near_deg, normals = net.near_start, net.near, net.near_deg, net.normals
    hood[0], hood[1], n = f, g, 2
    seen[f], seen[g] = stamp, stamp
    at = 0
    while at < n and n < size:
        for e in range(near_start[hood[at]], near_start[hood[at] + 1]):
            q = near[e]
            if n < size and seen[q] != stamp and claimed[q] < 0 and near_deg[e] < MAX_BEND_DEG:
                seen[q] = stamp
                cosine = normals[q, 0] * normals[f, 0] + normals[q, 1] * normals[f, 1]
                cosine += normals[q, 2] * normals[f, 2]
                if cosine > HOOD_COS and net.corner_start[q + 1] - net.corner_start[q] < MANY:
                    hood[n] = q
                    n += 1
        at += 1
    return n


@njit(cache=True, nogil=True, error_model="numpy")
def _grow(
    f: int,
    g: int,
    limit: float,
    model: Floats,
    net: Net,
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
    near_start, near, near_deg, areas = net.near_start, net.near, net.near_deg, net.areas
    n, at, area, turn, widest = 2, 0, 0.0, 0.0, 0.0
    region[0], region[1] = f, g
    seen[f], seen[g] = stamp, stamp
    for i in range(2):
        w = width(region[i], model, net, tolerance, tolerance, COS_OFF)
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
            w = width(q, model, net, tolerance, tolerance, COS_OFF)
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


@njit(cache=True, nogil=True, error_model="numpy")
def find_rounds(
    net: Net,
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
    corner_start, n_facets = net.corner_start, len(net.areas)
    cloud, about, room = new_cloud(net.points), new_cloud(net.points), new_room()
    seen = np.zeros(n_facets, np.int64)
    dead = np.zeros(n_facets, np.uint8)
    region, kept = np.empty(n_facets, np.int64), np.empty(n_facets, np.int64)
    widths = np.empty(n_facets)
    hood = np.empty(hoods.max() + 1, np.int64)
    model, spent = np.zeros(9), np.zeros(2)
    stamp, number = 0, first_number
    for s in range(len(seeds)):
        f, g = seeds[s, 0], seeds[s, 1]
        if claimed[f] >= 0 or claimed[g] >= 0 or (dead[f] and dead[g]):
            continue
        if max(corner_start[f + 1] - corner_start[f], corner_start[g + 1] - corner_start[g]) >= MANY:
            continue
        found, best_area = 0, 0.0
        spent[:] = 0.0
        n_hood, n_about = 0, 0
        for size in hoods:
            # All points of a smaller neighbourhood are in the larger, so it misses them by as much; a facet
            # more brings about a point more.
            if spent.min() > 2 * (n_about + size - n_hood) * exact_or_noise**2:
                break
            stamp += 1
            n_hood = _hood(f, g, size, net, claimed, seen, stamp, hood)
            begin(about)
            n_about = gather(net, hood, n_hood, about, 0)
            for sloped in (False, True):
                if n_about < 5 or spent[int(sloped)] > 2 * n_about * exact_or_noise**2:
                    continue
                if not start(net, hood, n_hood, about.xyz, n_about, model, sloped, room):
                    continue
                if n_hood > 2 or sloped:
                    free = sloped and n_about > 6
                    rms = refine(about.xyz, n_about, model, free, ROUGH, 2 * exact_or_noise, room)
                    if rms > exact_or_noise:
                        spent[int(sloped)] = n_about * rms * rms
                    if rms < 0 or rms > exact_or_noise:
                        continue
                tolerance = min(exact_or_noise, share * abs(model[6]))
                limit = 0.0
                set_side(model, net, hood, n_hood)
                for i in range(n_hood):
                    limit = max(limit, width(hood[i], model, net, tolerance, tolerance, COS_OFF))
                limit = min(MAX_WIDTH, limit * WIDTH_RATIO + 1e-4)
                n_region, area, good, n = 0, 0.0, False, 0
                for _ in range(12):
                    if abs(model[6]) > max_radius:
                        good = False
                        break
                    before = n_region
                    stamp += 1
                    n_region, area, mean_width = _grow(
                        f, g, limit, model, net, claimed, tolerance, seen, stamp, region, widths
                    )
                    begin(cloud)
                    n = gather(net, region, n_region, cloud, 0)
                    good = n_region >= least_facets and n >= least_corners
                    if n_region <= before or n < least_corners:
                        break
                    limit = min(MAX_WIDTH, WIDTH_RATIO * mean_width + 1e-4)
                    if refine(cloud.xyz, n, model, sloped, ROUGH, np.inf, room) < 0:
                        good = False
                        break
                if not good:
                    continue
                if rms_of(cloud.xyz, n, model) > quiet * tolerance:
                    for i in range(n_region):  # all of it would end the same way
                        dead[region[i]] = 1
                elif area > 1.2 * best_area and bulges(
                    net.normals, region, n_region, model, least_sag, least_deg
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
