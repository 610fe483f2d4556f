"""Growing a part by its clearance, as it is or swept along the pull."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from housingdesk.errors import PartError
from housingdesk.geometry.band import unseen
from housingdesk.geometry.grid import MAX_NODES, Grid, grid_for, nodes_of, preferred_mm, spacing_for
from housingdesk.geometry.occupied import ByZone, occupy
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.surface import surface
from housingdesk.geometry.types import Floats, Ints, Mesh

LEAST_REACH_MM = 0.02  # a cut without any clearance is made this much too wide, never too narrow
DIP_MM, MOST_MORE_MM = 0.03, 0.012  # measured on large parts; flats stay within 0.05 mm all the same
CAVITY_SLACK = 0.6  # of the tolerance, by which a cavity is made too large on purpose
LARGE_SLACK = 0.9  # the same on large parts, whose cavities are thinned out more
THINNED, LARGE_THINNED = 0.15, 0.5  # of the tolerance; halves the triangles of a scan's cavity
GROWN_FINER = 0.95
USUAL_NODES = 25_000_000
REMEMBERED_NODES = 1.25 * USUAL_NODES  # what is remembered of a larger grid would take too much memory
HELD = (
    0.75  # of the spacing: what reaches so far is met by grid columns wherever it stands, sqrt(1/2) would do
)
# Of the clearance, for a large part's grid.  Measured on eight parts, with the slack above: at 0.75 none is
# nearer than asked; at 1.0, taken where the grid would be too large otherwise, one was by 0.02 mm.
COARSEST, WIDEST = 0.75, 1.0


def without_hollows(points: Floats, faces: Ints, simplify_mm: float) -> Solid:
    """Return the bodies that a surface bounds, hollows inside them filled, simplified within a tolerance."""
    whole = Solid.from_mesh(Mesh(points, faces)).simplified(simplify_mm)
    bodies = whole.bodies()
    if len(bodies) == 1:
        return bodies[0]
    return Solid.union(b for b in bodies if b.volume_mm3 > 0)


def sweep_cavity(
    tris: Floats,
    reach: Floats,
    *,
    up: bool,
    seal_mm: float,
    tolerance_mm: float = 0.02,
    by_zone: ByZone | None = None,
) -> Solid:
    """Return the space a part needs on its way straight into one half.

    Every surface point of the cavity is at least ``reach`` from the part in all its places on the way, and at
    most ``tolerance_mm`` further where the exact cavity is flat.  It does not depend on the parting plane.
    Sheets that stand upright, and whatever else the grid would not see at a clearance below 0.1 mm, get that.

    Parameters
    ----------
    tris : (m, 3, 3) the part in the build frame, mm.
    reach : (m,) clearance of each triangle, mm.
    up : True sweeps upward (the lower half's cavity), False downward (the upper half's).
    seal_mm : gaps narrower than this are not printed into.
    by_zone : how to remember what was found, so that the next cavity of the same part redoes only the zones
        whose reach has changed, and what lies near them; the cavity is the same with and without.
    """
    turned = tris if up else tris * np.array([1.0, 1.0, -1.0])
    flat = turned.reshape(-1, 3)
    reach = np.maximum(reach, LEAST_REACH_MM)
    grid, slack_mm, thinned_mm = _laid_out(
        np.array([flat.min(axis=0), flat.max(axis=0)]), reach, tolerance_mm
    )
    reach = _seen(turned, reach + slack_mm, grid)
    if np.prod(grid.counts) > REMEMBERED_NODES:
        by_zone = None
    points, faces = surface(
        turned, reach, grid=grid, swept=True, seal_mm=seal_mm, lift_sides=True, by_zone=by_zone
    )
    if by_zone is not None:
        by_zone.recall.forget_unasked()
    if not up:
        points, faces = points * np.array([1.0, 1.0, -1.0]), faces[:, ::-1]
    return without_hollows(points, np.ascontiguousarray(faces), thinned_mm)


def _laid_out(bounds: Floats, reach: Floats, tolerance_mm: float) -> tuple[Grid, float, float]:
    """Return the grid for a cavity, how much too large to make it, and how far it may be thinned out, mm.

    All three follow the least and the most reach by preferred numbers, so that they stay as they are while a
    clearance changes a little.
    """
    least, most = preferred_mm(float(reach.min()), up=False), preferred_mm(float(reach.max()), up=True)
    # Faces between points may dip under a round by a few thousandths, and simplifying adds its own.
    slack_mm = CAVITY_SLACK * tolerance_mm
    fine = spacing_for(least + slack_mm, tolerance_mm)
    usual = float((np.prod(bounds[1] - bounds[0] + 2 * (least + slack_mm)) / USUAL_NODES) ** (1 / 3))
    # A wide grid keeps large parts quick, but not so wide a one that rounds lose their clearance.
    spacing = max(fine, min(usual, COARSEST * (least + slack_mm)))
    if nodes_of(bounds, most, spacing) > MAX_NODES:
        spacing = max(fine, min(usual, WIDEST * (least + slack_mm)))
    large = usual > fine
    if large:
        slack_mm = LARGE_SLACK * tolerance_mm
    # On a wide grid chords dip further, as the square of the spacing.
    slack_mm += min(MOST_MORE_MM, DIP_MM * ((spacing / fine) ** 2 - 1.0))
    grid = grid_for(bounds, max(most + slack_mm, HELD * spacing), spacing)
    return grid, slack_mm, (LARGE_THINNED if large else THINNED) * tolerance_mm


def _seen(tris: Floats, reach: Floats, grid: Grid) -> Floats:
    """Return the reaches, those of triangles that would slip between the columns made as large as must be."""
    least = HELD * grid.spacing_mm
    if float(reach.min()) >= least:
        return reach
    lost = np.zeros(len(tris), bool)
    unseen(tris, grid.origin, grid.spacing_mm, occupy(tris, reach, grid=grid, swept=True), lost)
    return np.where(lost, np.maximum(reach, least), reach)


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
    # The skin around the surface must be thick enough to keep the flood out.  Sides between points are not
    # lifted here as a cavity's are, so the grid is a little finer: measured, 99 % within 0.043 mm, not 0.055.
    h = min(GROWN_FINER * spacing_for(float(reach.min()), tolerance_mm), 1.1 * float(reach.min()))
    grid = grid_for(mesh.bounds, float(reach.max()), h)
    return surface(tris, reach + slack, grid=grid)
