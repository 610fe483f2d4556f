"""Growing a part by its clearance, as it is or swept along the pull.

The work is split by columns over two threads (compiled code that holds no interpreter lock); the result
does not depend on how.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from housingdesk.errors import PartError
from housingdesk.geometry import band, contour
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats, Ints, Mesh

LEAST_REACH_MM = 0.02  # a cut without any clearance is made this much too wide, never too narrow
MAX_NODES = 700_000_000
CAVITY_SLACK = 0.6  # of the tolerance, by which a cavity is made too large on purpose
USUAL_NODES = 25_000_000
GUARD_ROUNDS = 3
_THREADS = max(1, min(4, os.cpu_count() or 1))


@dataclass(frozen=True, slots=True)
class Grid:
    """A regular grid of nodes: origin and spacing in mm, counts along x, y, z."""

    origin: Floats
    spacing_mm: float
    counts: tuple[int, int, int]


def spacing_for(reach_mm: float, tolerance_mm: float) -> float:
    """Return the grid spacing at which a round of radius ``reach_mm`` is met within ``tolerance_mm``.

    A chord of length w departs from a round of radius R by w^2 / (8 R); points of neighbouring cells lie
    about one spacing apart.
    """
    return float(np.clip(0.9 * np.sqrt(8.0 * reach_mm * tolerance_mm), 8.0 * tolerance_mm, 2.0))


def grid_for(bounds: Floats, margin_mm: float, spacing_mm: float) -> Grid:
    """Return the grid that covers a box and a margin around it; PartError where it would be too large."""
    low = bounds[0] - margin_mm - 2.0 * spacing_mm
    size = bounds[1] + margin_mm + 2.0 * spacing_mm - low
    counts = np.ceil(size / spacing_mm).astype(np.int64) + 1
    if float(np.prod(counts.astype(float))) > MAX_NODES:
        raise PartError(
            f"The part is too large for so fine a fit ({size[0]:.0f} x {size[1]:.0f} x {size[2]:.0f} mm); "
            "check its unit, or ask for more clearance."
        )
    return Grid(low, spacing_mm, (int(counts[0]), int(counts[1]), int(counts[2])))


@lru_cache(maxsize=8)
def _ball(radius_nodes: float) -> NDArray[np.int64]:
    """Return the integer offsets within a radius, nearest first."""
    r = int(np.floor(radius_nodes))
    side = np.arange(-r, r + 1)
    all_ = np.stack(np.meshgrid(side, side, side, indexing="ij"), -1).reshape(-1, 3)
    d2 = (all_**2).sum(axis=1)
    inside = d2 <= radius_nodes**2
    order = np.argsort(d2[inside], kind="stable")
    return np.ascontiguousarray(all_[inside][order][1:], np.int64)


def _chunks(count: int) -> list[tuple[int, int]]:
    edges = np.linspace(0, count, min(count, 4 * _THREADS) + 1).astype(int)
    return [(int(a), int(b)) for a, b in pairwise(edges) if b > a]


def _touching(tris: Floats, low: float, high: float, reach: Floats) -> NDArray[np.int64]:
    """Return the triangles that can matter between two x."""
    x = tris[:, :, 0]
    return np.flatnonzero((x.max(axis=1) + reach >= low) & (x.min(axis=1) - reach <= high))


def occupy(
    tris: Floats, reach: Floats, *, grid: Grid, swept: bool = False, seal_mm: float = 0.0
) -> NDArray[np.uint8]:
    """Return which grid nodes lie within reach of the triangles: (nx, ny, nz) uint8, bit ``band.IN``.

    Parameters are those of ``surface``.
    """
    h, origin, counts = grid.spacing_mm, grid.origin, grid.counts
    state = np.zeros(counts, np.uint8)
    near = seal_mm / 2
    if not swept:  # a skin thinner than a cell would let the flood in
        near = max(near, 0.9 * h - float(reach.min()), 0.0)
    with ThreadPoolExecutor(_THREADS) as pool:

        def cover(chunk: tuple[int, int]) -> None:
            low, high = origin[0] + h * chunk[0], origin[0] + h * (chunk[1] - 1)
            some = _touching(tris, low, high, reach + near)
            band.cover(tris[some], reach[some], near, swept, origin, h, chunk[0], chunk[1], state)

        list(pool.map(cover, _chunks(counts[0])))
        if not swept:
            band.fill_hollows(state, int(np.ceil(near / h)) + 1 if near > 0 else 0)
        if seal_mm > 0:
            out = np.zeros(counts, np.uint8)
            ball = _ball((seal_mm / 2 + h) / h)
            sealed = sum(pool.map(lambda c: band.seal(state, ball, c[0], c[1], out), _chunks(counts[0])))
            if sealed:
                state[out > 0] |= band.IN
                if swept:
                    band.fill_upward(state, 0, counts[0])
    return state


def surface(
    tris: Floats,
    reach: Floats,
    *,
    grid: Grid,
    swept: bool = False,
    seal_mm: float = 0.0,
    lift_sides: bool = False,
) -> tuple[Floats, Ints]:
    """Return the closed surface of all points within reach of the triangles.

    Parameters
    ----------
    tris : (m, 3, 3) float64, mm, of any quality.
    reach : (m,) float64, mm, greater than 0.
    grid : must leave two spacings free all around (above: for swept, closes the sweep).
    swept : every triangle also covers what lies above it.
    seal_mm : gaps between grown surfaces that no ball of this diameter enters are filled.
    lift_sides : on rounds, put the sides between points outside too, not the points alone.

    Returns
    -------
    (n, 3) float64 points and (f, 3) int32 faces, counter-clockwise seen from outside; every edge has exactly
    two faces.  Hollows come out as separate inward-facing pieces.
    """
    h, origin, counts = grid.spacing_mm, grid.origin, grid.counts
    state = occupy(tris, reach, grid=grid, swept=swept, seal_mm=seal_mm)
    while band.untangle(state) and swept:
        before = int((state & band.IN).sum())
        band.fill_upward(state, 0, counts[0])
        if int((state & band.IN).sum()) == before:
            break
    with ThreadPoolExecutor(_THREADS) as pool:
        rim_starts = np.zeros(counts[0] * counts[1] + 1, np.int64)
        band.count_rim(state, rim_starts)
        rims = int(rim_starts[-1])
        height, mask = np.zeros(rims, np.int32), np.zeros(rims, np.uint8)
        band.list_rim(state, rim_starts, height, mask)
        entry, owner = np.full((rims, 6), 1.001 * h), np.full((rims, 6), -1, np.int32)

        def enter(chunk: tuple[int, int]) -> None:
            low, high = origin[0] + h * chunk[0], origin[0] + h * (chunk[1] - 1)
            some = _touching(tris, low, high, reach + h)
            band.enter(
                tris[some], reach[some], some, swept, origin, h, chunk[0], chunk[1], counts[1], counts[2],
                rim_starts, height, mask, entry, owner,
            )  # fmt: skip

        list(pool.map(enter, _chunks(counts[0])))
        if swept:
            band.carry_upward(counts[1], rim_starts, height, mask, entry, owner)
        normal = np.zeros((rims, 6, 3))
        band.crossing_planes(
            tris, reach, swept, origin, h, counts[1], rim_starts, height, mask, entry, owner, normal
        )
        cell_starts = np.zeros((counts[0] - 1) * (counts[1] - 1) + 1, np.int64)
        contour.count_cells(state, cell_starts)
        cell_height = np.zeros(int(cell_starts[-1]), np.int32)
        contour.list_cells(state, cell_starts, cell_height)
        points = np.zeros((len(cell_height), 3))

        def place(chunk: tuple[int, int]) -> None:
            contour.place_points(
                state, origin, h, rim_starts, height, entry, normal, cell_starts, cell_height,
                chunk[0], chunk[1], points,
            )  # fmt: skip

        list(pool.map(place, _chunks(counts[0] - 1)))

        # Saddles, and rounds meeting flats, leave a few points a hair too near; put those on the surface.
        capped = np.asarray((cell_height >= counts[2] - 2) & swept)

        def way_out(starts: NDArray[np.int64], at: Floats, asked: NDArray[np.bool_]) -> Floats:
            push = np.zeros_like(at)

            def clear(chunk: tuple[int, int]) -> None:
                low, high = origin[0] + h * chunk[0], origin[0] + h * chunk[1]
                some = _touching(tris, low, high, reach + 2 * h)
                band.clear_points(
                    tris[some], reach[some], swept, origin, h, chunk[0], chunk[1], counts[1] - 1,
                    starts, at, asked, push,
                )  # fmt: skip

            list(pool.map(clear, _chunks(counts[0] - 1)))
            return push

        asked: NDArray[np.bool_] = ~capped  # the cap lies inside the sweep on purpose
        for _ in range(GUARD_ROUNDS):
            push = way_out(cell_starts, points, asked)
            asked = np.asarray(push.any(axis=1))
            if not asked.any():
                break
            points += push
        faces = np.zeros((2 * int(np.unpackbits(mask[:, None], axis=1).sum()), 3), np.int32)
        contour.weave(state, rim_starts, height, mask, cell_starts, cell_height, points, faces)

        if lift_sides:
            # On rounds the sides between points may still dip; lift their ends by as much.
            edges = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
            edges = edges[edges[:, 0] < edges[:, 1]]  # each side once: it has a face on either hand
            edges = edges[~capped[edges].any(axis=1)]
            middles = points[edges].mean(axis=1)
            column = np.floor((middles[:, :2] - origin[:2]) / h).astype(np.int64) @ np.array(
                [counts[1] - 1, 1]
            )
            order = np.argsort(column, kind="stable")
            starts = np.searchsorted(column[order], np.arange((counts[0] - 1) * (counts[1] - 1) + 1))
            push = way_out(starts, middles[order], np.ones(len(order), bool))
            dips = np.flatnonzero(push.any(axis=1))
            dips = dips[np.argsort((push[dips] ** 2).sum(axis=1), kind="stable")]
            lift = np.zeros_like(points)
            for end in range(2):  # the deepest dip comes last and wins
                far = (lift[edges[order[dips], end]] ** 2).sum(axis=1) < (push[dips] ** 2).sum(axis=1)
                lift[edges[order[dips[far]], end]] = push[dips[far]]
            points += lift
    low = (tris.min(axis=1) - reach[:, None]).min(axis=0)
    high = (tris.max(axis=1) + reach[:, None]).max(axis=0)
    if swept:
        high[2] = np.inf
    np.clip(points, low, high, out=points)
    return points, faces


def without_hollows(points: Floats, faces: Ints, simplify_mm: float) -> Solid:
    """Return the bodies that a surface bounds, hollows inside them filled, simplified within a tolerance."""
    whole = Solid.from_mesh(Mesh(points, faces)).simplified(simplify_mm)
    bodies = whole.bodies()
    if len(bodies) == 1:
        return bodies[0]
    return Solid.union(b for b in bodies if b.volume_mm3 > 0)


def _affordable(bounds: Floats, spacing_mm: float, reach_mm: float) -> float:
    """Return a spacing that keeps large parts quick, but not so wide that a skin slips between nodes."""
    box = float(np.prod(bounds[1] - bounds[0] + 2 * reach_mm))
    wanted = float((box / USUAL_NODES) ** (1 / 3))
    return max(spacing_mm, min(wanted, reach_mm))


def sweep_cavity(
    tris: Floats, reach: Floats, *, up: bool, seal_mm: float, tolerance_mm: float = 0.02
) -> Solid:
    """Return the space a part needs on its way straight into one half.

    Every surface point of the cavity is at least ``reach`` from the part in all its places on the way, and at
    most ``tolerance_mm`` further where the exact cavity is flat.  It does not depend on the parting plane.

    Parameters
    ----------
    tris : (m, 3, 3) the part in the build frame, mm.
    reach : (m,) clearance of each triangle, mm.
    up : True sweeps upward (the lower half's cavity), False downward (the upper half's).
    seal_mm : gaps narrower than this are not printed into.
    """
    turned = tris if up else tris * np.array([1.0, 1.0, -1.0])
    flat = turned.reshape(-1, 3)
    # Faces between points may dip under a round by a few thousandths, and simplifying adds its own.
    slack = CAVITY_SLACK * tolerance_mm
    reach = np.maximum(reach, LEAST_REACH_MM) + slack
    bounds = np.array([flat.min(axis=0), flat.max(axis=0)])
    spacing = _affordable(bounds, spacing_for(float(reach.min()), tolerance_mm), float(reach.min()))
    grid = grid_for(bounds, float(reach.max()), spacing)
    points, faces = surface(turned, reach, grid=grid, swept=True, seal_mm=seal_mm, lift_sides=True)
    if not up:
        points, faces = points * np.array([1.0, 1.0, -1.0]), faces[:, ::-1]
    return without_hollows(points, np.ascontiguousarray(faces), 0.15 * tolerance_mm)


def grow(
    vertices: ArrayLike, faces: ArrayLike, clearance_mm: float | ArrayLike, tolerance_mm: float = 0.02
) -> tuple[Floats, Ints]:
    """Grow a part by its clearance; its hollows are filled.

    The surface is as dense as the grid it was found on; ``Solid.simplified`` thins it out.

    Parameters
    ----------
    vertices, faces : (n, 3) mm and (m, 3); holes, flipped faces, overlaps and loose pieces do no harm.
    clearance_mm : one value, or one for each face; 0 or more.
    tolerance_mm : how far the result may lie outside the exact grown part on rounds.

    Returns
    -------
    (p, 3) float64 and (q, 3) int32: a closed surface, counter-clockwise seen from outside.
    """
    mesh = Mesh(np.asarray(vertices, float), np.asarray(faces, np.int32))
    tris = mesh.vertices[mesh.faces]
    if not len(tris):
        raise PartError("The part has no surface to grow; choose another file.")
    reach = np.maximum(np.broadcast_to(np.asarray(clearance_mm, float), len(tris)), LEAST_REACH_MM)
    slack = 0.25 * tolerance_mm
    # The skin around the surface must be thick enough to keep the flood out.
    h = min(spacing_for(float(reach.min()), tolerance_mm), 1.1 * float(reach.min()))
    grid = grid_for(mesh.bounds, float(reach.max()), h)
    return surface(tris, reach + slack, grid=grid)
