"""Facets as the compiled loops see them, and groups of them as two arrays."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.types import Floats


class Net(NamedTuple):
    """Facets, their corners and their neighbours; each field as in `facets.Facets`."""

    points: Floats
    normals: Floats
    areas: Floats
    centres: Floats
    corner_start: Index
    corners: Index
    near_start: Index
    near: Index
    near_deg: Floats


class Groups(NamedTuple):
    """Lists of numbers end to end: list i is ``members[start[i]:start[i + 1]]``."""

    start: Index
    members: Index


class Cloud(NamedTuple):
    """Room for the corners of some facets: ``xyz`` (3, p) mm, and which points are in it already.

    A point is in where ``seen`` (p,) has the ``stamp`` (1,) of the last gathering, so that nothing has to
    be cleared.
    """

    xyz: Floats
    seen: Index
    stamp: Index


@njit(cache=True, nogil=True, error_model="numpy")
def grouped(number: Index, first: int, last: int) -> Groups:
    """List the positions of each number from first up to, not including, last; ascending in each list."""
    start = np.zeros(last - first + 1, np.int64)
    for n in number:
        if first <= n < last:
            start[n - first + 1] += 1
    for i in range(last - first):
        start[i + 1] += start[i]
    at = start[:-1].copy()
    members = np.empty(start[-1], np.int64)
    for i in range(len(number)):
        n = number[i] - first
        if 0 <= n < last - first:
            members[at[n]] = i
            at[n] += 1
    return Groups(start, members)


@njit(cache=True, nogil=True, error_model="numpy")
def of_groups(groups: Groups, keep: Index) -> Groups:
    """Return the lists of the given numbers alone, in the order given."""
    start = np.zeros(len(keep) + 1, np.int64)
    for i in range(len(keep)):
        start[i + 1] = start[i] + groups.start[keep[i] + 1] - groups.start[keep[i]]
    members = np.empty(start[-1], np.int64)
    for i in range(len(keep)):
        members[start[i] : start[i + 1]] = groups.members[groups.start[keep[i]] : groups.start[keep[i] + 1]]
    return Groups(start, members)


@njit(cache=True, nogil=True, error_model="numpy")
def new_cloud(points: Floats) -> Cloud:
    """Make room for as many corners as there are points, (p, 3)."""
    return Cloud(np.empty((3, len(points))), np.zeros(len(points), np.int64), np.zeros(1, np.int64))


@njit(cache=True, nogil=True, error_model="numpy")
def begin(cloud: Cloud) -> None:
    """Forget what was gathered."""
    cloud.stamp[0] += 1


@njit(cache=True, nogil=True, error_model="numpy")
def gather(net: Net, facets: Index, n_facets: int, cloud: Cloud, count: int) -> int:
    """Add the corners of facets that are not among the ``count`` there are; how many there are then."""
    points, corner_start, corners = net.points, net.corner_start, net.corners
    xyz, seen, stamp = cloud.xyz, cloud.seen, cloud.stamp[0]
    for i in range(n_facets):
        for c in range(corner_start[facets[i]], corner_start[facets[i] + 1]):
            v = corners[c]
            if seen[v] != stamp:
                seen[v] = stamp
                xyz[0, count], xyz[1, count], xyz[2, count] = points[v, 0], points[v, 1], points[v, 2]
                count += 1
    return count
