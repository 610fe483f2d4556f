"""Feet: recesses the pads fit, a floor that stays flat and thick enough; standing feet that are said."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.errors import SpecError
from housingdesk.features.ears import Ears
from housingdesk.features.feet import Feet
from housingdesk.geometry.solid import Solid
from tests.features.sites import block_site, halves_with
from tests.features.slices import exported, holes, round_of


@pytest.mark.parametrize("wall_mm", [2.4, 6.0])
def test_pads_fit_their_recesses(wall_mm: float) -> None:
    site, floor = block_site(wall_mm=wall_mm), -1.0 - wall_mm
    lower = halves_with(site, Feet(name="f", diameter_mm=8.0, height_mm=1.0, room_mm=0.2))["lower"]
    found = [round_of(h) for h in holes(lower, (0, 0, floor + 0.5), (0, 0, 1))]
    assert len(found) == 4
    for middle, least, most in found:
        assert 2 * least == pytest.approx(8.4, abs=0.002)
        assert 2 * most == pytest.approx(8.4, abs=0.02)
        pad = Solid.rod((*middle[:2], floor - 5.0), (*middle[:2], floor + 1.0), 4.0)
        assert (lower & pad).volume_mm3 == 0.0
        # 1.2 mm stay over each recess.
        skin = Solid.rod((*middle[:2], floor + 1.01), (*middle[:2], floor + 2.15), 4.0)
        assert (lower & skin).volume_mm3 == pytest.approx(skin.volume_mm3, rel=1e-3)
    spread = np.array([m[:2] for m, _, _ in found])
    assert np.abs(spread.mean(axis=0)) == pytest.approx([0, 0], abs=1e-6)


def test_the_floor_stays_flat() -> None:
    site = block_site()
    lower = halves_with(site, Feet(name="f"))["lower"]
    mesh = exported(lower)
    down = mesh.face_normals[:, 2] < -0.5
    heights = np.round(mesh.triangles_center[down, 2], 6)
    assert set(heights[heights < -2.0].tolist()) == {-3.4, -2.4}  # the bed, and the recesses
    assert len(lower.bodies()) == 1


def test_they_leave_alone_what_others_need() -> None:
    site = block_site(wall_mm=8.0)
    ears = Ears(name="e", sides="all four sides", count=2)
    built = build_features((ears, Feet(name="f", diameter_mm=12.0)), site)
    assert [f for f in built.findings if f.severity == "fail"] == []
    recesses = Solid.union(built.made["f"].cut["lower"])
    for body in built.made["e"].needs:
        assert (recesses & body).volume_mm3 < 1e-6


def test_thick_floors_take_them_inside() -> None:
    site = block_site(wall_mm=6.0)
    lower = halves_with(site, Feet(name="f"))["lower"]
    assert lower.bounds[:, :2] == pytest.approx(site.outer_mm[:, :2])


def test_standing_feet_are_as_high_as_asked_and_said() -> None:
    site = block_site()
    feature = Feet(name="f", style="standing feet", height_mm=5.0, diameter_mm=6.0)
    lower = halves_with(site, feature)["lower"]
    assert lower.bounds[0, 2] == pytest.approx(-8.4)
    assert len(holes(lower, (0, 0, -6.0), (0, 0, 1))) == 3  # four rounds, one of them counted as outline
    (said,) = feature.build(site).findings
    assert said.severity == "caution" and "support" in said.remedy
    assert len(lower.bodies()) == 1


def test_a_narrow_end_does_not_draw_two_feet_together() -> None:
    site = block_site()
    neck = Solid.box(np.array([-40.0, -5.0, -3.4]), np.array([0.0, 5.0, 19.4]))
    lower_places = [o.centre_mm for o in Feet(name="f").build(block_site(form=site.form | neck)).openings]
    ys = sorted(p[1] for p in lower_places)
    assert ys[1] < -8.0 and ys[2] > 8.0
    with pytest.raises(SpecError, match="run into each other"):
        Feet(name="f", style="standing feet", diameter_mm=27.0, inset_mm=0.0).build(site)


def test_refused_in_words() -> None:
    with pytest.raises(SpecError, match="too thin"):
        Feet(name="f", height_mm=3.0, thickness_mm=3.2).build(block_site())
    with pytest.raises(SpecError, match="beside the floor"):
        Feet(name="f", style="standing feet", inset_mm=-20.0).build(block_site())


@pytest.mark.parametrize(("deep_mm", "inset_mm", "severity"), [(4.0, 1.0, "pass"), (5.0, 8.0, "caution")])
def test_what_is_left_of_the_floor_over_them_is_told(deep_mm: float, inset_mm: float, severity: str) -> None:
    """From a disc's rim to the cavity, a box whose lower corners lie 21 and 13 mm out and 6 mm up."""
    feet = Feet(name="f", height_mm=deep_mm, inset_mm=inset_mm, thickness_mm=deep_mm + 0.9)
    built = build_features((feet,), block_site(wall_mm=6.0))
    (said,) = [f for f in built.findings if f.code == "feet-pads"]
    assert said.severity == severity
    x, y, _ = np.abs(built.made["f"].openings[0].centre_mm).tolist()
    beside = max(0.0, np.hypot(max(x - 21.0, 0.0), max(y - 13.0, 0.0)) - 4.2)
    told = float(said.message.split("deep; ")[1].split(" mm")[0])
    assert told == pytest.approx(np.hypot(beside, 6.0 - deep_mm), abs=0.01)
