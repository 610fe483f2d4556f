"""The gland's hole: its thread goes through, its nut turns inside."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.features.gland import GlandHole
from housingdesk.geometry.solid import Solid
from housingdesk.standards.glands import glands
from tests.features.sites import block_site, halves_with
from tests.features.slices import crossings, holes, round_of


def test_published_panel_hole_and_cable() -> None:
    # doors-punching-machine.com: M12 x 1.5, panel hole 12.5, cable 3 to 6 (check-values.md section 8)
    m12 = glands()["M12"]
    assert (m12.hole_mm, m12.cable_mm.low, m12.cable_mm.high) == (12.5, 3, 6)
    assert not m12.source("hole_mm").from_memory
    assert all(glands()[size].source("hole_mm").from_memory for size in ("M16", "M20", "M25"))


@pytest.mark.parametrize("extra_mm", [0.0, 0.2])
def test_the_hole_is_measured_at_its_place(extra_mm: float) -> None:
    site = block_site(parting_z_mm=1.0, hole_extra_mm=extra_mm)
    gland = GlandHole(name="g", side="back", across_mm=4.0, height_mm=8.5)
    (hole,) = holes(halves_with(site, gland)["upper"], (0, 14.5, 0), (0, 1, 0))
    middle, least, most = round_of(hole)
    assert middle == pytest.approx([4.0, 14.5, 8.5], abs=1e-6)
    assert 2 * least == pytest.approx(12.5 + extra_mm, abs=0.002)
    assert 2 * most == pytest.approx(12.5 + extra_mm, abs=0.02)


def test_thread_and_nut_have_room_where_the_inside_is_narrow() -> None:
    site = block_site(parting_z_mm=1.0)
    narrow = Solid.box(np.array([-30.0, -13.0, -40.0]), np.array([30.0, 3.0, 60.0]))
    groove = Solid.box(np.array([-7.0, -13.0, -1.0]), np.array([7.0, 13.0, 17.0]))
    cavity = {s: (site.cavity[s] & narrow) | groove for s in ("lower", "upper")}
    tight = block_site(parting_z_mm=1.0, cavity=cavity)
    upper = halves_with(tight, GlandHole(name="g", height_mm=8.0, nut_room_mm=1.0))["upper"]
    m12 = glands()["M12"]
    thread = Solid.rod((0, 0, 8), (0, 30, 8), m12.thread_mm / 2)
    nut = Solid.rod((0, 12.99 - m12.nut_height_mm, 8), (0, 12.99, 8), m12.nut_corners_mm / 2 - 0.01)
    room = Solid.rod((0, 12.99 - m12.nut_height_mm, 8), (0, 12.99, 8), m12.nut_corners_mm / 2 + 0.99)
    assert (upper & thread).volume_mm3 == 0.0
    assert (upper & nut).volume_mm3 == 0.0
    assert (upper & room.below(17.0)).volume_mm3 == 0.0  # the roof begins there
    seat = Solid.rod((0, 13.01, 8), (0, 15.39, 8), m12.shoulder_mm / 2 - 0.1) - Solid.rod(
        (0, 13.0, 8), (0, 15.4, 8), 6.3
    )
    # The wall under shoulder and nut is whole, but where it ends at the roof and at the plane.
    whole = seat.above(1.0).below(19.4)
    assert (upper & whole).volume_mm3 == pytest.approx(whole.volume_mm3, rel=1e-3)


@pytest.mark.parametrize(
    ("height_mm", "nut_meets"), [(2.5, "floor"), (4.0, "floor"), (8.0, ""), (13.0, "roof")]
)
def test_the_room_around_a_nut_leaves_floor_and_roof_whole(height_mm: float, nut_meets: str) -> None:
    # The room of the part is 28 high here, floor and roof 2.4 thick; the nut is 19.6 over its corners.
    site = block_site(clearance_mm=6.0)
    halves = halves_with(site, GlandHole(name="g", height_mm=height_mm, nut_room_mm=8.0))
    for half, where in ((halves["lower"], "floor"), (halves["upper"], "roof")):
        thick = np.ptp(crossings(half, (0.0, 15.0, 8.0), (0, 0, 1), (0, 1, 0)))
        assert thick > 0.8 - 1e-3 if where == nut_meets else thick == pytest.approx(2.4, abs=1e-3)
    m12 = glands()["M12"]
    wide = m12.nut_corners_mm / 2 - 0.01
    nut = Solid.rod((0, 18 - m12.nut_height_mm, height_mm), (0, 17.99, height_mm), wide)
    assert sum((half & nut).volume_mm3 for half in halves.values()) == pytest.approx(0.0, abs=1e-6)


def test_a_nut_that_would_break_through_the_floor_is_refused() -> None:
    with pytest.raises(SpecError, match="break through"):
        GlandHole(name="g", height_mm=1.5).build(block_site(clearance_mm=6.0))


def test_a_part_in_the_nuts_way_is_said() -> None:
    near = {f.code: f.severity for f in GlandHole(name="g").build(block_site()).findings}
    assert near["gland-nut"] == "fail"  # the block is 1 mm behind the wall, the nut 5 mm thick
    far = {f.code for f in GlandHole(name="g").build(block_site(clearance_mm=6.0)).findings}
    assert "gland-nut" not in far


def test_refused_in_words_and_billed() -> None:
    with pytest.raises(SpecError, match="too thick for the thread"):
        GlandHole(name="g").build(block_site(wall_mm=7.0))
    with pytest.raises(SpecError, match="over the edge"):
        GlandHole(name="g", size="M25", side="left").build(block_site())
    (line,) = GlandHole(name="g").build(block_site()).bill
    assert (line.count, line.what, line.standard) == (1, "cable gland M12 x 1.5 with locknut", "EN 60423")
