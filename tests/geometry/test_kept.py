"""The seated cavity, for a half whose material is kept, against the volume of a rounded box."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.geometry.kept import seated_cavity


def rounded_box(a: float, b: float, c: float, r: float) -> float:
    """Volume of a box and all within r of it (Steiner's formula for a convex body)."""
    area, edges = 2 * (a * b + b * c + c * a), a + b + c
    return float(a * b * c + area * r + np.pi * r**2 * edges + 4 / 3 * np.pi * r**3)


@pytest.mark.parametrize("seal_mm", [0.0, 1.2, 5.0])
def test_a_box_gets_its_clearance_whatever_gaps_are_sealed(seal_mm: float) -> None:
    """A seal wider than the clearance reaches to the border of the grid, and the outside stays outside."""
    box = trimesh.creation.box(extents=(40, 20, 10))
    tris = np.asarray(box.triangles, float)
    solid = seated_cavity(tris, np.full(len(tris), 0.5), seal_mm=seal_mm)
    # At least the clearance, at most the tolerance of 0.02 more.
    assert rounded_box(40, 20, 10, 0.5) <= solid.volume_mm3 <= rounded_box(40, 20, 10, 0.52)
    assert len(solid.bodies()) == 1
