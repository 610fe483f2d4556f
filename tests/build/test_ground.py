"""What a housing must enclose of a shaft that leaves it."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.build.ground import _rise_mm
from housingdesk.features.site import Shaft
from housingdesk.geometry.solid import Solid


@pytest.mark.parametrize("rise_deg", [-20.0, 0.0, 10.0])
def test_a_slanting_shaft_has_climbed_by_the_time_it_leaves_the_wall(rise_deg: float) -> None:
    mesh = Solid.box(np.full(3, -10.0), np.full(3, 10.0)).mesh()
    tris = mesh.vertices[mesh.faces]
    slope = np.radians(rise_deg)
    base, axis = np.array([4.0, 0.0, 1.0]), np.array([np.cos(slope), 0.0, np.sin(slope)])
    shaft = Shaft("shaft", base, base + 30 * axis, axis, 5.0, 0.5)
    rise = _rise_mm(shaft, tris, np.full(len(tris), 3.0))
    assert rise == pytest.approx((10.0 + 3.0 - 4.0) * np.tan(slope))  # it leaves at x = 13
