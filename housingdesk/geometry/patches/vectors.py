"""Compiled loops: three-row algebra without library calls, which cost more than the sums themselves."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.types import Floats


@njit(cache=True, nogil=True)
def solve(m: Floats, b: Floats, n: int) -> bool:
    """Cholesky in place: m (n, n) symmetric, the answer in b; False where m is not positive."""
    for i in range(n):
        for j in range(i + 1):
            s = m[i, j]
            for q in range(j):
                s -= m[i, q] * m[j, q]
            if i == j:
                if s <= 1e-300:
                    return False
                m[i, i] = np.sqrt(s)
            else:
                m[i, j] = s / m[j, j]
    for i in range(n):
        s = b[i]
        for q in range(i):
            s -= m[i, q] * b[q]
        b[i] = s / m[i, i]
    for i in range(n - 1, -1, -1):
        s = b[i]
        for q in range(i + 1, n):
            s -= m[q, i] * b[q]
        b[i] = s / m[i, i]
    return True


@njit(cache=True, nogil=True)
def dot(a: Floats, b: Floats) -> float:
    """Scalar product of two (3,) vectors; array expressions compile ten times slower."""
    return float(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


@njit(cache=True, nogil=True)
def add(a: Floats, factor: float, b: Floats, out: Floats) -> None:
    """Out = a + factor b."""
    for i in range(3):
        out[i] = a[i] + factor * b[i]


@njit(cache=True, nogil=True)
def mean_of(points: Floats, which: Index, n: int, out: Floats) -> None:
    """Mean of the first n points of ``which``, into ``out``."""
    out[:] = 0.0
    for i in range(n):
        add(out, 1.0 / n, points[which[i]], out)


@njit(cache=True, nogil=True)
def spread_of(points: Floats, which: Index, n: int, mean: Floats, out: Floats) -> None:
    """Second moments about a point."""
    d = np.empty(3)
    out[:] = 0.0
    for i in range(n):
        add(points[which[i]], -1.0, mean, d)
        for u in range(3):
            for v in range(3):
                out[u, v] += d[u] * d[v]


@njit(cache=True, nogil=True)
def main_directions(m: Floats, values: Floats, vectors: Floats) -> None:
    """Eigenvalues of a symmetric (3, 3), ascending, and its unit vectors in the columns of ``vectors``.

    Jacobi's rotations: for three rows several times quicker than a call of the library.  ``m`` is spent;
    only its upper triangle is looked at.
    """
    vectors[:] = 0.0
    for i in range(3):
        vectors[i, i] = 1.0
    for _ in range(12):
        off = abs(m[0, 1]) + abs(m[0, 2]) + abs(m[1, 2])
        if off <= 1e-16 * (abs(m[0, 0]) + abs(m[1, 1]) + abs(m[2, 2])):
            break
        for p, q, r in ((0, 1, 2), (0, 2, 1), (1, 2, 0)):
            x = m[p, q]
            if x == 0.0:
                continue
            slope = (m[q, q] - m[p, p]) / (2 * x)
            t = (1.0 if slope >= 0 else -1.0) / (abs(slope) + np.sqrt(slope * slope + 1.0))
            c = 1.0 / np.sqrt(t * t + 1.0)
            s = t * c
            m[p, p] -= t * x
            m[q, q] += t * x
            m[p, q] = 0.0
            u, v = m[min(p, r), max(p, r)], m[min(q, r), max(q, r)]
            m[min(p, r), max(p, r)], m[min(q, r), max(q, r)] = c * u - s * v, s * u + c * v
            for i in range(3):
                u, v = vectors[i, p], vectors[i, q]
                vectors[i, p], vectors[i, q] = c * u - s * v, s * u + c * v
    for i in range(3):
        values[i] = m[i, i]
    for i, j in ((0, 1), (1, 2), (0, 1)):
        if values[i] > values[j]:
            values[i], values[j] = values[j], values[i]
            for u in range(3):
                vectors[u, i], vectors[u, j] = vectors[u, j], vectors[u, i]


@njit(cache=True, nogil=True)
def across(a: Floats, e1: Floats, e2: Floats) -> None:
    """Two unit vectors at right angles to a and each other."""
    least = 0
    for i in range(1, 3):
        if abs(a[i]) < abs(a[least]):
            least = i
    length = np.sqrt(1.0 - a[least] * a[least])
    for i in range(3):
        e1[i] = ((1.0 if i == least else 0.0) - a[least] * a[i]) / length
    e2[0] = a[1] * e1[2] - a[2] * e1[1]
    e2[1] = a[2] * e1[0] - a[0] * e1[2]
    e2[2] = a[0] * e1[1] - a[1] * e1[0]
