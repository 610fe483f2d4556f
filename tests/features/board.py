"""A made-up part with a connector and screw holes, and its site: the block of `sites`, dressed."""

from __future__ import annotations

from typing import Any

import numpy as np

from housingdesk.features.site import Site
from housingdesk.geometry.solid import Solid
from tests.features.sites import PART_HIGH, PART_LOW, site_of

# A connector 9.0 x 3.2 that stands 2 mm out of the front, its middle at x = -6, z = 4.6.
PLUG_LOW, PLUG_HIGH = np.array([-10.5, -14.0, 3.0]), np.array([-1.5, -11.0, 6.2])
FLOOR_HOLES = [(-15.0, -8.0), (-15.0, 8.0), (15.0, -8.0), (15.0, 8.0)]
FLOOR_HOLE_MM, FLOOR_HOLE_DEEP_MM = 3.0, 6.0
ROOF_HOLE, ROOF_HOLE_MM = (9.0, -4.0), 4.0


def board_part() -> Solid:
    holes = [
        Solid.rod((x, y, -1.0), (x, y, FLOOR_HOLE_DEEP_MM), FLOOR_HOLE_MM / 2, outside=True)
        for x, y in FLOOR_HOLES
    ]
    roof = Solid.rod((*ROOF_HOLE, 10.0), (*ROOF_HOLE, 17.0), ROOF_HOLE_MM / 2, outside=True)
    return (Solid.box(PART_LOW, PART_HIGH) | Solid.box(PLUG_LOW, PLUG_HIGH)).without([*holes, roof])


def board_site(
    clearance_mm: float = 1.0, wall_mm: float = 2.4, parting_z_mm: float = 8.0, **more: Any
) -> Site:
    """Return the site of the dressed block in a block form, cavities swept along the pull."""
    mesh = board_part().mesh()
    c, far = clearance_mm, np.array([0.0, 0.0, 40.0])
    boxes = ((PART_LOW, PART_HIGH), (PLUG_LOW, PLUG_HIGH))
    lower = Solid.union(Solid.box(a - c, b + c + far) for a, b in boxes)
    upper = Solid.union(Solid.box(a - c - far, b + c) for a, b in boxes)
    outer = np.array([mesh.bounds[0] - c - wall_mm, mesh.bounds[1] + c + wall_mm])
    given = {"parting_z_mm": parting_z_mm, "wall_mm": wall_mm, "clearance_mm": clearance_mm}
    return site_of("board", mesh, {"lower": lower, "upper": upper}, outer, given | more)
