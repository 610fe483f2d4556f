"""Ears, flanges and feet break their edges as the form does, as far as heads and washers leave room."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.ears import Ears
from housingdesk.features.feet import Feet
from housingdesk.features.flange import Flange
from housingdesk.features.forms.form import rimmed
from housingdesk.features.keyholes import Keyholes
from housingdesk.features.mount_plate import MountPlate
from housingdesk.features.site import Site
from housingdesk.geometry.solid import Outline, Solid
from tests.features.sites import block_site, halves_with

FLOOR, WASHER_MM = -3.4, 9.0  # ISO 7089 M4 (engineeringhardware iso-7089)


def broken_site(rim: Any, size_mm: float = 0.8) -> Site:
    site = block_site()
    (low, high), outline = site.outer_mm, Outline.rectangle(site.outer_mm[0, :2], site.outer_mm[1, :2])
    form = site.form if rim == "sharp" else rimmed(outline, low[2], high[2], rim, size_mm)
    return replace(site, form=form, rim=(rim, size_mm))


def reach(lower: Solid, z: float) -> float:
    """Return how far the lower half reaches at a height, to the right."""
    return float(lower.section_at(z).bounds[1, 0])


@pytest.mark.parametrize("kind", [Ears, Flange, Keyholes, MountPlate])
@pytest.mark.parametrize("rim", ["sharp", "chamfered", "rounded"])
def test_edges_are_broken_as_the_forms_are(kind: Any, rim: Any) -> None:
    feature = kind.proposed(broken_site(rim)).model_copy(update={"name": "M", "thickness_mm": 4.0})
    if kind is Keyholes:
        feature = feature.model_copy(update={"side": "right"})
    lower = halves_with(broken_site(rim), feature)["lower"]
    assert len(lower.bodies()) == 1
    out = reach(lower, FLOOR + 2.0)
    lost = {"sharp": 0.0, "chamfered": 0.8, "rounded": 0.8}[rim]
    for z in (FLOOR + 0.001, FLOOR + 3.999):
        assert out - reach(lower, z) == pytest.approx(lost, abs=0.06)
    if rim == "chamfered":  # 45 degrees: it prints on the bed without support
        assert out - reach(lower, FLOOR + 0.4) == pytest.approx(0.4, abs=0.01)


@pytest.mark.parametrize("kind", [Ears, Flange])
def test_washers_still_lie_on_all_their_flat(kind: Any) -> None:
    site = broken_site("chamfered", 1.0)
    feature = kind(name="M", thickness_mm=4.0)
    lower = halves_with(site, feature)["lower"]
    for record in build_features((feature,), site).made["M"].openings:
        x, y, _ = record.centre_mm
        top = FLOOR + 4.0
        ring = Solid.rod((x, y, top - 0.2), (x, y, top), WASHER_MM / 2) - Solid.rod(
            (x, y, top - 1), (x, y, top + 1), record.size_mm[0] / 2 + 0.05
        )
        assert (ring - lower).volume_mm3 == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("rim", ["sharp", "chamfered", "rounded"])
def test_feet_break_their_edges_on_the_bed_and_keep_the_pad_walled_in(rim: Any) -> None:
    site = broken_site(rim, 0.6)
    feature = Feet(name="F", diameter_mm=10.0, height_mm=1.6)  # too deep to lie under the room of the part
    lower = halves_with(site, feature)["lower"]
    assert len(lower.bodies()) == 1
    out = reach(lower, FLOOR + 1.4)
    assert out > site.form.bounds[1, 0] + 1.0, "lugs beside the corners"
    assert out - reach(lower, FLOOR + 0.001) == pytest.approx(0.0 if rim == "sharp" else 0.6, abs=0.04)
    bed = lower.section_at(FLOOR + 0.001)
    for record in feature.build(site).openings:
        around = Outline.circle(record.centre_mm[:2], record.size_mm[0] / 2 + 0.79)
        ring = around - Outline.circle(record.centre_mm[:2], record.size_mm[0] / 2 + 0.05)
        assert (ring - bed).area_mm2 == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("size_mm", [0.6, 3.0])
def test_standing_feet_break_their_edge_on_the_bed(size_mm: float) -> None:
    feet = Feet(name="F", style="standing feet", height_mm=3.0, diameter_mm=9.0)
    lower = halves_with(broken_site("chamfered", size_mm), feet)["lower"]
    bed = FLOOR - 3.0
    broken = min(size_mm, 1.0)  # at most a third of the height
    for up, radius in ((0.001, 4.5 - broken), (broken, 4.5 + broken * 0.9 / 3.3)):
        at = np.array([np.ptp(p.bounds, axis=0) / 2 for p in lower.section_at(bed + up).pieces()])
        assert at == pytest.approx(np.full((4, 2), radius), abs=0.02)


def test_a_pad_beside_a_wide_edge_of_the_form_is_still_walled_in() -> None:
    site = broken_site("chamfered", 3.0)
    feature = Feet(name="F", diameter_mm=6.0)
    bed = halves_with(site, feature)["lower"].section_at(FLOOR + 0.001)
    for record in feature.build(site).openings:
        around = Outline.circle(record.centre_mm[:2], record.size_mm[0] / 2 + 0.79)
        ring = around - Outline.circle(record.centre_mm[:2], record.size_mm[0] / 2 + 0.05)
        assert (ring - bed).area_mm2 == pytest.approx(0.0, abs=1e-3)


def test_a_thin_ear_keeps_a_third_of_its_height_upright() -> None:
    lower = halves_with(broken_site("chamfered", 3.0), Ears(name="M"))["lower"]
    heights = np.array([FLOOR + 1.01, FLOOR + 1.99])
    assert np.ptp([reach(lower, z) for z in heights]) == pytest.approx(0.0, abs=1e-6)
