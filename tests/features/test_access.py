"""The screwdriver's hole lies on the screw's axis and goes through."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.features.access import AccessHole
from housingdesk.geometry.solid import Solid
from tests.features.board import FLOOR_HOLES, ROOF_HOLE, board_site
from tests.features.sites import halves_with
from tests.features.slices import holes, round_of


def test_it_lies_on_the_axis_of_the_screw() -> None:
    site = board_site()
    hole = AccessHole(
        name="a", side="roof", across_mm=ROOF_HOLE[0] + 2, height_mm=ROOF_HOLE[1], driver_mm=5.0
    )
    upper = halves_with(site, hole)["upper"]
    (rim,) = holes(upper, (0, 0, 18.0), (0, 0, 1))
    middle, least, most = round_of(rim)
    assert middle[:2] == pytest.approx(ROOF_HOLE, abs=0.01)
    assert 2 * least == pytest.approx(5.0 + 2 * 0.5, abs=0.002)
    assert 2 * most == pytest.approx(6.0, abs=0.02)
    blade = Solid.rod((*ROOF_HOLE, 10.0), (*ROOF_HOLE, 60.0), 2.5)
    assert upper.min_gap(blade, 3.0) == pytest.approx(0.5, abs=0.01)


def test_at_a_place_it_needs_no_screw() -> None:
    hole = AccessHole(name="a", side="left", target="a place", across_mm=3.0, height_mm=6.0)
    assert hole.build(board_site()).openings[0].centre_mm == pytest.approx((-23.4, 3.0, 6.0))


def test_proposed_clicked_and_refused() -> None:
    site = board_site()
    first = AccessHole.proposed(site)
    assert first is not None
    assert (first.side, first.across_mm, first.height_mm) == ("roof", *ROOF_HOLE)
    below = AccessHole.at(
        np.array([FLOOR_HOLES[2][0] + 1, FLOOR_HOLES[2][1] + 1, -3.4]), np.array([0.0, 0, -1]), site
    )
    assert below is not None and below.target == "a screw of the part"
    at = below.model_copy(update={"name": "a"}).build(site).openings[0].centre_mm
    assert at == pytest.approx((*FLOOR_HOLES[2], -3.4), abs=0.01)
    with pytest.raises(SpecError, match="No screw hole of the part"):
        AccessHole(name="a", side="left").build(site)
