"""Cylinders and cones as values: fitting, joining pieces of one, measuring."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray

from housingdesk.geometry.patches.facets import Facets
from housingdesk.geometry.patches.fitting import JOIN_MM, distinct_corners, fit_round, span_of
from housingdesk.geometry.patches.growing import absorb
from housingdesk.geometry.patches.spans import end_over_edge, share_of_turn
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import add, dot
from housingdesk.geometry.types import Floats

JOIN_GAP_MM = 0.05


@dataclass(frozen=True, eq=False)
class Round:
    """A cylinder or cone; ``model`` as in `fitting`, at the middle of its length.

    The ``core`` facets have all corners on it and are fitted; the ``cut`` ones are strips cut short.
    """

    core: Index
    model: Floats
    rms_mm: float
    length_mm: float
    cut: Index

    @property
    def facets(self) -> Index:
        """All facets."""
        return np.concatenate([self.core, self.cut])

    @property
    def slant_mm(self) -> float:
        """Length along the surface."""
        return self.length_mm * float(np.hypot(1.0, self.model[7]))


def fit(f: Facets, facets: Index) -> Round | None:
    """Fit a cylinder, and where it does not serve a cone, to all corners of some facets."""
    model = np.zeros(9)
    rms, length = fit_round(
        f.points, f.facet_normals, f.facet_areas, f.facet_centres, facets, f.corner_start, f.corners,
        f.tolerance_mm, model,
    )  # fmt: skip
    return None if rms < 0 else Round(facets, model, rms, length, np.zeros(0, np.int64))


def with_cut_strips(
    f: Facets, one: Round, owner: Index, number: int, tolerance_mm: float, room: Index
) -> Round:
    """Add the strips that another surface cuts; ``owner`` of them gets ``number``; ``room``: see `absorb`."""
    cut = absorb(
        one.model, one.core, f.points, f.facet_normals, f.corner_start, f.corners, f.near_start, f.near,
        f.near_deg, owner, number, tolerance_mm, room,
    )  # fmt: skip
    which = distinct_corners(np.concatenate([one.core, cut]), f.corner_start, f.corners)
    low, high = span_of(f.points, which, one.model)
    model = one.model.copy()
    model[6] += model[7] * (low + high) / 2
    model[:3] += (low + high) / 2 * model[3:6]
    return replace(one, model=model, length_mm=high - low, cut=cut)


@njit(cache=True, nogil=True)
def _is_one(am: Floats, a_mm: float, a_rms: float, bm: Floats, b_mm: float, b_rms: float) -> bool:
    """Whether two rounds are pieces of one: same side, axis, size, and lengths that meet or overlap."""
    if am[8] != bm[8] or (am[7] == 0) != (bm[7] == 0):
        return False
    half = (a_mm + b_mm) / 2
    d, off = np.empty(3), np.empty(3)
    add(bm[:3], -1.0, am[:3], d)
    h = dot(d, am[3:6])
    if abs(h) > half + JOIN_GAP_MM:
        return False
    cosine = dot(am[3:6], bm[3:6])
    if am[7] != 0 and (cosine < 0 or abs(am[7] - bm[7]) > 0.005 * (1 + am[7] ** 2)):
        return False
    slack = JOIN_MM + 2e-3 * min(am[6], 5.0) + 10 * max(a_rms, b_rms)  # a scan's piece lies less sure
    add(bm[3:6], -cosine, am[3:6], off)
    if np.sqrt(dot(off, off)) * half > 2 * slack:
        return False
    add(d, -h, am[3:6], off)
    return bool(np.sqrt(dot(off, off)) < slack and abs(am[6] + am[7] * h - bm[6]) < slack)


@njit(cache=True, nogil=True)
def _beside(i: int, models: Floats, reach: Floats, gone: NDArray[np.bool_]) -> Index:
    """Return the rounds not gone that may be pieces of round i, nearest along its axis first."""
    out, away, n = np.empty(len(reach), np.int64), np.empty(len(reach)), 0
    one, d = models[i], np.empty(3)
    for j in range(len(reach)):
        if gone[j]:
            continue
        add(models[j, :3], -1.0, one[:3], d)
        h = dot(d, one[3:6])
        off = max(0.0, dot(d, d) - h * h)
        h = abs(h)
        if off < 0.01 and h < reach[i] + reach[j] + 1 and abs(models[j, 6] - one[6]) < 0.1 + abs(one[7]) * h:
            out[n], away[n] = j, h
            n += 1
    return out[:n][np.argsort(away[:n])]


def joined(f: Facets, rounds: list[Round]) -> list[Round]:
    """Join pieces of one cylinder or cone: halves of a hole, a shaft cut by a slot."""
    order = sorted(rounds, key=lambda r: -float(f.facet_areas[r.facets].sum()))
    models = np.array([r.model for r in order]).reshape(-1, 9)
    reach = np.array([r.length_mm / 2 for r in order])
    gone = np.zeros(len(order), bool)
    out = []
    for i, one in enumerate(order):
        if gone[i]:
            continue
        gone[i] = True
        for j in _beside(i, models, reach, gone):
            two = order[j]
            if _is_one(one.model, one.length_mm, one.rms_mm, two.model, two.length_mm, two.rms_mm):
                whole = fit(f, np.concatenate([one.core, two.core]))
                worst = max(one.rms_mm, two.rms_mm, JOIN_MM / 2)
                if whole is not None and whole.rms_mm < 1.5 * worst:
                    one = replace(whole, cut=np.concatenate([one.cut, two.cut]))
                    gone[j] = True
        out.append(one)
    return out


def turn(f: Facets, one: Round) -> float:
    """Share of the full turn that the facets cover, each from its first corner to its last."""
    return share_of_turn(f.points, one.facets, f.corner_start, f.corners, one.model)


def over_edges(f: Facets, one: Round, owner: Index) -> tuple[float, float]:
    """How far rounded or chamfered ends go on to their end faces, mm at the low and the high end.

    ``owner`` (facets,) is -1 where a facet is in no patch; facets of other patches are crossed only where
    they stay within the edge.  An end counts where every way from the rim over facets no further than
    `EDGE` radii leads to one face square to the axis and looking outward; otherwise it adds nothing.
    """
    low, high = (
        end_over_edge(
            end, one.model, one.length_mm, one.facets, f.points, f.facet_normals, f.corner_start, f.corners,
            f.near_start, f.near, owner,
        )
        for end in (-1.0, 1.0)
    )  # fmt: skip
    return low, high
