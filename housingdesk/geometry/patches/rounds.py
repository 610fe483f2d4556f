"""Cylinders and cones found: fitting, joining pieces of one, measuring."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray

from housingdesk.geometry.patches.facets import Facets, summed
from housingdesk.geometry.patches.fitting import JOIN_MM, fit_round, fit_rounds, new_room
from housingdesk.geometry.patches.net import Groups, Net, begin, gather, grouped, new_cloud, of_groups
from housingdesk.geometry.patches.strips import cut_strips
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.types import Floats

JOIN_GAP_MM = 0.05


@dataclass(frozen=True, eq=False)
class Rounds:
    """Cylinders and cones.

    Attributes
    ----------
    core : facets of each that have all corners on it and are fitted.
    models : (r, 9) as in `fitting`, at the middle of the length.
    rms_mm, length_mm : (r,), along the axis; an rms below 0 where no round fits.
    cut : facets of each that are strips cut short.
    """

    core: Groups
    models: Floats
    rms_mm: Floats
    length_mm: Floats
    cut: Groups

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.models)

    @property
    def slant_mm(self) -> Floats:
        """Length along the surface, (r,)."""
        return np.asarray(self.length_mm * np.hypot(1.0, self.models[:, 7]))

    def kept(self, which: NDArray[np.bool_]) -> Rounds:
        """Return some of them, told by (r,) booleans."""
        rows = np.flatnonzero(which)
        return Rounds(
            of_groups(self.core, rows),
            self.models[rows],
            self.rms_mm[rows],
            self.length_mm[rows],
            of_groups(self.cut, rows),
        )

    def with_more(self, other: Rounds) -> Rounds:
        """Return these, then others."""
        return Rounds(
            together(self.core, other.core),
            np.concatenate([self.models, other.models]),
            np.concatenate([self.rms_mm, other.rms_mm]),
            np.concatenate([self.length_mm, other.length_mm]),
            together(self.cut, other.cut),
        )


def together(one: Groups, two: Groups) -> Groups:
    """Return the lists of one, then those of the other."""
    start = np.concatenate([one.start, one.start[-1] + two.start[1:]])
    return Groups(start, np.concatenate([one.members, two.members]))


def numbers_of(groups: Groups) -> Index:
    """Which list each of the members is in."""
    return np.repeat(np.arange(len(groups.start) - 1), np.diff(groups.start))


def fitted(f: Facets, cores: Groups) -> Rounds:
    """Fit a cylinder, and where it does not serve a cone, to all corners of each group of facets."""
    models, rms, lengths = fit_rounds(f.net, cores, f.tolerance_mm)
    none = Groups(np.zeros(len(cores.start), np.int64), np.zeros(0, np.int64))
    return Rounds(cores, models, rms, lengths, none)


def with_cut_strips(f: Facets, rounds: Rounds, owner: Index, first: int, tolerance_mm: float) -> Rounds:
    """Add the strips that another surface cuts; ``owner`` of them gets the number, counted from ``first``."""
    models = rounds.models.copy()
    cut, lengths = cut_strips(models, rounds.core, f.net, owner, first, tolerance_mm)
    return replace(rounds, models=models, length_mm=lengths, cut=cut)


@njit(cache=True, nogil=True, error_model="numpy")
def _is_one(am: Floats, a_mm: float, a_rms: float, bm: Floats, b_mm: float, b_rms: float) -> bool:
    """Whether two rounds are pieces of one: same side, axis, size, and lengths that meet or overlap."""
    if am[8] != bm[8] or (am[7] == 0) != (bm[7] == 0):
        return False
    half = (a_mm + b_mm) / 2
    ax, ay, az, bx, by, bz = am[3], am[4], am[5], bm[3], bm[4], bm[5]
    dx, dy, dz = bm[0] - am[0], bm[1] - am[1], bm[2] - am[2]
    h = dx * ax + dy * ay + dz * az
    if abs(h) > half + JOIN_GAP_MM:
        return False
    cosine = ax * bx + ay * by + az * bz
    if am[7] != 0 and (cosine < 0 or abs(am[7] - bm[7]) > 0.005 * (1 + am[7] ** 2)):
        return False
    slack = JOIN_MM + 2e-3 * min(am[6], 5.0) + 10 * max(a_rms, b_rms)  # a scan's piece lies less sure
    lean = np.sqrt((bx - cosine * ax) ** 2 + (by - cosine * ay) ** 2 + (bz - cosine * az) ** 2)
    if lean * half > 2 * slack:
        return False
    off = np.sqrt((dx - h * ax) ** 2 + (dy - h * ay) ** 2 + (dz - h * az) ** 2)
    return bool(off < slack and abs(am[6] + am[7] * h - bm[6]) < slack)


@njit(cache=True, nogil=True, error_model="numpy")
def _beside(i: int, models: Floats, reach: Floats, gone: NDArray[np.bool_]) -> Index:
    """Return the rounds not gone that may be pieces of round i, nearest along its axis first."""
    out, away, n = np.empty(len(reach), np.int64), np.empty(len(reach)), 0
    px, py, pz, ax, ay, az = (
        models[i, 0],
        models[i, 1],
        models[i, 2],
        models[i, 3],
        models[i, 4],
        models[i, 5],
    )
    radius, slope = models[i, 6], models[i, 7]
    for j in range(len(reach)):
        if gone[j] or (slope == 0 and abs(models[j, 6] - radius) >= 0.1):
            continue
        dx, dy, dz = models[j, 0] - px, models[j, 1] - py, models[j, 2] - pz
        h = dx * ax + dy * ay + dz * az
        off = max(0.0, dx * dx + dy * dy + dz * dz - h * h)
        h = abs(h)
        if off < 0.01 and h < reach[i] + reach[j] + 1 and abs(models[j, 6] - radius) < 0.1 + abs(slope) * h:
            out[n], away[n] = j, h
            n += 1
    return out[:n][np.argsort(away[:n])]


@njit(cache=True, nogil=True, error_model="numpy")
def _join(net: Net, core: Groups, models: Floats, rms: Floats, lengths: Floats, tolerance: float) -> Index:
    """Join pieces, in the order given; the first of each whole gets its fit, in place.

    Returns for each round the one it has become part of, itself where it was the first, (r,).
    """
    n = len(models)
    first_models, reach = models.copy(), lengths / 2
    gone, whole_of = np.zeros(n, np.bool_), np.arange(n)
    cloud, room, trial, whole = new_cloud(net.points), new_room(), np.zeros(9), np.zeros(9)
    facets = np.empty(len(core.members), np.int64)
    for i in range(n):
        if gone[i]:
            continue
        gone[i] = True
        count = core.start[i + 1] - core.start[i]
        facets[:count] = core.members[core.start[i] : core.start[i + 1]]
        for j in _beside(i, first_models, reach, gone):
            if not _is_one(models[i], lengths[i], rms[i], models[j], lengths[j], rms[j]):
                continue
            more = core.start[j + 1] - core.start[j]
            facets[count : count + more] = core.members[core.start[j] : core.start[j + 1]]
            begin(cloud)
            size = gather(net, facets, count + more, cloud, 0)
            spread, length = fit_round(
                net, facets[: count + more], cloud.xyz, size, tolerance, whole, trial, room
            )
            if 0 <= spread < 1.5 * max(rms[i], rms[j], JOIN_MM / 2):
                models[i] = whole
                rms[i], lengths[i] = spread, length
                count += more
                gone[j] = True
                whole_of[j] = i
    return whole_of


def joined(f: Facets, rounds: Rounds) -> Rounds:
    """Join pieces of one cylinder or cone: halves of a hole, a shaft cut by a slot."""
    area = summed(numbers_of(rounds.core), f.facet_areas[rounds.core.members], len(rounds))
    area += summed(numbers_of(rounds.cut), f.facet_areas[rounds.cut.members], len(rounds))
    order = np.argsort(-area, kind="stable")
    core, cut = of_groups(rounds.core, order), of_groups(rounds.cut, order)
    models, rms, lengths = rounds.models[order], rounds.rms_mm[order], rounds.length_mm[order]
    whole_of = _join(f.net, core, models, rms, lengths, f.tolerance_mm)
    first, number = np.unique(whole_of, return_inverse=True)
    pieces = [np.full(f.count, -1), np.full(f.count, -1)]
    for own, groups in zip(pieces, (core, cut), strict=True):
        own[groups.members] = number[numbers_of(groups)]
    core, cut = (grouped(own, 0, len(first)) for own in pieces)
    return Rounds(core, models[first], rms[first], lengths[first], cut)
