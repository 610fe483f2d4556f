"""Compiled loops: three-row algebra without library calls, which cost more than the sums themselves."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.types import Floats

ANY_ORDER = {"reassoc", "contract", "nsz"}  # for sums over points: several at once; infinities stay


@njit(cache=True, nogil=True, error_model="numpy", fastmath=ANY_ORDER)
def mean_of(xyz: Floats, n: int) -> tuple[float, float, float]:
    """Mean of the first n points of (3, n or more)."""
    x, y, z = 0.0, 0.0, 0.0
    for i in range(n):
        x, y, z = x + xyz[0, i], y + xyz[1, i], z + xyz[2, i]
    return x / n, y / n, z / n


@njit(cache=True, nogil=True, error_model="numpy")
def solve(m: Floats, n: int) -> float:
    """Solve m x = b for the first n rows of ``m`` (n or more, n + 1 or more), in place.

    b is the last column, and gets x.  Only the lower half of the symmetric rest is looked at, and spent
    (L D L^T: no roots, n divisions).  Returned is b x: by how much the step x lowers the square sum whose
    normal equations these are; -1 where m is not positive definite.
    """
    right, explained = m.shape[1] - 1, 0.0
    for j in range(n):
        pivot, s = m[j, j], m[j, right]
        for q in range(j):
            pivot -= m[j, q] * m[j, q] * m[q, q]
            s -= m[j, q] * m[q, right]
        if not pivot > 1e-300:
            return -1.0
        inverse = 1.0 / pivot
        m[j, j], m[j, right] = pivot, s
        explained += s * s * inverse
        for i in range(j + 1, n):
            s = m[i, j]
            for q in range(j):
                s -= m[i, q] * m[j, q] * m[q, q]
            m[i, j] = s * inverse
    for j in range(n - 1, -1, -1):
        s = m[j, right] / m[j, j]
        for i in range(j + 1, n):
            s -= m[i, j] * m[i, right]
        m[j, right] = s
    return explained


@njit(cache=True, nogil=True, error_model="numpy")
def least_direction(
    xx: float, xy: float, xz: float, yy: float, yz: float, zz: float
) -> tuple[float, float, float, float]:
    """Guess the direction of the least spread of symmetric moments (3, 3); and how large the middle one is.

    Powers of the adjugate, in which the least is by far the largest wherever it stands out from the
    middle one.  Many times quicker than `main_directions`.
    """
    trace = xx + yy + zz
    a, b, c = yy * zz - yz * yz, xz * yz - xy * zz, xy * yz - xz * yy
    d, e, f = xx * zz - xz * xz, xy * xz - xx * yz, xx * yy - xy * xy
    middle = (a + d + f) / trace if trace > 0 else 0.0
    for _ in range(6):
        size = a + d + f
        if not size > 0:
            return 0.0, 0.0, 0.0, 0.0
        a, b, c, d, e, f = a / size, b / size, c / size, d / size, e / size, f / size
        a, b, c, d, e, f = (
            a * a + b * b + c * c, a * b + b * d + c * e, a * c + b * e + c * f,
            b * b + d * d + e * e, b * c + d * e + e * f, c * c + e * e + f * f,
        )  # fmt: skip
    if a >= d and a >= f:
        x, y, z = a, b, c
    elif d >= f:
        x, y, z = b, d, e
    else:
        x, y, z = c, e, f
    length = np.sqrt(x * x + y * y + z * z)
    return x / length, y / length, z / length, middle


@njit(cache=True, nogil=True, error_model="numpy")
def dot(a: Floats, b: Floats) -> float:
    """Scalar product of two (3,) vectors; array expressions compile ten times slower."""
    return float(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


@njit(cache=True, nogil=True, error_model="numpy")
def add(a: Floats, factor: float, b: Floats, out: Floats) -> None:
    """Out = a + factor b."""
    for i in range(3):
        out[i] = a[i] + factor * b[i]


@njit(cache=True, nogil=True, error_model="numpy")
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


@njit(cache=True, nogil=True, error_model="numpy")
def sides(x: float, y: float, z: float) -> tuple[float, float, float, float, float, float]:
    """Two unit vectors at right angles to a unit vector and each other: u, then v = a x u."""
    if abs(x) <= abs(y) and abs(x) <= abs(z):
        length = np.sqrt(1.0 - x * x)
        ux, uy, uz = length, -x * y / length, -x * z / length
    elif abs(y) <= abs(z):
        length = np.sqrt(1.0 - y * y)
        ux, uy, uz = -y * x / length, length, -y * z / length
    else:
        length = np.sqrt(1.0 - z * z)
        ux, uy, uz = -z * x / length, -z * y / length, length
    return ux, uy, uz, y * uz - z * uy, z * ux - x * uz, x * uy - y * ux


@njit(cache=True, nogil=True, error_model="numpy")
def across(a: Floats, e1: Floats, e2: Floats) -> None:
    """Write `sides` of a unit vector (3,) into two more."""
    e1[0], e1[1], e1[2], e2[0], e2[1], e2[2] = sides(a[0], a[1], a[2])
