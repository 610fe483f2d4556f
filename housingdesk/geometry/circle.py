"""The least circle around points of the plane."""

from __future__ import annotations

import numpy as np

from housingdesk.geometry.types import Floats

_HAIR = 1e-9


def least_circle(points: Floats) -> tuple[Floats, float]:
    """Return centre (2,) and radius of the least circle that holds (n, 2) points.

    E. Welzl, "Smallest enclosing disks", 1991, in its loop form: a point outside the circle so far lies on
    the border of the next.
    """
    order = np.random.default_rng(0).permutation(len(points))  # expected linear time needs a mixed order
    p = np.asarray(points, float)[order]
    centre, radius = p[0], 0.0
    for i in range(1, len(p)):
        if _holds(centre, radius, p[i]):
            continue
        centre, radius = p[i], 0.0
        for j in range(i):
            if _holds(centre, radius, p[j]):
                continue
            centre, radius = _across(p[i], p[j])
            for k in range(j):
                if not _holds(centre, radius, p[k]):
                    centre, radius = _through(p[i], p[j], p[k])
    return centre, radius


def _holds(centre: Floats, radius: float, point: Floats) -> bool:
    return bool(np.hypot(*(point - centre)) <= radius * (1 + _HAIR) + _HAIR)


def _across(a: Floats, b: Floats) -> tuple[Floats, float]:
    return (a + b) / 2, float(np.hypot(*(a - b)) / 2)


def _through(a: Floats, b: Floats, c: Floats) -> tuple[Floats, float]:
    """Return the circle through three points; through the two outermost where they lie in line."""
    rows = 2 * np.array([b - a, c - a])
    if abs(np.linalg.det(rows)) < _HAIR:
        pairs = [_across(a, b), _across(b, c), _across(a, c)]
        return max(pairs, key=lambda circle: circle[1])
    offset = np.linalg.solve(rows, np.array([(b - a) @ (b - a), (c - a) @ (c - a)]))
    return a + offset, float(np.hypot(*offset))
