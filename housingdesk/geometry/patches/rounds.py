"""Cylinders and cones as values: fitting, joining pieces of one, measuring."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from housingdesk.geometry.patches.facets import Facets, Index
from housingdesk.geometry.patches.fitting import refine, set_side, start
from housingdesk.geometry.patches.growing import absorb
from housingdesk.geometry.types import Floats

CONE_SLOPE = 2e-3  # below this (0.1 degree) a slope is no cone
JOIN_MM = 0.01  # a fit to calipers' last digit
JOIN_GAP_MM = 0.05
EDGE = 0.35  # of the radius: a larger rounding or chamfer is a shape of its own
SQUARE = 0.9999


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
    which = f.corners_of(facets)
    best: Round | None = None
    for sloped in (False, True):
        model = np.zeros(9)
        if not start(
            f.points, f.facet_normals, f.facet_areas, facets, len(facets), f.facet_centres,
            which, len(which), model, sloped,
        ):  # fmt: skip
            continue
        rms = refine(f.points, which, len(which), model, sloped)
        if rms < 0:
            continue
        set_side(model, f.facet_normals, f.facet_centres, facets, len(facets))
        found = _centred(f, facets, which, model, rms)
        # A free slope always fits a little better: it must explain what the cylinder does not.
        explains = best is None or (
            rms < 0.5 * best.rms_mm - f.tolerance_mm / 10
            and abs(model[7]) * found.length_mm > JOIN_MM / 2
            and abs(model[7]) > CONE_SLOPE
        )
        if not sloped or explains:
            best = found
    return best


def _centred(f: Facets, facets: Index, which: Index, model: Floats, rms: float) -> Round:
    axis = model[3:6]
    heights = (f.points[which] - model[:3]) @ axis
    low, high = heights.min(), heights.max()
    middle = (low + high) / 2
    model[6] += model[7] * middle
    model[:3] += middle * axis
    upward = axis[np.argmax(np.abs(axis) > np.abs(axis).max() - 1e-6)] > 0
    if model[7] < 0 or (model[7] == 0 and not upward):
        model[3:6] *= -1
        model[7] *= -1
    return Round(facets, model, rms, float(high - low), np.zeros(0, np.int64))


def with_cut_strips(f: Facets, one: Round, owner: Index, number: int, tolerance_mm: float) -> Round:
    """Add the strips that another surface cuts; ``owner`` of them gets ``number``."""
    cut = absorb(
        one.model, one.core, f.points, f.facet_normals, f.corner_start, f.corners, f.near_start, f.near,
        f.near_deg, owner, number, tolerance_mm,
    )  # fmt: skip
    heights = (f.points[f.corners_of(np.concatenate([one.core, cut]))] - one.model[:3]) @ one.model[3:6]
    low, high = float(heights.min()), float(heights.max())
    model = one.model.copy()
    model[6] += model[7] * (low + high) / 2
    model[:3] += (low + high) / 2 * model[3:6]
    return replace(one, model=model, length_mm=high - low, cut=cut)


def _is_one(a: Round, b: Round) -> bool:
    """Whether two rounds are pieces of one: same side, axis, size, and lengths that meet or overlap."""
    am, bm = a.model, b.model
    if am[8] != bm[8] or (am[7] == 0) != (bm[7] == 0):
        return False
    cosine = am[3:6] @ bm[3:6]
    if am[7] != 0 and (cosine < 0 or abs(am[7] - bm[7]) > 0.005 * (1 + am[7] ** 2)):
        return False
    half = (a.length_mm + b.length_mm) / 2
    sine = np.linalg.norm(np.cross(am[3:6], bm[3:6]))
    slack = JOIN_MM + 2e-3 * min(am[6], 5.0) + 10 * max(a.rms_mm, b.rms_mm)  # a scan's piece lies less sure
    if sine * half > 2 * slack:
        return False
    d = bm[:3] - am[:3]
    h = d @ am[3:6]
    if abs(h) > half + JOIN_GAP_MM:
        return False
    return bool(np.linalg.norm(d - h * am[3:6]) < slack and abs(am[6] + am[7] * h - bm[6]) < slack)


def joined(f: Facets, rounds: list[Round]) -> list[Round]:
    """Join pieces of one cylinder or cone: halves of a hole, a shaft cut by a slot."""
    order = sorted(rounds, key=lambda r: -float(f.facet_areas[r.facets].sum()))
    radii = np.array([r.model[6] for r in order])
    centres = np.array([r.model[:3] for r in order]).reshape(-1, 3)
    reach = np.array([r.length_mm / 2 for r in order])
    gone = np.zeros(len(order), bool)
    out = []
    for i, one in enumerate(order):
        if gone[i]:
            continue
        gone[i] = True
        d = centres - centres[i]
        h = np.abs(d @ one.model[3:6])
        off = np.sqrt(np.maximum(0.0, (d**2).sum(1) - h**2))
        grown = np.abs(one.model[7]) * h
        near = np.flatnonzero(
            ~gone & (off < 0.1) & (h < reach + reach[i] + 1) & (np.abs(radii - radii[i]) < 0.1 + grown)
        )
        for j in near[np.argsort(h[near])]:
            if _is_one(one, order[j]):
                whole = fit(f, np.concatenate([one.core, order[j].core]))
                worst = max(one.rms_mm, order[j].rms_mm, JOIN_MM / 2)
                if whole is not None and whole.rms_mm < 1.5 * worst:
                    one = replace(whole, cut=np.concatenate([one.cut, order[j].cut]))
                    gone[j] = True
        out.append(one)
    return out


def turn(f: Facets, one: Round) -> float:
    """Share of the full turn that the facets cover, each from its first corner to its last."""
    axis, across = one.model[3:6], np.eye(3)[np.argmin(np.abs(one.model[3:6]))]
    e1 = np.cross(axis, across)
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(axis, e1)
    starts, ends = f.corner_start[one.facets], f.corner_start[one.facets + 1]
    owner = np.repeat(np.arange(len(starts)), ends - starts)
    at = np.arange(len(owner)) - np.repeat(np.cumsum(ends - starts) - (ends - starts), ends - starts)
    d = f.points[f.corners[np.repeat(starts, ends - starts) + at]] - one.model[:3]
    x, y = d @ e1, d @ e2
    far = np.hypot(x, y) > 1e-3 * abs(one.model[6])
    angle = np.arctan2(y, x)
    # corners relative to the facet's own middle, so that the seam at 180 degrees does not matter
    middle = np.arctan2(
        np.bincount(owner, np.where(far, np.sin(angle), 0)),
        np.bincount(owner, np.where(far, np.cos(angle), 0)),
    )
    off = np.where(far, (angle - middle[owner] + np.pi) % (2 * np.pi) - np.pi, 0.0)
    low, high = np.zeros(len(starts)), np.zeros(len(starts))
    np.minimum.at(low, owner, off)
    np.maximum.at(high, owner, off)
    # the union of the arcs, opened at the seam
    first = (middle + low) % (2 * np.pi)
    last = first + (high - low)
    order = np.argsort(first)
    first, last = first[order], last[order]
    wrap = max(0.0, float(last.max()) - 2 * np.pi)
    reach = np.maximum.accumulate(np.concatenate([[wrap], last]))
    gaps = np.maximum(0.0, np.append(first, 2 * np.pi) - reach)
    return float(np.clip(1 - gaps.sum() / (2 * np.pi), 0.0, 1.0))


def over_edges(f: Facets, one: Round, owner: Index) -> tuple[float, float]:
    """How far rounded or chamfered ends go on to their end faces, mm at the low and the high end.

    ``owner`` (facets,) is -1 where a facet is in no patch; facets of other patches are crossed only where
    they stay within the edge.  An end counts where every way from the rim over facets no further than
    `EDGE` radii leads to one face square to the axis and looking outward; otherwise it adds nothing.
    """
    axis, radius = one.model[3:6], float(one.model[6])
    own = np.zeros(f.count, bool)
    own[one.facets] = True
    out = []
    for end in (-1.0, 1.0):
        start_mm = end * one.length_mm / 2
        seen, todo, faces = own.copy(), list(one.facets), []
        fits = True
        while todo and fits:
            at = todo.pop()
            for e in range(f.near_start[at], f.near_start[at + 1]):
                q = int(f.near[e])
                corners = f.corners[f.corner_start[q] : f.corner_start[q + 1]]
                if seen[q] or not len(corners):
                    continue
                seen[q] = True
                d = f.points[corners] - one.model[:3]
                h = end * (d @ axis) - end * start_mm
                if h.max() < JOIN_MM:  # the other end, or a slot in the side
                    continue
                if end * (f.facet_normals[q] @ axis) > SQUARE and owner[q] >= 0:
                    faces.append(float(h.mean()))
                    continue
                off = one.model[8] * (radius - np.linalg.norm(d - np.outer(d @ axis, axis), axis=1))
                if off.min() < -JOIN_MM or max(off.max(), h.max()) > EDGE * radius or h.min() < -JOIN_MM:
                    fits = False
                    break
                todo.append(q)
        level = bool(faces) and max(faces) - min(faces) < JOIN_MM
        out.append(max(0.0, float(np.mean(faces))) if fits and level else 0.0)
    return out[0], out[1]
