"""Lip and groove: they never meet, keep their room, and leave the part its way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.lip import Lip
from housingdesk.features.screws import Screws
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Side
from tests.features.sites import block_site, halves_with

WAYS: list[dict[str, Any]] = [
    {"lip_on": lip_on, "runs": runs, "gap_mm": gap}
    for lip_on in ("lower", "upper")
    for runs in ("inside", "outside")
    for gap in (0.1, 0.25)
]


def parted(half: Solid, side: Side, z: float) -> Solid:
    """What stands across the parting plane."""
    return half.above(z + 0.02) if side == "lower" else half.below(z - 0.02)


@pytest.mark.parametrize("screws", [False, True])
@pytest.mark.parametrize("way", WAYS)
def test_lip_and_groove_keep_their_room(way: dict[str, Any], screws: bool) -> None:
    site = block_site()
    features = [*([Screws(name="S", size="M2.5")] if screws else []), Lip(name="L", **way)]
    halves = halves_with(site, *features)
    z, side = site.parting_z_mm, way["lip_on"]
    other: Side = "upper" if side == "lower" else "lower"
    assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    lip = parted(halves[side], side, z)
    assert lip.volume_mm3 > 50
    assert lip.min_gap(halves[other], 1.0) == pytest.approx(way["gap_mm"], abs=0.012)
    assert lip.min_gap(halves[other], 1.0) >= way["gap_mm"] - 0.004
    assert parted(halves[other], other, z).is_empty
    # Without the lip the halves still meet in the plane: the groove is deeper than the lip is high.
    assert all(len(half.bodies()) == 1 for half in halves.values())
    # Nothing stands in the way of the part, however high or low it is on its way in.
    for half, name in ((halves["lower"], "lower"), (halves["upper"], "upper")):
        assert (half & site.cavity[name]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    assert (lip & Solid.prism(site.keep_clear, -100, 100)).volume_mm3 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("runs", ["inside", "outside"])
def test_material_beside_the_groove_can_be_printed(runs: Any) -> None:
    """No sliver thinner than 0.8 mm (check-values 4a) is left of the wall with the groove."""
    site = block_site()
    upper = halves_with(site, Screws(name="S"), Lip(name="L", runs=runs))["upper"]
    wall = upper.section_at(site.parting_z_mm + 1.0)
    printable = wall.grown(-0.39).grown(0.395)
    assert (wall - printable).area_mm2 < 0.6, "but for sharp corners"


def test_it_runs_all_round_and_round_the_bosses() -> None:
    site = block_site()
    work = build_features((Screws(name="S"), Lip(name="L")), site).made["L"]
    # Round a 42 x 26 cavity: 136 mm, and the corners of the lip's middle line.
    assert work.joints[0].figures["length_mm"] > 0.94 * 136
    for one in build_features((Screws(name="S"), Lip(name="L")), site).made["S"].fasteners:
        x, y, _ = one.axis_mm[0]
        groove = work.cut["upper"][0].section_at(site.parting_z_mm + 1.0)
        assert not groove.touches(Outline.circle((x, y), one.clear_hole_mm / 2 + 1.15))


def test_it_stops_at_what_others_keep_free() -> None:
    site = block_site()
    wire = Solid.rod((0, -30, site.parting_z_mm), (0, 0, site.parting_z_mm), 2.0)
    work = Lip(name="L").build(_with(site, Work(keep_out=(wire,))))
    for body in (*work.add["lower"], *work.cut["upper"]):
        assert body.min_gap(wire, 1.0) >= 0.0
        assert (body & wire).is_empty
    free = Lip(name="L").build(site)
    lost = free.joints[0].figures["length_mm"] - work.joints[0].figures["length_mm"]
    assert lost == pytest.approx(4.0 + 2 * 0.2, abs=0.8)


def test_thin_walls_and_low_halves_are_refused_in_one_sentence() -> None:
    thin = build_features((Lip(name="L"),), block_site(wall_mm=1.2))
    assert thin.made == {}
    assert "raise the wall" in thin.findings[0].message
    low = build_features((Lip(name="L", height_mm=9.0),), block_site(parting_z_mm=12.0))
    assert "too low for a lip" in low.findings[0].message


def test_it_follows_the_plane() -> None:
    for z in (5.0, 8.0, 11.0):
        site = block_site(parting_z_mm=z)
        work = Lip(name="L").build(site)
        top = work.add["lower"][0].bounds[1, 2]
        assert top == pytest.approx(z + 1.6)
        assert np.isclose(work.cut["upper"][0].bounds[1, 2], z + 1.8)


def _with(site: Site, work: Work) -> Site:
    return replace(site, done={"other": work})
