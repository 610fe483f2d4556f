"""The few bodies from which the sample parts are put together; mm."""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from housingdesk.geometry.types import Mesh

Point = tuple[float, float, float]

_TURNS = {
    "+x": (0.0, 90.0, 0.0),
    "-x": (0.0, -90.0, 0.0),
    "+y": (-90.0, 0.0, 0.0),
    "-y": (90.0, 0.0, 0.0),
    "+z": (0.0, 0.0, 0.0),
    "-z": (180.0, 0.0, 0.0),
}


def block(low: Point, high: Point) -> m3.Manifold:
    """Return the box between two corners."""
    return m3.Manifold.cube(tuple(np.subtract(high, low))).translate(low)


def chamfered_block(low: Point, high: Point, chamfer_mm: float) -> m3.Manifold:
    """Return the box between two corners, every edge taken off at 45 degrees."""
    points = []
    for corner in range(8):
        upper = np.array([corner & 1, corner & 2, corner & 4], bool)
        inward = np.where(upper, -chamfer_mm, chamfer_mm)
        points += [np.where(upper, high, low) + inward * (1 - axis) for axis in np.eye(3)]
    return m3.Manifold.hull_points(np.array(points))


def rod(start: Point, toward: str, length: float, diameter: float, sides: int = 64) -> m3.Manifold:
    """Return a bar of ``sides`` flats from ``start`` along an axis, its corners on the given circle."""
    bar = m3.Manifold.cylinder(length, diameter / 2, diameter / 2, sides)
    return bar.rotate(_TURNS[toward]).translate(start)


def to_mesh(solid: m3.Manifold) -> Mesh:
    """Return a solid as a mesh, its numbers rounded to single precision as an STL keeps them.

    Raises
    ------
    ValueError
        If the solid is empty or was made wrongly.
    """
    if solid.status() != m3.Error.NoError or solid.is_empty():
        raise ValueError(f"no solid: {solid.status()}")
    mesh = solid.to_mesh64()
    return Mesh(mesh.vert_properties[:, :3].astype(np.float32), mesh.tri_verts.astype(np.int32))
