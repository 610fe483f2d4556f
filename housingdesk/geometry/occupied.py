"""Which nodes of a grid a grown part covers, found in several threads and, swept, zone by zone."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry import band, marks
from housingdesk.geometry.grid import Grid
from housingdesk.geometry.recall import Recall
from housingdesk.geometry.types import Floats, Ints

THREADS = max(1, min(4, os.cpu_count() or 1))


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
    edges = np.linspace(0, count, min(count, 4 * THREADS) + 1).astype(int)
    return [(int(a), int(b)) for a, b in pairwise(edges) if b > a]


def touching(tris: Floats, low: float, high: float, reach: Floats) -> NDArray[np.int64]:
    """Return the triangles that can matter between two x."""
    x = tris[:, :, 0]
    return np.flatnonzero((x.max(axis=1) + reach >= low) & (x.min(axis=1) - reach <= high))


@dataclass(frozen=True)
class ByZone:
    """What lets a surface be made again quickly after the reach of one zone has changed.

    Attributes
    ----------
    zone : (m,) the zone of each triangle; how far a sweep reaches down is found for each zone by itself.
    recall : what was found last time.
    """

    zone: Ints
    recall: Recall


def occupy(
    tris: Floats,
    reach: Floats,
    *,
    grid: Grid,
    swept: bool = False,
    seal_mm: float = 0.0,
    by_zone: ByZone | None = None,
) -> NDArray[np.uint8]:
    """Return which grid nodes lie within reach of the triangles: (nx, ny, nz) uint8, bit ``marks.IN``.

    Parameters are those of ``surface``.
    """
    h, counts = grid.spacing_mm, grid.counts
    state = np.zeros(counts, np.uint8)
    near = seal_mm / 2
    if not swept:  # a skin thinner than a cell would let the flood in
        near = max(near, 0.9 * h - float(reach.min()), 0.0)
    with ThreadPoolExecutor(THREADS) as pool:
        if swept:
            floor = _floor(tris, reach, near, grid, pool, by_zone)
            list(pool.map(lambda c: band.cover_above(floor, c[0], c[1], state), _chunks(counts[0])))
        else:

            def cover(chunk: tuple[int, int]) -> None:
                some = touching(tris, *span(grid, (chunk[0], chunk[1] - 1)), reach + near)
                band.cover(tris[some], reach[some], near, grid.origin, h, *chunk, state)

            list(pool.map(cover, _chunks(counts[0])))
            marks.fill_hollows(state, int(np.ceil(near / h)) + 1 if near > 0 else 0)
        if seal_mm > 0:
            ball = _ball((seal_mm / 2 + h) / h)
            sealed = sum(pool.map(lambda c: marks.seal(state, ball, c[0], c[1]), _chunks(counts[0])))
            if sealed and swept:
                marks.fill_upward(state, 0, counts[0])
    return state


def span(grid: Grid, columns: tuple[int, int]) -> tuple[float, float]:
    """Return the x of two node columns."""
    first, last = (float(grid.origin[0] + grid.spacing_mm * c) for c in columns)
    return first, last


def _floor(
    tris: Floats, reach: Floats, near: float, grid: Grid, pool: ThreadPoolExecutor, by_zone: ByZone | None
) -> Ints:
    """Return the lowest nodes that a sweep covers, see ``band.find_floor``: the least over all zones."""

    def of_zone(own: Floats, own_reach: Floats) -> Ints:
        floor = np.full((2, *grid.counts[:2]), grid.counts[2], np.int32)

        def find(chunk: tuple[int, int]) -> None:
            some = touching(own, *span(grid, (chunk[0], chunk[1] - 1)), own_reach + near)
            given = (own[some], own_reach[some], near, grid.origin, grid.spacing_mm)
            band.find_floor(*given, *chunk, grid.counts[2], floor)

        list(pool.map(find, _chunks(grid.counts[0])))
        return floor

    if by_zone is None:
        return of_zone(tris, reach)
    floors = []
    for number in np.unique(by_zone.zone):
        mine = by_zone.zone == number
        own, own_reach = tris[mine], reach[mine]
        given = (own, own_reach, np.array([near]), *grid.arrays)
        floors.append(by_zone.recall.answer(("floor", int(number)), given, partial(of_zone, own, own_reach)))
    return np.asarray(np.minimum.reduce(floors))
