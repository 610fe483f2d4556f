"""Places where the housing touches the part on purpose are left out of the room that is asked for."""

from __future__ import annotations

import numpy as np

from housingdesk.features.records import Contact
from housingdesk.geometry.solid import Solid, rounds_within
from housingdesk.geometry.types import Mesh

COARSE_MM = 0.02


def pared(half: Mesh, contacts: tuple[Contact, ...]) -> Mesh:
    """Return a half without what lies within its contacts."""
    low, high = half.bounds
    near = [
        c
        for c in contacts
        if (np.array(c.centre_mm) > low - c.radius_mm).all()
        and (np.array(c.centre_mm) < high + c.radius_mm).all()
    ]
    if not near:
        return half
    # Contacts are drawn larger than needed by more than a coarse ball is smaller; see footholds.COVER_MM.
    with rounds_within(COARSE_MM):
        balls = Solid.union(Solid.ball(c.centre_mm, c.radius_mm) for c in near)
    return (Solid.from_mesh(half) - balls).mesh()
