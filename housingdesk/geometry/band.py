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

from housingdesk.geometry.nearest import jit, nearest_below, nearest_on_swept, nearest_on_triangle
from housingdesk.geometry.types import Floats

IN = np.uint8(1)  # covered by the grown part
NEAR = np.uint8(2)  # covered by the grown part grown again by half the seal distance
OUTSIDE = np.uint8(4)  # scratch marks of the flood
NEXT = np.uint8(8)
STEPS = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]], np.int64)


@jit
def _y_range(t: Floats, x: float, r: float) -> tuple[float, float]:
    """Return the least and greatest y of a triangle cut to the slab |x' - x| <= r; empty if low > high."""
    low, high = np.inf, -np.inf
    for e in range(3):
        f = (e + 1) % 3
        x0, x1 = t[e, 0], t[f, 0]
        u0, u1 = 0.0, 1.0
        if x0 == x1:
            if abs(x0 - x) > r:
                continue
        else:
            a, b = (x - r - x0) / (x1 - x0), (x + r - x0) / (x1 - x0)
            u0, u1 = max(0.0, min(a, b)), min(1.0, max(a, b))
            if u0 > u1:
                continue
        y0 = t[e, 1] + u0 * (t[f, 1] - t[e, 1])
        y1 = t[e, 1] + u1 * (t[f, 1] - t[e, 1])
        low, high = min(low, y0, y1), max(high, y0, y1)
    return low, high


@jit
def _z_range(t: Floats, n: Floats, x: float, y: float, r: float) -> tuple[float, float]:
    """Return bounds of z within ``r`` of the triangle on the vertical line through (x, y)."""
    low = min(t[0, 2], t[1, 2], t[2, 2]) - r
    high = max(t[0, 2], t[1, 2], t[2, 2]) + r
    if abs(n[2]) > 1e-6:
        at = t[0, 2] - (n[0] * (x - t[0, 0]) + n[1] * (y - t[0, 1])) / n[2]
        half = r / abs(n[2])
        low, high = max(low, at - half), min(high, at + half)
    return low, high


@jit
def _normal(t: Floats) -> Floats:
    """Return the unit normal of a triangle, zero where it has no area."""
    u, v = t[1] - t[0], t[2] - t[0]
    n = np.array([u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]])
    length = np.sqrt(n[0] ** 2 + n[1] ** 2 + n[2] ** 2)
    if length > 0.0:
        n /= length
    return n


@jit
def _index_range(low: float, high: float, origin: float, h: float, least: int, most: int) -> tuple[int, int]:
    """Return the first index and one past the last index of grid coordinates in [low, high]."""
    first = int(np.ceil((low - origin) / h - 1e-9))
    last = int(np.floor((high - origin) / h + 1e-9))
    return max(first, least), min(last + 1, most)


@jit
def cover(
    tris: Floats,
    reach: Floats,
    near: float,
    swept: bool,
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
    swept : whether every triangle also covers all that lies above it.
    state : (nx, ny, nz) uint8, changed in place; ``IN`` and ``NEAR`` are set, columns filled upward if swept.
    """
    ny, nz = state.shape[1], state.shape[2]
    for m in range(tris.shape[0]):
        t = tris[m]
        c = reach[m]
        r = c + near
        c2, r2 = c * c, r * r
        n = _normal(t)
        i0, i1 = _index_range(
            min(t[0, 0], t[1, 0], t[2, 0]) - r, max(t[0, 0], t[1, 0], t[2, 0]) + r, origin[0], h, x_from, x_to
        )
        for i in range(i0, i1):
            x = origin[0] + h * i
            y_low, y_high = _y_range(t, x, r)
            if y_low > y_high:
                continue
            j0, j1 = _index_range(y_low - r, y_high + r, origin[1], h, 0, ny)
            for j in range(j0, j1):
                y = origin[1] + h * j
                z_low, z_high = _z_range(t, n, x, y, r)
                top = nz
                if swept:
                    d2, z_at = nearest_below(t, x, y)
                    if d2 > r2:
                        continue
                    top = min(nz - 1, max(0, int(np.ceil((z_at - origin[2]) / h))))
                    state[i, j, top] |= (IN | NEAR) if d2 <= c2 else NEAR
                    z_high = z_at
                k0, k1 = _index_range(z_low, z_high, origin[2], h, 0, top)
                for k in range(k0, k1):
                    if state[i, j, k] & IN:
                        if swept:
                            break
                        continue
                    z = origin[2] + h * k
                    if swept:
                        px, py, pz = nearest_on_swept(t, x, y, z)
                    else:
                        px, py, pz = nearest_on_triangle(t, x, y, z)
                    d2 = (x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2
                    if d2 <= c2:
                        state[i, j, k] |= IN | NEAR
                        if swept:
                            break
                    elif d2 <= r2:
                        state[i, j, k] |= NEAR
    if swept:
        fill_upward(state, x_from, x_to)


@jit
def fill_upward(state: NDArray[np.uint8], x_from: int, x_to: int) -> None:
    """Let every mark spread to all nodes above it, save the topmost, which closes the surface."""
    for i in range(x_from, x_to):
        for j in range(state.shape[1]):
            seen = np.uint8(0)
            for k in range(state.shape[2] - 1):
                seen |= state[i, j, k]
                state[i, j, k] = seen
            state[i, j, state.shape[2] - 1] = 0


@jit
def fill_hollows(state: NDArray[np.uint8], steps: int) -> None:
    """Cover every free node that no path around the part joins to the rim of the grid.

    The flood stops at ``NEAR``, so that it cannot slip through a skin thinner than a cell or a gap too narrow
    to matter, and is then let on by ``steps`` nodes up to the grown part itself.  The flood sweeps forth and
    back until nothing spreads; a plain part takes two sweeps.
    """
    nx, ny, nz = state.shape
    changed = True
    forth = True
    while changed:
        changed = False
        for a in range(nx):
            i = a if forth else nx - 1 - a
            for b in range(ny):
                j = b if forth else ny - 1 - b
                rim = i == 0 or j == 0 or i == nx - 1 or j == ny - 1
                for c in range(nz):
                    k = c if forth else nz - 1 - c
                    if state[i, j, k] == 0 and (
                        rim or k == 0 or k == nz - 1 or _touches(state, i, j, k, OUTSIDE)
                    ):
                        state[i, j, k] = OUTSIDE
                        changed = True
        forth = not forth
    for _ in range(steps):
        for i in range(1, nx - 1):
            for j in range(1, ny - 1):
                for k in range(1, nz - 1):
                    if not state[i, j, k] & (IN | OUTSIDE) and _touches(state, i, j, k, OUTSIDE):
                        state[i, j, k] |= NEXT
        for i in range(nx):
            for j in range(ny):
                for k in range(nz):
                    if state[i, j, k] & NEXT:
                        state[i, j, k] ^= NEXT | OUTSIDE
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if state[i, j, k] & OUTSIDE:
                    state[i, j, k] ^= OUTSIDE
                else:
                    state[i, j, k] |= IN | NEAR


@jit
def _touches(state: NDArray[np.uint8], i: int, j: int, k: int, bit: np.uint8) -> bool:
    """Return whether one of the six neighbours of an inner node carries a bit."""
    both = state[i, j, k - 1] | state[i, j, k + 1] | state[i, j - 1, k] | state[i, j + 1, k]
    return bool((both | state[i - 1, j, k] | state[i + 1, j, k]) & bit)


@jit
def seal(
    state: NDArray[np.uint8], offsets: NDArray[np.int64], x_from: int, x_to: int, out: NDArray[np.uint8]
) -> int:
    """Mark in ``out`` the free nodes that no ball of the seal's diameter reaches; return how many.

    A free node stays free if a node beyond ``NEAR`` lies at one of ``offsets`` (a ball, nearest first).
    """
    nx, ny, nz = state.shape
    count = 0
    for i in range(x_from, x_to):
        for j in range(ny):
            for k in range(nz):
                if state[i, j, k] != NEAR:
                    continue
                open_ = False
                for o in range(offsets.shape[0]):
                    a, b, c = i + offsets[o, 0], j + offsets[o, 1], k + offsets[o, 2]
                    if a < 0 or b < 0 or c < 0 or a >= nx or b >= ny or c >= nz or state[a, b, c] == 0:
                        open_ = True
                        break
                if not open_:
                    out[i, j, k] = 1
                    count += 1
    return count


@jit
def untangle(state: NDArray[np.uint8]) -> int:
    """Cover nodes until no two covered nodes of a cell touch only across a diagonal; return how many.

    The grid is then well-composed (L. J. Latecki, 3D Well-Composed Pictures, 1997): in every cell the covered
    corners and the free corners each hang together by edges, so one surface point a cell gives a closed
    surface in which every edge has exactly two faces.  Covering takes material away, never clearance.
    """
    nx, ny, nz = state.shape
    total = 0
    changed = True
    while changed:
        changed = False
        for i in range(nx - 1):
            for j in range(ny - 1):
                for k in range(nz - 1):
                    mixed = 0
                    for a in range(8):
                        mixed += state[i + (a & 1), j + ((a >> 1) & 1), k + (a >> 2)] & IN
                    if mixed < 2 or mixed > 6:
                        continue
                    for axis in range(3):
                        for far in range(2):
                            bu, bv = 1 << ((axis + 1) % 3), 1 << ((axis + 2) % 3)
                            base = far << axis
                            c0, c1, c2, c3 = base, base | bu, base | bu | bv, base | bv
                            s0 = state[i + (c0 & 1), j + ((c0 >> 1) & 1), k + (c0 >> 2)] & IN
                            s1 = state[i + (c1 & 1), j + ((c1 >> 1) & 1), k + (c1 >> 2)] & IN
                            s2 = state[i + (c2 & 1), j + ((c2 >> 1) & 1), k + (c2 >> 2)] & IN
                            s3 = state[i + (c3 & 1), j + ((c3 >> 1) & 1), k + (c3 >> 2)] & IN
                            if s0 == s2 and s1 == s3 and s0 != s1:
                                c = c1 if s0 else c0
                                state[i + (c & 1), j + ((c >> 1) & 1), k + (c >> 2)] |= IN | NEAR
                                total += 1
                                changed = True
                    if mixed == 2 or mixed == 6:
                        for a in range(4):
                            b = 7 - a
                            sa = state[i + (a & 1), j + ((a >> 1) & 1), k + (a >> 2)] & IN
                            sb = state[i + (b & 1), j + ((b >> 1) & 1), k + (b >> 2)] & IN
                            rest = 0
                            for c in range(8):
                                rest += state[i + (c & 1), j + ((c >> 1) & 1), k + (c >> 2)] & IN
                            if sa == sb and ((sa == 1 and rest == 2) or (sa == 0 and rest == 6)):
                                c = a ^ 1 if sa else a
                                state[i + (c & 1), j + ((c >> 1) & 1), k + (c >> 2)] |= IN | NEAR
                                total += 1
                                changed = True
    return total


@jit
def count_rim(state: NDArray[np.uint8], starts: NDArray[np.int64]) -> None:
    """Count, for each column, the free nodes with a covered neighbour; ``starts`` gets the running sum."""
    nx, ny, nz = state.shape
    starts[0] = 0
    for i in range(nx):
        for j in range(ny):
            n = 0
            for k in range(nz):
                if not state[i, j, k] & IN and _rim_mask(state, i, j, k):
                    n += 1
            starts[i * ny + j + 1] = starts[i * ny + j] + n


@jit
def _rim_mask(state: NDArray[np.uint8], i: int, j: int, k: int) -> int:
    """Return the six directions (bits in the order of ``STEPS``) in which the neighbour is covered."""
    nx, ny, nz = state.shape
    mask = 0
    if i + 1 < nx and state[i + 1, j, k] & IN:
        mask |= 1
    if i > 0 and state[i - 1, j, k] & IN:
        mask |= 2
    if j + 1 < ny and state[i, j + 1, k] & IN:
        mask |= 4
    if j > 0 and state[i, j - 1, k] & IN:
        mask |= 8
    if k + 1 < nz and state[i, j, k + 1] & IN:
        mask |= 16
    if k > 0 and state[i, j, k - 1] & IN:
        mask |= 32
    return mask


@jit
def list_rim(
    state: NDArray[np.uint8], starts: NDArray[np.int64], height: NDArray[np.int32], mask: NDArray[np.uint8]
) -> None:
    """Write the rim nodes column by column: their k and the directions of their covered neighbours."""
    nx, ny, nz = state.shape
    for i in range(nx):
        for j in range(ny):
            at = starts[i * ny + j]
            if starts[i * ny + j + 1] == at:
                continue
            for k in range(nz):
                if not state[i, j, k] & IN:
                    m = _rim_mask(state, i, j, k)
                    if m:
                        height[at] = k
                        mask[at] = m
                        at += 1


@jit
def enter(
    tris: Floats,
    reach: Floats,
    index: NDArray[np.int64],
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
    index : (m,) number of each triangle, written to ``owner``.
    entry, owner : (r, 6), changed in place: distance from the rim node to the entry, and whose it is.
    """
    for m in range(tris.shape[0]):
        t = tris[m]
        c = reach[m]
        r = c + 1.001 * h  # an entry may lie at the very end of an edge
        r2 = r * r
        n = _normal(t)
        i0, i1 = _index_range(
            min(t[0, 0], t[1, 0], t[2, 0]) - r, max(t[0, 0], t[1, 0], t[2, 0]) + r, origin[0], h, x_from, x_to
        )
        for i in range(i0, i1):
            x = origin[0] + h * i
            y_low, y_high = _y_range(t, x, r)
            if y_low > y_high:
                continue
            j0, j1 = _index_range(y_low - r, y_high + r, origin[1], h, 0, ny)
            for j in range(j0, j1):
                first, last = starts[i * ny + j], starts[i * ny + j + 1]
                if first == last:
                    continue
                y = origin[1] + h * j
                z_low, z_high = _z_range(t, n, x, y, r)
                k1 = nz
                if swept:
                    d2, z_at = nearest_below(t, x, y)
                    if d2 > r2:
                        continue
                    k1 = int(np.ceil((z_at - origin[2]) / h)) + 1
                    z_high = origin[2] + h * k1
                k0, k1 = _index_range(z_low, z_high, origin[2], h, 0, min(k1, nz))
                for a in range(first, last):
                    k = height[a]
                    if k < k0 or k >= k1:
                        continue
                    _enter_node(t, c, index[m], swept, x, y, origin[2] + h * k, mask[a], entry[a], owner[a])


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
    ny: int,
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
    reach: Floats,
    swept: bool,
    origin: Floats,
    h: float,
    ny: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    mask: NDArray[np.uint8],
    entry: Floats,
    owner: NDArray[np.int32],
    normal: Floats,
) -> None:
    """Write the outward unit normal of the grown part at every entry into ``normal`` (r, 6, 3).

    Entries nobody owns (sealed gaps, the cap on top) are put half way and get no normal.
    """
    for column in range(starts.shape[0] - 1):
        x, y = origin[0] + h * (column // ny), origin[1] + h * (column % ny)
        for a in range(starts[column], starts[column + 1]):
            z = origin[2] + h * height[a]
            for s in range(6):
                if not mask[a] & (1 << s):
                    continue
                if owner[a, s] < 0:
                    entry[a, s] = 0.5 * h
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
    asked: NDArray[np.bool_],
    push: Floats,
) -> None:
    """Find, for every surface point that a triangle reaches over, the way out.

    Parameters
    ----------
    x_from, x_to : the cell columns looked at.
    ny : cell columns a row.
    starts : running sum of points per cell column.
    asked : (n,) which points to look at.
    push : (n, 3), changed in place; the longest way out of any one triangle's reach, mm.
    """
    for m in range(tris.shape[0]):
        t = tris[m]
        c = reach[m]
        c2 = c * c
        y_min, y_max = min(t[0, 1], t[1, 1], t[2, 1]), max(t[0, 1], t[1, 1], t[2, 1])
        z_min, z_max = min(t[0, 2], t[1, 2], t[2, 2]), max(t[0, 2], t[1, 2], t[2, 2])
        # A point may lie anywhere in its cell, and a little outside it.
        r = c + 1.5 * h
        n = _normal(t)
        i0, i1 = _index_range(
            min(t[0, 0], t[1, 0], t[2, 0]) - r, max(t[0, 0], t[1, 0], t[2, 0]) + r, origin[0], h, x_from, x_to
        )
        for i in range(i0, i1):
            y_low, y_high = _y_range(t, origin[0] + h * (i + 0.5), r)
            if y_low > y_high:
                continue
            j0, j1 = _index_range(y_low - r, y_high + r, origin[1], h, 0, ny)
            for j in range(j0, j1):
                for a in range(starts[i * ny + j], starts[i * ny + j + 1]):
                    if not asked[a]:
                        continue
                    x, y, z = points[a, 0], points[a, 1], points[a, 2]
                    if z <= z_min - c or y <= y_min - c or y >= y_max + c or (not swept and z >= z_max + c):
                        continue
                    if abs(n[0] * (x - t[0, 0]) + n[1] * (y - t[0, 1]) + n[2] * (z - t[0, 2])) >= c and not (
                        swept and z > z_min
                    ):
                        continue
                    if swept:
                        px, py, pz = nearest_on_swept(t, x, y, z)
                    else:
                        px, py, pz = nearest_on_triangle(t, x, y, z)
                    d2 = (x - px) ** 2 + (y - py) ** 2 + (z - pz) ** 2
                    if d2 >= c2 or d2 == 0.0:
                        continue
                    d = np.sqrt(d2)
                    short = c - d
                    if short > np.sqrt(push[a, 0] ** 2 + push[a, 1] ** 2 + push[a, 2] ** 2):
                        push[a, 0] = short * (x - px) / d
                        push[a, 1] = short * (y - py) / d
                        push[a, 2] = short * (z - pz) / d
