"""Lip and groove: they never meet, keep their room, and leave the part its way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.lip import Lip
from housingdesk.features.screws import Screws
from housingdesk.features.site import Shadow, Site
from housingdesk.features.wireway import Wireway
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Side
from tests.features.sites import block_site, halves_with
from tests.features.slices import crossings, exported

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


@pytest.mark.parametrize("way", WAYS)
def test_the_gaps_of_lip_and_groove_on_the_exported_halves(way: dict[str, Any]) -> None:
    """In upright slices through all four sides: gap beside the lip and over its end, height and width."""
    site = block_site()
    halves = {side: exported(half) for side, half in halves_with(site, Lip(name="L", **way)).items()}
    z, lip_on = 8.0, way["lip_on"]
    up = 1.0 if lip_on == "lower" else -1.0
    lip, groove = halves[lip_on], halves["upper" if lip_on == "lower" else "lower"]
    gap, height, width = way["gap_mm"], 1.6, (2.4 - way["gap_mm"]) / 2
    for out in np.array([[1.0, 0, 0], [-1.0, 0, 0], [0, 1.0, 0], [0, -1.0, 0]]):
        across = np.array([out[1], out[0], 0.0])  # the slice's normal, along the side
        edge = 21.0 if out[0] else 13.0  # of the room of the part; the wall ends 2.4 further out
        for up_mm in (0.4, 0.8, 1.5):
            level = np.array([0.0, 0.0, z + up * up_mm]) + 2.0 * across
            inner, outer = crossings(lip, level, out, across)[-2:]
            there = crossings(groove, level, out, across)
            walls = there[there > 0]
            assert outer - inner == pytest.approx(width, abs=0.02)
            if way["runs"] == "inside":  # the groove is open to the room of the part
                assert len(walls) == 2
                assert walls[0] - outer == pytest.approx(gap, abs=0.02)
                assert inner == pytest.approx(edge, abs=0.1)
                assert walls[1] == pytest.approx(edge + 2.4, abs=1e-3)
            else:
                assert len(walls) == 2
                assert inner - walls[1] == pytest.approx(gap, abs=0.02)
                assert outer == pytest.approx(edge + 2.4, abs=0.02)
                assert walls[0] == pytest.approx(edge, abs=1e-3)
        middle = np.array([0.0, 0.0, z]) + 2.0 * across + (inner + outer) / 2 * out
        tops = crossings(lip, middle, (0, 0, up), across)
        floors = crossings(groove, middle, (0, 0, up), across)
        assert tops.max() == pytest.approx(height, abs=1e-3)
        assert floors.min() - tops.max() == pytest.approx(gap, abs=0.01)


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


def lopsided(wall_mm: float, thinner_mm: float, **more: Any) -> Site:
    """A block whose right wall is thinner than asked."""
    site = block_site(wall_mm=wall_mm)
    outer = site.outer_mm - np.array([[0.0, 0.0, 0.0], [thinner_mm, 0.0, 0.0]])
    return block_site(wall_mm=wall_mm, outer_mm=outer, form=Solid.box(outer[0], outer[1]), **more)


def said_of(lip: Lip, site: Site) -> list[Any]:
    return [f for f in lip.build(site).findings if f.code == "lip-short"]


@pytest.mark.parametrize("width_mm", [None, 1.0])
@pytest.mark.parametrize("runs", ["inside", "outside"])
def test_an_edge_without_wall_for_it_is_told_with_place_and_remedy(runs: Any, width_mm: Any) -> None:
    lip = Lip(name="L", runs=runs, width_mm=width_mm)
    (said,) = said_of(lip, lopsided(2.4, 1.2))
    # The right side, 26 long inside and 30.8 outside, of all four: 136 and 155.
    share = float(said.message.split(" % ")[0].split()[-1])
    assert share == pytest.approx(19.5, abs=2.5)
    assert said.severity == "caution"
    assert float(said.message.split(" mm")[0].split()[-1]) == pytest.approx(28, abs=4)
    x, y, z = said.where_mm
    assert 20.9 < x < 22.3 and abs(y) < 15.4 and z == 8.0
    # The wall takes two lines, the gap and two lines more: 0.8 + 0.2 + 0.8, and lacks 1.2 here.
    enough = float(said.remedy.split(" mm")[0].split()[-1])
    assert enough == pytest.approx(1.8 + 1.2, abs=0.101)
    assert not said_of(lip, lopsided(enough, 1.2))
    assert said_of(lip, lopsided(enough - 0.25, 1.2))
    # What is said to be missing is: no lip stands at the right.
    lower = halves_with(lopsided(2.4, 1.2), lip)["lower"]
    beside = Solid.box(np.array([10.0, -9.0, 8.02]), np.array([30.0, 9.0, 12.0]))
    assert (lower & beside).is_empty


@pytest.mark.parametrize("runs", ["inside", "outside"])
def test_nothing_is_said_of_openings_bosses_and_ways_out(runs: Any) -> None:
    site = block_site()
    way = Solid.rod((0, 0, 8.0), (40, 0, 8.0), 6.0)
    out = block_site(
        cavity={side: body | way for side, body in site.cavity.items()},
        shadow=Shadow((*site.cavity.values(), way)),
    )
    features = (Screws(name="S"), Wireway(name="W", wire_mm=5.0), Lip(name="L", runs=runs))
    built = build_features(features, out)
    assert "L" in built.made
    assert "lip-short" not in {f.code for f in built.findings}


def test_thin_walls_and_low_halves_are_refused_in_one_sentence() -> None:
    thin = build_features((Lip(name="L"),), block_site(wall_mm=1.2))
    assert thin.made == {}
    assert "raise the wall to 1.9 mm" in thin.findings[0].message  # 0.8, gap 0.2, 0.8, and 0.06 of drawing
    assert build_features((Lip(name="L"),), block_site(wall_mm=1.9)).made["L"].findings == ()
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
