"""Marks on the nodes of a grid: spreading, sealing, mending, and listing the nodes and cells at the rim.

Nothing here knows a triangle.  Grid arrays are C-ordered (i, j, k), k fastest, so that a column along the
pull is contiguous.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.nearest import jit

IN = np.uint8(1)  # covered by the grown part
NEAR = np.uint8(2)  # covered by the grown part grown again by half the seal distance
OUTSIDE = np.uint8(4)  # scratch marks of the flood
NEXT = np.uint8(8)
STEPS = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]], np.int64)


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
def seal(state: NDArray[np.uint8], offsets: NDArray[np.int64], x_from: int, x_to: int) -> int:
    """Cover the free nodes of some columns that no ball of the seal's diameter reaches; return how many.

    A free node stays free if a node beyond ``NEAR`` lies at one of ``offsets`` (a ball, nearest first).  Only
    nodes that carry ``NEAR`` change, so columns may be sealed side by side.
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
                    state[i, j, k] |= IN
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
                here = _level(state, i, j, 0)
                for k in range(nz - 1):
                    below = here
                    here = _level(state, i, j, k + 1)
                    if below + here < 2 or below + here > 6:
                        continue
                    mixed = 0
                    for a in range(8):
                        mixed += state[i + (a & 1), j + ((a >> 1) & 1), k + (a >> 2)] & IN
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
                    here = _level(state, i, j, k + 1)
    return total


@jit
def _level(state: NDArray[np.uint8], i: int, j: int, k: int) -> int:
    """Return how many of the four nodes of a cell at one height are covered."""
    both = (state[i, j, k] & IN) + (state[i + 1, j, k] & IN)
    return int(both + (state[i, j + 1, k] & IN) + (state[i + 1, j + 1, k] & IN))


@jit
def count_rim(state: NDArray[np.uint8], x_from: int, x_to: int) -> NDArray[np.int64]:
    """Count the free nodes with a covered neighbour in the columns ``x_from <= i < x_to``.

    Returns
    -------
    (columns + 1,) running sum, column by column, j fastest.
    """
    nx, ny, nz = state.shape
    starts = np.zeros((x_to - x_from) * ny + 1, np.int64)
    for i in range(x_from, x_to):
        for j in range(ny):
            # Beyond the grid's rim a node stands in for its neighbour: free, it counts for nothing.
            own = state[i, j]
            right, left = state[min(i + 1, nx - 1), j], state[max(i - 1, 0), j]
            back, front = state[i, min(j + 1, ny - 1)], state[i, max(j - 1, 0)]
            n = 0
            for k in range(nz):
                beside = right[k] | left[k] | back[k] | front[k]
                beside |= own[min(k + 1, nz - 1)] | own[max(k - 1, 0)]
                n += beside & ~own[k] & IN
            column = (i - x_from) * ny + j
            starts[column + 1] = starts[column] + n
    return starts


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
    state: NDArray[np.uint8],
    x_from: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    mask: NDArray[np.uint8],
) -> None:
    """Write the rim nodes column by column: their k and the directions of their covered neighbours."""
    ny, nz = state.shape[1], state.shape[2]
    for column in range(starts.shape[0] - 1):
        i, j = x_from + column // ny, column % ny
        at = starts[column]
        if starts[column + 1] == at:
            continue
        for k in range(nz):
            if not state[i, j, k] & IN:
                m = _rim_mask(state, i, j, k)
                if m:
                    height[at] = k
                    mask[at] = m
                    at += 1


@jit
def count_cells(state: NDArray[np.uint8], x_from: int, x_to: int) -> NDArray[np.int64]:
    """Count the crossed cells (some corners covered, some free) of the cell columns ``x_from <= i < x_to``.

    Returns
    -------
    (cell columns + 1,) running sum, column by column, j fastest.
    """
    ny, nz = state.shape[1] - 1, state.shape[2]
    starts = np.zeros((x_to - x_from) * ny + 1, np.int64)
    for i in range(x_from, x_to):
        for j in range(ny):
            n = 0
            here = _level(state, i, j, 0)
            for k in range(1, nz):
                below, here = here, _level(state, i, j, k)
                if 0 < below + here < 8:
                    n += 1
            column = (i - x_from) * ny + j
            starts[column + 1] = starts[column] + n
    return starts


@jit
def list_cells(
    state: NDArray[np.uint8], x_from: int, starts: NDArray[np.int64], height: NDArray[np.int32]
) -> None:
    """Write the k of the crossed cells, column by column."""
    ny, nz = state.shape[1] - 1, state.shape[2]
    for column in range(starts.shape[0] - 1):
        i, j = x_from + column // ny, column % ny
        at = starts[column]
        if starts[column + 1] == at:
            continue
        here = _level(state, i, j, 0)
        for k in range(1, nz):
            below, here = here, _level(state, i, j, k)
            if 0 < below + here < 8:
                height[at] = k - 1
                at += 1


@jit
def find(height: NDArray[np.int32], low: int, high: int, k: int) -> int:
    """Return the place of ``k`` in height[low:high] (ascending), or the place before where it would be."""
    while high - low > 1:
        middle = (low + high) // 2
        if height[middle] <= k:
            low = middle
        else:
            high = middle
    return low
