"""The compiled loops of `contact`: points on faces and edges on edges, shifted along x or turned about z."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from housingdesk.geometry.boxtree import LEAF
from housingdesk.geometry.types import Floats

GRAZE = 1e-6  # sine of the angle under which a surface slides along another instead of meeting it
TOUCH_MM = 1e-7  # nearer than this is contact
_EDGE = 1e-9  # slack at the rim of a face, as a share of its size: neighbours must not let a point through
_MAX_BACK = 0.5  # radians; how far a turn looks behind its start

Bools = NDArray[np.bool_]


@njit(cache=True, nogil=True)
def _wrapped(angle: float) -> float:
    """Return the angle in -pi .. pi."""
    return angle - 2 * math.pi * math.floor((angle + math.pi) / (2 * math.pi))


@njit(cache=True, nogil=True)
def _inside(x: float, y: float, z: float, face: Floats) -> bool:
    """Whether a point of a face's plane lies in the face (barycentric coordinates, Cramer's rule)."""
    e0, e1, e2 = face[1, 0] - face[0, 0], face[1, 1] - face[0, 1], face[1, 2] - face[0, 2]
    f0, f1, f2 = face[2, 0] - face[0, 0], face[2, 1] - face[0, 1], face[2, 2] - face[0, 2]
    w0, w1, w2 = x - face[0, 0], y - face[0, 1], z - face[0, 2]
    ee, ef, ff = e0 * e0 + e1 * e1 + e2 * e2, e0 * f0 + e1 * f1 + e2 * f2, f0 * f0 + f1 * f1 + f2 * f2
    we, wf = w0 * e0 + w1 * e1 + w2 * e2, w0 * f0 + w1 * f1 + w2 * f2
    area = ee * ff - ef * ef
    s, t = ff * we - ef * wf, ee * wf - ef * we
    slack = _EDGE * area
    return bool(s >= -slack and t >= -slack and s + t <= area + slack)


@njit(cache=True, nogil=True)
def _face_roots(turning: bool, sense: float, p: Floats, n: Floats, c: float) -> tuple[int, float, float]:
    """Return how many and which motions of a point, in its sense, reach a plane."""
    if not turning:
        if abs(n[0]) < GRAZE:
            return 0, 0.0, 0.0
        return 1, sense * (c - n[0] * p[0] - n[1] * p[1] - n[2] * p[2]) / n[0], 0.0
    reach = math.hypot(p[0], p[1]) * math.hypot(n[0], n[1])
    rest = c - n[2] * p[2]
    if reach < 1e-12 or abs(rest) >= reach:
        return 0, 0.0, 0.0
    half = math.acos(rest / reach)
    middle = math.atan2(n[1], n[0]) - math.atan2(p[1], p[0])
    return 2, sense * _wrapped(middle + half), sense * _wrapped(middle - half)


@njit(cache=True, nogil=True)
def _back(turning: bool, depth_mm: float, radius: float) -> float:
    """Return how far behind the start a contact still counts."""
    if not turning:
        return depth_mm
    return min(depth_mm / max(radius, 1e-9), _MAX_BACK)


@njit(cache=True, nogil=True)
def points_on_faces(
    turning: bool,
    way: float,
    faces_are_solid: bool,
    points: Floats,
    low: Floats,
    high: Floats,
    met: Bools,
    deep: Bools,
    faces: Floats,
    normals: Floats,
    order: NDArray[np.int64],
    node_low: Floats,
    node_high: Floats,
    leaves: int,
    window: float,
    depth_mm: float,
) -> float:
    """Return the first motion that brings a point to a face, or a value beyond the window.

    ``way`` is +1 forward, -1 backward.  Where the faces are the solid's, the points move, only faces
    turned against the motion stop it, and a point is inside the solid when the surface next behind it is
    such a face.  Where the points are the solid's, the faces move, which is the points moving the other
    way; ``met`` marks the points that count, ``deep`` those at which the motion runs into the material.
    """
    sense = way if faces_are_solid else -way
    best = window * (1 + 1e-12) + 1e-12
    stack = np.empty(64, np.int64)
    shifts = 3 if turning else 1
    for i in range(len(points)):
        p = points[i]
        radius = math.hypot(p[0], p[1])
        if not met[i] or (turning and radius < 1e-9):
            continue
        back = _back(turning, depth_mm, radius)
        touch = TOUCH_MM / radius if turning else TOUCH_MM
        ahead, behind = min(window, best), back + TOUCH_MM
        first, last = low[i, 0] - behind, high[i, 0] + ahead
        if sense < 0:
            first, last = low[i, 0] - ahead, high[i, 0] + behind
        nearest, nearest_blocks = -1e300, False
        for shift in range(shifts):
            move = 2 * math.pi * (shift - 1) if turning else 0.0
            start, end = first + move, last + move
            stack[0] = 1
            size = 1
            while size:
                size -= 1
                node = stack[size]
                if (
                    node_low[node, 0] > end or node_high[node, 0] < start
                    or node_low[node, 1] > high[i, 1] or node_high[node, 1] < low[i, 1]
                    or node_low[node, 2] > high[i, 2] or node_high[node, 2] < low[i, 2]
                ):  # fmt: skip
                    continue
                if node < leaves:
                    stack[size] = 2 * node
                    stack[size + 1] = 2 * node + 1
                    size += 2
                    continue
                for k in range(LEAF * (node - leaves), min(LEAF * (node - leaves + 1), len(order))):
                    j = order[k]
                    n, face = normals[j], faces[j]
                    c = n[0] * face[0, 0] + n[1] * face[0, 1] + n[2] * face[0, 2]
                    roots, u0, u1 = _face_roots(turning, sense, p, n, c)
                    for root in range(roots):
                        u = u0 if root == 0 else u1
                        if u > best or u < -back:
                            continue
                        if turning:
                            cos, sin = math.cos(sense * u), math.sin(sense * u)
                            x, y = cos * p[0] - sin * p[1], sin * p[0] + cos * p[1]
                            facing = (n[1] * x - n[0] * y) / radius
                        else:
                            x, y = p[0] + sense * u, p[1]
                            facing = n[0]
                        if abs(facing) < GRAZE or not _inside(x, y, p[2], face):
                            continue
                        blocks = way * facing < 0 if faces_are_solid else True
                        if u >= -touch:
                            if blocks and u < best:
                                best = max(u, 0.0)
                        elif u > nearest:
                            nearest, nearest_blocks = u, blocks
        if nearest_blocks and deep[i]:
            return 0.0
    return best


@njit(cache=True, nogil=True)
def _edge_roots(turning: bool, p: Floats, a: Floats, q: Floats, b: Floats) -> tuple[int, float, float]:
    """Return how many and which motions of the line (p, a) make it meet the line (q, b)."""
    size = math.sqrt((a[0] ** 2 + a[1] ** 2 + a[2] ** 2) * (b[0] ** 2 + b[1] ** 2 + b[2] ** 2))
    if not turning:
        m0, m1, m2 = a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
        if abs(m0) < 1e-9 * size:
            return 0, 0.0, 0.0
        return 1, ((q[0] - p[0]) * m0 + (q[1] - p[1]) * m1 + (q[2] - p[2]) * m2) / m0, 0.0
    m0, m1, m2 = p[1] * a[2] - p[2] * a[1], p[2] * a[0] - p[0] * a[2], p[0] * a[1] - p[1] * a[0]
    k0, k1, k2 = q[1] * b[2] - q[2] * b[1], q[2] * b[0] - q[0] * b[2], q[0] * b[1] - q[1] * b[0]
    alpha = b[0] * m0 + b[1] * m1 + k0 * a[0] + k1 * a[1]
    beta = b[1] * m0 - b[0] * m1 + k1 * a[0] - k0 * a[1]
    gamma = b[2] * m2 + k2 * a[2]
    reach = math.hypot(alpha, beta)
    if reach < 1e-12 * size or abs(gamma) > reach:
        return 0, 0.0, 0.0
    half = math.acos(-gamma / reach)
    middle = math.atan2(beta, alpha)
    return 2, _wrapped(middle + half), _wrapped(middle - half)


@njit(cache=True, nogil=True)
def _meeting(p: Floats, a: Floats, q: Floats, b: Floats, u: float, turning: bool) -> tuple[float, float]:
    """Return where along both edges, as shares of their lengths, the moved lines meet; -1 if parallel."""
    if turning:
        cos, sin = math.cos(u), math.sin(u)
        p0, p1, p2 = cos * p[0] - sin * p[1], sin * p[0] + cos * p[1], p[2]
        a0, a1, a2 = cos * a[0] - sin * a[1], sin * a[0] + cos * a[1], a[2]
    else:
        p0, p1, p2 = p[0] + u, p[1], p[2]
        a0, a1, a2 = a[0], a[1], a[2]
    m0, m1, m2 = a1 * b[2] - a2 * b[1], a2 * b[0] - a0 * b[2], a0 * b[1] - a1 * b[0]
    square = m0 * m0 + m1 * m1 + m2 * m2
    if square < 1e-18 * (a0 * a0 + a1 * a1 + a2 * a2) * (b[0] * b[0] + b[1] * b[1] + b[2] * b[2]):
        return -1.0, -1.0
    d0, d1, d2 = q[0] - p0, q[1] - p1, q[2] - p2
    s = ((d1 * b[2] - d2 * b[1]) * m0 + (d2 * b[0] - d0 * b[2]) * m1 + (d0 * b[1] - d1 * b[0]) * m2) / square
    t = ((d1 * a2 - d2 * a1) * m0 + (d2 * a0 - d0 * a2) * m1 + (d0 * a1 - d1 * a0) * m2) / square
    return s, t


@njit(cache=True, nogil=True)
def edges_on_edges(
    turning: bool,
    way: float,
    part: Floats,
    low: Floats,
    high: Floats,
    solid: Floats,
    sides: Floats,
    order: NDArray[np.int64],
    node_low: Floats,
    node_high: Floats,
    leaves: int,
    window: float,
    depth_mm: float,
) -> float:
    """Return the first motion that brings an edge of the part to an edge of the solid."""
    best = window * (1 + 1e-12) + 1e-12
    stack = np.empty(64, np.int64)
    shifts = 3 if turning else 1
    a, b = np.empty(3), np.empty(3)
    for i in range(len(part)):
        p = part[i, 0]
        for axis in range(3):
            a[axis] = part[i, 1, axis] - p[axis]
        behind = _back(turning, depth_mm, low[i, 1])
        for shift in range(shifts):
            move = 2 * math.pi * (shift - 1) if turning else 0.0
            start, end = low[i, 0] + move - behind, high[i, 0] + move + best
            if way < 0:
                start, end = low[i, 0] + move - best, high[i, 0] + move + behind
            stack[0] = 1
            size = 1
            while size:
                size -= 1
                node = stack[size]
                if (
                    node_low[node, 0] > end or node_high[node, 0] < start
                    or node_low[node, 1] > high[i, 1] or node_high[node, 1] < low[i, 1]
                    or node_low[node, 2] > high[i, 2] or node_high[node, 2] < low[i, 2]
                ):  # fmt: skip
                    continue
                if node < leaves:
                    stack[size] = 2 * node
                    stack[size + 1] = 2 * node + 1
                    size += 2
                    continue
                for k in range(LEAF * (node - leaves), min(LEAF * (node - leaves + 1), len(order))):
                    j = order[k]
                    q = solid[j, 0]
                    for axis in range(3):
                        b[axis] = solid[j, 1, axis] - q[axis]
                    roots, u0, u1 = _edge_roots(turning, p, a, q, b)
                    for root in range(roots):
                        u = way * (u0 if root == 0 else u1)
                        if u > best or u < -behind:
                            continue
                        s, t = _meeting(p, a, q, b, way * u, turning)
                        if s < -_EDGE or t < -_EDGE or s > 1 + _EDGE or t > 1 + _EDGE:
                            continue
                        least, most, radius = _facing_of_edge(
                            turning, way, sides[j], q[0] + t * b[0], q[1] + t * b[1]
                        )
                        if least >= -GRAZE or (turning and radius < 1e-9):
                            continue
                        if u >= -(TOUCH_MM / radius if turning else TOUCH_MM):
                            best = min(best, max(u, 0.0))
                        elif (
                            most <= GRAZE and u >= -_back(turning, depth_mm, radius)
                            and min(s, t) > GRAZE and max(s, t) < 1 - GRAZE
                        ):  # fmt: skip
                            return 0.0
    return best


@njit(cache=True, nogil=True)
def _facing_of_edge(
    turning: bool, way: float, sides: Floats, x: float, y: float
) -> tuple[float, float, float]:
    """Return the least and greatest n . v of an edge's two faces at a point, and its radius."""
    if not turning:
        one, other, radius = way * sides[0, 0], way * sides[1, 0], 1.0
    else:
        radius = math.hypot(x, y)
        if radius < 1e-9:
            return 0.0, 0.0, radius
        one = way * (sides[0, 1] * x - sides[0, 0] * y) / radius
        other = way * (sides[1, 1] * x - sides[1, 0] * y) / radius
    return min(one, other), max(one, other), radius
