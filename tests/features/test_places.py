"""Bosses that grow out of the outside form."""

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.features import places
from housingdesk.features.forms.form import Rim, rimmed
from housingdesk.features.site import Shadow, Shaft, Site
from housingdesk.geometry.solid import Outline, Solid
from tests.features.sites import block_site


def test_a_boss_beside_a_way_out_leaves_no_fin_before_its_mouth() -> None:
    plain = block_site()
    y = float(plain.outer_mm[0, 1])
    flare = [(-4, y + 3), (4, y + 3), (4, y), (5, y - 1), (-5, y - 1), (-4, y)]  # as wide passages are cut
    hollows = (*plain.cavity.values(), Solid.prism(Outline.polygon(flare), 0.0, 16.0))
    boss = places.ear(block_site(shadow=Shadow(hollows)), (9.3, y - 0.5), 4.3)
    assert boss is not None
    area, half = boss.section_at(plain.parting_z_mm), places.FIN_MM / 2 - 0.01
    thin = area - area.grown(-half).grown(half)
    # Sharp corners lose a crumb each when they are rounded; the fin had 0.15 mm2.
    assert max(piece.area_mm2 for piece in thin.pieces()) < 0.02


def test_a_form_that_no_upright_screw_passes_has_no_places() -> None:
    left = Solid.box(np.array([-23.4, -15.4, -3.4]), np.array([-1.0, 15.4, 9.0]))
    right = Solid.box(np.array([1.0, -15.4, 7.0]), np.array([23.4, 15.4, 19.4]))
    assert places.choose(block_site(form=left | right), Outline.union([]), 4, 3.0) == []


@pytest.mark.parametrize("rim", ["chamfered", "rounded"])
def test_an_ears_edges_on_the_bed_are_broken_with_the_forms(rim: Rim) -> None:
    """Ear and wall have one edge: the section at the roof is the section below, inset."""
    size = 1.2
    plain = block_site()
    low, high = plain.outer_mm
    form = rimmed(Outline.rectangle(low[:2], high[:2]), low[2], high[2], rim, size)
    site = replace(plain, form=form, rim=(rim, size), straight=True)
    corner = (float(high[0]), float(high[1]))
    ear = places.ear(site, corner, 5.0)
    assert ear is not None
    whole = form | ear
    below, roof = whole.section_at(high[2] - 4.0), whole.section_at(high[2] - 1e-4)
    assert ((below.grown(-size) - roof).grown(-0.05)).is_empty
    assert ((roof - below.grown(-size)).grown(-0.05)).is_empty


@pytest.mark.parametrize("axis", [(0.0, -1.0, 0.0), (1.0, 0.0, 0.0)])
def test_screws_grown_on_stand_beside_the_face_that_a_shaft_leaves_by(
    axis: tuple[float, float, float],
) -> None:
    out, radius = np.array(axis), 4.3
    plain = block_site()
    face = float((plain.outer_mm * out).sum(axis=1).max())

    def furthest(site: Site) -> float:
        found = places.choose(site, places.blocked(site), 4, radius)
        assert len(found) == 4
        return max(float(np.array(p) @ out[:2]) for p in found) + radius

    assert furthest(plain) > face + 1.0  # the block has no room inside
    base = 10.0 * out + [0.0, 0.0, 8.0]
    shaft = Shaft("shaft", base, base + 30.0 * out, out, 5.0, 0.5)
    assert furthest(replace(plain, shafts=(shaft,))) <= face
    upright = replace(shaft, axis=np.array([0.0, 0.0, 1.0]))
    assert furthest(replace(plain, shafts=(upright,))) == furthest(plain)
