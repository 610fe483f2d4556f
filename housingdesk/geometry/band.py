"""Which grid nodes the grown part covers, and where grid edges leave it: exact, triangle by triangle.

The grown part is the union over triangles T of all points within ``reach[T]`` of T (or of T swept upward).
Each member of the union is convex, so along a grid edge it is entered once, and Newton's method on the
distance, started outside, walks to the entry without ever overshooting (a convex function lies above its
tangents).  The earliest entry over all triangles is the exact crossing, whatever holes, flips or overlaps
the triangles have: no sign, no normal and no neighbour of a triangle is ever asked for.

Grid: node (i, j, k) lies at origin + spacing * (i, j, k); arrays are C-ordered, k fastest, so that a column
along the pull is contiguous.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.marks import IN, NEAR, STEPS
from housingdesk.geometry.nearest import jit, nearest_below, nearest_on_swept, nearest_on_triangle
from housingdesk.geometry.types import Floats
from housingdesk.geometry.walk import find_rows, index_range, normal_of, z_range

MEETS_MM = 1e-6  # a point so little within reach is taken as on the surface


@jit
def cover(
    tris: Floats,
    reach: Floats,
    near: float,
    origin: Floats,
    h: float,
    x_from: int,
    x_to: int,
    state: NDArray[np.uint8],
) -> None:
    """Mark the nodes of the columns ``x_from <= i < x_to`` that the grown part covers.

    Parameters
    ----------
    tris : (m, 3, 3) corners, mm.
    reach : (m,) how far each triangle reaches, mm.
    near : further distance within which ``NEAR`` is set.
    state : (nx, ny, nz) uint8, changed in place; ``IN`` and ``NEAR`` are set.
    """
    ny, nz = state.shape[1], state.shape[2]
    rows = np.zeros((max(0, x_to - x_from), 2), np.int64)
    for m in range(tris.shape[0]):
        t = tris[m]
        c = reach[m]
        r = c + near
        c2, r2 = c * c, r * r
        n = normal_of(t)
        i0, i1 = find_rows(t, r, origin[0], origin[1], h, x_from, x_to, ny, rows)
        for i in range(i0, i1):
            x = origin[0] + h * i
            for j in range(rows[i - x_from, 0], rows[i - x_from, 1]):
                y = origin[1] + h * j
                z_low, z_high = z_range(t, n, x, y, r)
                k0, k1 = index_range(z_low, z_high, origin[2], h, 0, nz)
                for k in range(k0, k1):
                    if state[i, j, k] & IN:
                        continue
                    z = origin[2] + h * k
                    px, py, pz = nearest_on_triangle(t, x, y, z)
                    d2 = (x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2
                    if d2 <= c2:
                        state[i, j, k] |= IN | NEAR
                    elif d2 <= r2:
                        state[i, j, k] |= NEAR


@jit
def _covered(at: Floats, origin: Floats, h: float, state: NDArray[np.uint8]) -> bool:
    """Tell whether any of the eight nodes about a place is covered."""
    i, j, k = np.floor((at - origin) / h).astype(np.int64)
    return bool((state[i : i + 2, j : j + 2, k : k + 2] & IN).any())


@jit
def unseen(tris: Floats, origin: Floats, h: float, state: NDArray[np.uint8], lost: NDArray[np.bool_]) -> None:
    """Tell which triangles may slip between the nodes: those of sheets, and of what is as thin as a cell.

    One and a half spacings behind the face of a solid some node about lies in its sweep; behind a sheet's
    none does, either way.  Places are taken a little within the triangle and higher up, so that none lies
    behind an edge.

    Parameters
    ----------
    lost : (m,) changed in place.
    """
    for m in range(tris.shape[0]):
        a, b, c = tris[m, 0], tris[m, 1], tris[m, 2]
        longest = max(((b - a) ** 2).sum(), ((c - b) ** 2).sum(), ((a - c) ** 2).sum())
        steps = int(np.ceil(np.sqrt(longest) / h)) + 1
        behind, middle = 1.5 * h * normal_of(tris[m]), (a + b + c) / 3
        for u in range(steps + 1):
            if lost[m]:
                break
            for v in range(steps + 1 - u):
                at = a + (b - a) * (u / steps) + (c - a) * (v / steps)
                far = np.sqrt(((middle - at) ** 2).sum())
                at = at + (middle - at) * (min(1.0, h / far) if far > 0.0 else 0.0)
                at[2] += h
                if not (_covered(at - behind, origin, h, state) or _covered(at + behind, origin, h, state)):
                    lost[m] = True
                    break


@jit
def find_floor(
    tris: Floats,
    reach: Floats,
    near: float,
    origin: Floats,
    h: float,
    x_from: int,
    x_to: int,
    nz: int,
    floor: NDArray[np.int32],
) -> None:
    """Find the lowest nodes that the part covers in some columns when it is swept upward; see ``cover``.

    What is covered at one height is covered above, so a column is known by its lowest node, and a triangle
    needs no look where another reaches lower.

    Parameters
    ----------
    nz : nodes a column.
    floor : (2, nx, ny), changed in place; the lowest node near, and the lowest within reach; ``nz`` for none.
    """
    ny = floor.shape[2]
    rows = np.zeros((max(0, x_to - x_from), 2), np.int64)
    for m in range(tris.shape[0]):
        t = tris[m]
        n = normal_of(t)
        i0, i1 = find_rows(t, reach[m] + near, origin[0], origin[1], h, x_from, x_to, ny, rows)
        for i in range(i0, i1):
            x = origin[0] + h * i
            for j in range(rows[i - x_from, 0], rows[i - x_from, 1]):
                y = origin[1] + h * j
                beside2, z_at = nearest_below(t, x, y)
                top = min(nz - 1, max(0, int(np.ceil((z_at - origin[2]) / h))))
                for which in range(2):
                    r = reach[m] + (1 - which) * near
                    if beside2 > r * r:
                        break
                    known = floor[which, i, j]
                    k0, _ = index_range(z_range(t, n, x, y, r)[0], 0.0, origin[2], h, 0, nz)
                    if k0 >= known:
                        continue
                    # From ``top`` on the distance is that beside the triangle.
                    found = min(top, known)
                    for k in range(k0, found):
                        z = origin[2] + h * k
                        px, py, pz = nearest_on_swept(t, x, y, z)
                        if (x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2 <= r * r:
                            found = k
                            break
                    floor[which, i, j] = found


@jit
def cover_above(floor: NDArray[np.int32], x_from: int, x_to: int, state: NDArray[np.uint8]) -> None:
    """Mark all nodes of some columns from their floor up; the topmost stays free, it closes the surface."""
    nz = state.shape[2]
    for i in range(x_from, x_to):
        for j in range(state.shape[1]):
            for k in range(floor[0, i, j], nz - 1):
                state[i, j, k] = NEAR if k < floor[1, i, j] else IN | NEAR


@jit
def enter(
    tris: Floats,
    reach: Floats,
    swept: bool,
    origin: Floats,
    h: float,
    x_from: int,
    x_to: int,
    ny: int,
    nz: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    mask: NDArray[np.uint8],
    entry: Floats,
    owner: NDArray[np.int32],
) -> None:
    """Find where the edges from rim nodes to covered nodes enter the grown part.

    Parameters
    ----------
    starts, height, mask : the rim nodes of these columns, from ``marks``.
    entry, owner : (r, 6), changed in place: distance from the rim node to the entry, and whose it is.
    """
    rows = np.zeros((max(0, x_to - x_from), 2), np.int64)
    for m in range(tris.shape[0]):
        t = tris[m]
        c = reach[m]
        r = c + 1.001 * h  # an entry may lie at the very end of an edge
        r2 = r * r
        n = normal_of(t)
        i0, i1 = find_rows(t, r, origin[0], origin[1], h, x_from, x_to, ny, rows)
        for i in range(i0, i1):
            x = origin[0] + h * i
            for j in range(rows[i - x_from, 0], rows[i - x_from, 1]):
                column = (i - x_from) * ny + j
                first, last = starts[column], starts[column + 1]
                if first == last:
                    continue
                y = origin[1] + h * j
                z_low, z_high = z_range(t, n, x, y, r)
                k1 = nz
                if swept:
                    d2, z_at = nearest_below(t, x, y)
                    if d2 > r2:
                        continue
                    k1 = int(np.ceil((z_at - origin[2]) / h)) + 1
                    z_high = origin[2] + h * k1
                k0, k1 = index_range(z_low, z_high, origin[2], h, 0, min(k1, nz))
                for a in range(first, last):
                    k = height[a]
                    if k < k0 or k >= k1:
                        continue
                    z = origin[2] + h * k
                    if n[0] * (x - t[0, 0]) + n[1] * (y - t[0, 1]) + n[2] * (z - t[0, 2]) < r:
                        _enter_node(t, c, m, swept, x, y, z, mask[a], entry[a], owner[a])


@jit
def _enter_node(
    t: Floats,
    c: float,
    number: int,
    swept: bool,
    x: float,
    y: float,
    z: float,
    mask: int,
    entry: Floats,
    owner: NDArray[np.int32],
) -> None:
    """Shorten the entries of one rim node by one triangle."""
    if swept:
        px, py, pz = nearest_on_swept(t, x, y, z)
    else:
        px, py, pz = nearest_on_triangle(t, x, y, z)
    gx, gy, gz = x - px, y - py, z - pz
    d0 = np.sqrt(gx * gx + gy * gy + gz * gz)
    for s in range(6):
        if not mask & (1 << s):
            continue
        # A distance shrinks by at most one per unit of way, so an entry can be no nearer than this.
        if d0 - c >= entry[s]:
            continue
        ex, ey, ez = float(STEPS[s, 0]), float(STEPS[s, 1]), float(STEPS[s, 2])
        vx, vy, vz, d, way = gx, gy, gz, d0, 0.0
        for _ in range(30):
            if d <= c + 1e-7:
                if way < entry[s]:
                    entry[s] = way
                    owner[s] = number
                break
            slope = -(vx * ex + vy * ey + vz * ez) / d
            if slope <= 1e-9:
                break
            way += (d - c) / slope
            if way >= entry[s]:
                break
            wx, wy, wz = x + way * ex, y + way * ey, z + way * ez
            if swept:
                px, py, pz = nearest_on_swept(t, wx, wy, wz)
            else:
                px, py, pz = nearest_on_triangle(t, wx, wy, wz)
            vx, vy, vz = wx - px, wy - py, wz - pz
            d = np.sqrt(vx * vx + vy * vy + vz * vz)


@jit
def carry_upward(
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    mask: NDArray[np.uint8],
    entry: Floats,
    owner: NDArray[np.int32],
) -> None:
    """Pass level entries up their column: what a swept triangle covers at one height it covers above."""
    for column in range(starts.shape[0] - 1):
        for a in range(starts[column] + 1, starts[column + 1]):
            if height[a] != height[a - 1] + 1:
                continue
            for s in range(4):
                both = mask[a] & mask[a - 1] & (1 << s)
                if both and owner[a - 1, s] >= 0 and entry[a - 1, s] < entry[a, s]:
                    entry[a, s] = entry[a - 1, s]
                    owner[a, s] = owner[a - 1, s]


@jit
def crossing_planes(
    tris: Floats,
    swept: bool,
    origin: Floats,
    h: float,
    x_from: int,
    ny: int,
    nz: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    mask: NDArray[np.uint8],
    entry: Floats,
    owner: NDArray[np.int32],
    normal: Floats,
) -> None:
    """Write the outward unit normal of the grown part at every entry into ``normal`` (r, 6, 3).

    Entries nobody owns are put half way.  In the cap on top of a sweep they get its level plane, in sealed
    gaps none.
    """
    for column in range(starts.shape[0] - 1):
        x, y = origin[0] + h * (x_from + column // ny), origin[1] + h * (column % ny)
        for a in range(starts[column], starts[column + 1]):
            z = origin[2] + h * height[a]
            for s in range(6):
                if not mask[a] & (1 << s):
                    continue
                if owner[a, s] < 0:
                    entry[a, s] = 0.5 * h
                    if swept and s == 5 and height[a] == nz - 1:
                        normal[a, s, 2] = 1.0
                    continue
                t = tris[owner[a, s]]
                wx = x + entry[a, s] * STEPS[s, 0]
                wy = y + entry[a, s] * STEPS[s, 1]
                wz = z + entry[a, s] * STEPS[s, 2]
                if swept:
                    px, py, pz = nearest_on_swept(t, wx, wy, wz)
                else:
                    px, py, pz = nearest_on_triangle(t, wx, wy, wz)
                d = np.sqrt((wx - px) ** 2 + (wy - py) ** 2 + (wz - pz) ** 2)
                if d > 1e-9:
                    normal[a, s, 0] = (wx - px) / d
                    normal[a, s, 1] = (wy - py) / d
                    normal[a, s, 2] = (wz - pz) / d


@jit
def clear_points(
    tris: Floats,
    reach: Floats,
    swept: bool,
    origin: Floats,
    h: float,
    x_from: int,
    x_to: int,
    ny: int,
    starts: NDArray[np.int64],
    points: Floats,
    push: Floats,
) -> None:
    """Find, for every surface point that a triangle reaches over, the way out.

    Parameters
    ----------
    x_from, x_to : the cell columns looked at.
    ny : cell columns a row.
    starts : running sum of points per cell column, from column ``x_from`` on.
    push : (n, 3), changed in place; the longest way out of any one triangle's reach, mm.
    """
    rows = np.zeros((max(0, x_to - x_from), 2), np.int64)
    for m in range(tris.shape[0]):
        t = tris[m]
        c = reach[m] - MEETS_MM
        c2 = c * c
        x_min, x_max = min(t[0, 0], t[1, 0], t[2, 0]) - c, max(t[0, 0], t[1, 0], t[2, 0]) + c
        y_min, y_max = min(t[0, 1], t[1, 1], t[2, 1]) - c, max(t[0, 1], t[1, 1], t[2, 1]) + c
        z_min = min(t[0, 2], t[1, 2], t[2, 2]) - c
        z_max = np.inf if swept else max(t[0, 2], t[1, 2], t[2, 2]) + c
        n = normal_of(t)
        # Swept upward, a triangle stays behind its own plane; one that leans goes deeper behind it.
        behind = -np.inf if swept and n[2] < -1e-12 else -c
        # A point may lie anywhere in its cell, and a little outside it.
        i0, i1 = find_rows(t, c + 1.5 * h, origin[0] + h / 2, origin[1] + h / 2, h, x_from, x_to, ny, rows)
        for i in range(i0, i1):
            for j in range(rows[i - x_from, 0], rows[i - x_from, 1]):
                column = (i - x_from) * ny + j
                for a in range(starts[column], starts[column + 1]):
                    x, y, z = points[a, 0], points[a, 1], points[a, 2]
                    if z <= z_min or z >= z_max or y <= y_min or y >= y_max or x <= x_min or x >= x_max:
                        continue
                    s = n[0] * (x - t[0, 0]) + n[1] * (y - t[0, 1]) + n[2] * (z - t[0, 2])
                    if s >= c or s <= behind:
                        continue
                    if swept:
                        px, py, pz = nearest_on_swept(t, x, y, z)
                    else:
                        px, py, pz = nearest_on_triangle(t, x, y, z)
                    d2 = (x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2
                    if d2 >= c2 or d2 == 0.0:
                        continue
                    d = np.sqrt(d2)
                    short = reach[m] - d
                    if short > np.sqrt(push[a, 0] ** 2 + push[a, 1] ** 2 + push[a, 2] ** 2):
                        push[a, 0] = short * (x - px) / d
                        push[a, 1] = short * (y - py) / d
                        push[a, 2] = short * (z - pz) / d
