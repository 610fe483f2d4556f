"""The surface of a grown part, as it is or swept along the pull.

The grid is worked on in slabs of columns, two or more at a time (compiled code that holds no interpreter
lock); the result does not depend on how many at a time, and memory follows the slab, but for one byte a node.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry import band, contour, marks, quilt, tiles
from housingdesk.geometry.grid import Grid
from housingdesk.geometry.occupied import THREADS, ByZone, occupy, span, touching
from housingdesk.geometry.recall import Recall, answered
from housingdesk.geometry.types import Floats, Ints

T = TypeVar("T")

GUARD_ROUNDS = 3
RIM_DIP_MM = 0.003  # a quarter of what a cavity is made too large on purpose


@dataclass(frozen=True)
class _Cells:
    """All crossed cells of a grid.

    Attributes
    ----------
    starts : running sum of cells, cell column by cell column.
    height : (cells,) k of each.
    points : (cells, 3) surface point of each, mm.
    flat : (cells, 3) normal of the cells that one plane runs through, zero for others.
    """

    starts: NDArray[np.int64]
    height: Ints
    points: Floats
    flat: Floats


@dataclass(frozen=True)
class _Engine:
    """The grown part that a surface is made of; parameters are those of ``surface``."""

    tris: Floats
    reach: Floats
    grid: Grid
    swept: bool
    state: NDArray[np.uint8]
    pool: ThreadPoolExecutor
    recall: Recall | None

    @property
    def slabs(self) -> list[tuple[int, int]]:
        """Ranges of cell columns that begin at multiples of the greatest merged box."""
        count = self.grid.counts[0] - 1
        return [(a, min(a + tiles.CUBE, count)) for a in range(0, count, tiles.CUBE)]

    def by_slab(self, work: Callable[[int, int], T]) -> list[T]:
        """Do some work on every slab, several at a time; answers in order."""
        return list(self.pool.map(lambda s: work(*s), self.slabs))

    def touching(self, columns: tuple[int, int], beyond: float) -> NDArray[np.int64]:
        """Return the triangles that can matter between two node columns."""
        return touching(self.tris, *span(self.grid, columns), self.reach + beyond)

    def cells(self) -> _Cells:
        """Find the crossed cells and their surface points."""
        running = self.by_slab(lambda a, b: marks.count_cells(self.state, a, b))
        starts = np.concatenate([[0], np.cumsum(np.concatenate([np.diff(r) for r in running]))])
        count, rows = int(starts[-1]), self.grid.counts[1] - 1
        cells = _Cells(starts, np.zeros(count, np.int32), np.zeros((count, 3)), np.zeros((count, 3)))

        def place(x_from: int, x_to: int) -> None:
            own = starts[x_from * rows : x_to * rows + 1]
            at = slice(own[0], own[-1])
            own = own - own[0]
            marks.list_cells(self.state, x_from, own, cells.height[at])
            cells.points[at], cells.flat[at] = self.placed((x_from, x_to), own, cells.height[at])

        self.by_slab(place)
        return cells

    def merged(self, cells: _Cells) -> tuple[Ints, Floats, NDArray[np.bool_]]:
        """Merge cells; return the number of each cell's point, the points, and which of them are free."""
        starts, height, points, flat = cells.starts, cells.height, cells.points, cells.flat
        even, calm = np.zeros(len(height), np.uint8), np.zeros(len(height), np.uint8)
        leader = np.zeros(len(height), np.int32)
        rows, levels = self.grid.counts[1] - 1, self.grid.counts[2]

        def find_even(a: int, b: int) -> None:
            tiles.find_even(self.state, a, b, starts, height, points, even)

        def find_calm(a: int, b: int) -> None:
            tiles.find_calm(a, b, rows, starts, height, points, flat, even, calm)

        def merge(a: int, b: int) -> None:
            tiles.merge(a, b, rows, levels, starts, height, points, flat, calm, leader)

        for step in (find_even, find_calm, merge):
            self.by_slab(step)
        leads = leader == np.arange(len(leader))
        return (np.cumsum(leads, dtype=np.int32) - 1)[leader], points[leads], self.free(height[leads])

    def woven(self, cells: _Cells, point: Ints, points: Floats) -> Ints:
        """Return the faces between the points."""

        def weave(a: int, b: int) -> Ints:
            where = (self.state, a, b, cells.starts, cells.height, point, points)
            faces = np.zeros((quilt.weave(*where, np.zeros((0, 3), np.int32)), 3), np.int32)
            if len(faces):
                quilt.weave(*where, faces)
            return faces

        return np.concatenate(self.by_slab(weave))

    def placed(
        self, cells: tuple[int, int], starts: NDArray[np.int64], height: Ints
    ) -> tuple[Floats, Floats]:
        """Return the surface points of a slab of cell columns, and the normals of its flat cells.

        Parameters
        ----------
        starts, height : the crossed cells of the slab.
        """
        some = self.touching(cells, 2 * self.grid.spacing_mm)
        tris, reach = self.tris[some], self.reach[some]
        seen = self.state[max(0, cells[0] - 1) : cells[1] + 2]  # a rim node looks at its neighbours
        given = (tris, reach, seen, *self.grid.arrays)
        work = partial(self._place, tris, reach, cells, starts, height)
        return answered(self.recall, ("points", *cells), given, work)

    def _place(
        self,
        tris: Floats,
        reach: Floats,
        cells: tuple[int, int],
        starts: NDArray[np.int64],
        height: Ints,
    ) -> tuple[Floats, Floats]:
        h, origin, (_, ny, nz) = self.grid.spacing_mm, self.grid.origin, self.grid.counts
        state, swept = self.state, self.swept
        x_from, x_to = cells

        rim = marks.count_rim(state, x_from, x_to + 1)
        rim_height, mask = np.zeros(rim[-1], np.int32), np.zeros(rim[-1], np.uint8)
        marks.list_rim(state, x_from, rim, rim_height, mask)
        entry, owner = np.full((rim[-1], 6), 1.001 * h), np.full((rim[-1], 6), -1, np.int32)
        band.enter(
            tris, reach, swept, origin, h, x_from, x_to + 1, ny, nz, rim, rim_height, mask, entry, owner
        )
        if swept:
            band.carry_upward(rim, rim_height, mask, entry, owner)
        normal = np.zeros((rim[-1], 6, 3))
        band.crossing_planes(
            tris, swept, origin, h, x_from, ny, nz, rim, rim_height, mask, entry, owner, normal
        )
        points, flat = np.zeros((len(height), 3)), np.zeros((len(height), 3))
        contour.place_points(
            state, origin, h, rim, rim_height, entry, normal, starts, height, x_from, x_to, points, flat
        )
        # Saddles, and rounds meeting flats, leave a few points a hair too near; put those on the surface.
        flat[self._guard(tris, reach, cells, starts, points, self.free(height))] = 0.0
        return points, flat

    def free(self, height: Ints) -> NDArray[np.bool_]:
        """Tell which cells lie below the cap of a sweep, which lies inside the sweep on purpose."""
        return np.asarray((height < self.grid.counts[2] - 2) | (not self.swept))

    def push(
        self, tris: Floats, reach: Floats, cells: tuple[int, int], starts: NDArray[np.int64], points: Floats
    ) -> Floats:
        """Return the way out of reach of each of a slab's points (n, 3), zero where none is needed."""
        out = np.zeros_like(points)
        origin, h, ny = self.grid.origin, self.grid.spacing_mm, self.grid.counts[1] - 1
        band.clear_points(tris, reach, self.swept, origin, h, *cells, ny, starts, points, out)
        return out

    def _guard(
        self,
        tris: Floats,
        reach: Floats,
        cells: tuple[int, int],
        starts: NDArray[np.int64],
        points: Floats,
        free: NDArray[np.bool_],
    ) -> NDArray[np.bool_]:
        """Move points (in place) that a triangle reaches over; tell which."""
        asked = free
        moved = np.zeros(len(points), bool)
        for _ in range(GUARD_ROUNDS):
            at = np.flatnonzero(asked)
            running = np.concatenate([[0], np.cumsum(asked)])
            push = self.push(tris, reach, cells, running[starts], points[at])
            at, push = at[push.any(axis=1)], push[push.any(axis=1)]
            if not len(at):
                break
            points[at] += push
            moved[at] = True
            asked = np.zeros(len(points), bool)
            asked[at] = True
        return moved

    def lift(self, points: Floats, faces: Ints, free: NDArray[np.bool_], low: Floats, high: Floats) -> None:
        """Lift points (in place) until the middles of the sides and faces between them dip under no round.

        They end between ``low`` and ``high`` (3,).  Sides at the rim of a flat dip again as points are drawn
        back there; such points move along it instead, in more laps, but for a last ``RIM_DIP_MM``.
        """
        edges = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
        edges = edges[edges[:, 0] < edges[:, 1]]  # each side once: it has a face on either hand
        spans = [s[free[s].all(axis=1)] for s in (edges, faces)]
        anywhere = np.full(3, np.inf)
        for some in spans:
            self._lift(points, some, 0.0, -anywhere, anywhere, GUARD_ROUNDS)
        np.clip(points, low, high, out=points)
        at_rim = ((points == low) | (points == high)).any(axis=1)
        for some in spans:
            self._lift(points, some[at_rim[some].any(axis=1)], RIM_DIP_MM, low, high, 2 * GUARD_ROUNDS)

    def _lift(
        self, points: Floats, spans: Ints, least_mm: float, low: Floats, high: Floats, laps: int
    ) -> None:
        """Lift the points (in place) of spans whose middles dip by more than ``least_mm``."""
        for lap in range(laps):
            push = self._push_anywhere(points[spans].mean(axis=1), (spans.shape[1], lap, laps))
            far = (push**2).sum(axis=1)
            dips = np.flatnonzero(far > least_mm**2)
            if not len(dips):
                break
            dips = dips[np.argsort(far[dips], kind="stable")]
            lift = np.zeros_like(points)
            for corner in spans.T:  # the deepest dip comes last and wins
                more = dips[(lift[corner[dips]] ** 2).sum(axis=1) < far[dips]]
                lift[corner[more]] = push[more]
            points += lift
            np.clip(points, low, high, out=points)
            spans = spans[dips]

    def _push_anywhere(self, points: Floats, called: tuple[int, ...]) -> Floats:
        """Return the way out of reach of points in any order; ``called`` names them for the memory."""
        origin, h, (nx, ny, _) = self.grid.origin, self.grid.spacing_mm, self.grid.counts
        column = np.floor((points[:, :2] - origin[:2]) / h).astype(np.int64) @ np.array([ny - 1, 1])
        order = np.argsort(column, kind="stable")
        sorted_ = points[order]
        starts = np.searchsorted(column[order], np.arange((nx - 1) * (ny - 1) + 1))

        def one(a: int, b: int) -> Floats:
            some = self.touching((a, b), 2 * h)
            tris, reach = self.tris[some], self.reach[some]
            here = starts[a * (ny - 1) : b * (ny - 1) + 1]
            mine = sorted_[here[0] : here[-1]]
            given = (tris, reach, mine, *self.grid.arrays)
            work = partial(self.push, tris, reach, (a, b), here - here[0], mine)
            return answered(self.recall, ("push", *called, a), given, work)

        push = np.zeros_like(points)
        push[order] = np.concatenate(self.by_slab(one))
        return push


def surface(
    tris: Floats,
    reach: Floats,
    *,
    grid: Grid,
    swept: bool = False,
    seal_mm: float = 0.0,
    lift_sides: bool = False,
    by_zone: ByZone | None = None,
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
    by_zone : how to remember what was found; the surface is the same with and without.

    Returns
    -------
    (n, 3) float64 points and (f, 3) int32 faces, counter-clockwise seen from outside; every edge has exactly
    two faces.  Flats come in few large faces.  Hollows come out as separate inward-facing pieces.
    """
    counts = grid.counts
    state = occupy(tris, reach, grid=grid, swept=swept, seal_mm=seal_mm, by_zone=by_zone)
    while marks.untangle(state) and swept:
        before = int(np.count_nonzero(state & marks.IN))
        marks.fill_upward(state, 0, counts[0])
        if int(np.count_nonzero(state & marks.IN)) == before:
            break
    with ThreadPoolExecutor(THREADS) as pool:
        recall = None if by_zone is None else by_zone.recall
        engine = _Engine(tris, reach, grid, swept, state, pool, recall)
        cells = engine.cells()
        point, points, free = engine.merged(cells)
        faces = engine.woven(cells, point, points)
        del cells, point
        low = (tris.min(axis=1) - reach[:, None]).min(axis=0)
        high = (tris.max(axis=1) + reach[:, None]).max(axis=0)
        if swept:
            high[2] = np.inf
        if lift_sides:
            engine.lift(points, faces, free, low, high)
    np.clip(points, low, high, out=points)
    return points, faces
