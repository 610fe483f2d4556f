"""What has to fit is drawn for how far this printer's outside sizes come out; nothing else is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.build.siting import site_wish
from housingdesk.build.works import build_features
from housingdesk.features.dowels import Dowels
from housingdesk.features.feature import Feature
from housingdesk.features.hooks import Hooks
from housingdesk.features.lip import Lip
from housingdesk.features.ribs import Ribs
from housingdesk.features.screws import Screws
from housingdesk.files.write import stl_bytes
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES
from housingdesk.proof.odds import rib_odds
from housingdesk.spec.models import PartingSpec, PartSpec, PrinterSpec, Spec
from tests.features.sites import PART_HIGH, PART_LOW, block_site, halves_with
from tests.features.slices import UP, bore_at, crossings, exported, loops, size_of

OFF_MM = [-0.10, 0.0, 0.06]  # of an outside size; below 0 where it comes out too large
PART = Solid.box(PART_LOW, PART_HIGH)


def alike(feature: Feature, room_mm: float = 0.0) -> None:
    """Assert that a feature's halves are the same whatever outsides are off by."""
    plain, off = (
        halves_with(block_site(room_mm=room_mm, outside_extra_mm=extra), feature) for extra in (0.0, -0.1)
    )
    for side in SIDES:
        assert stl_bytes(plain[side].mesh(), "half") == stl_bytes(off[side].mesh(), "half")


@pytest.mark.parametrize("off", OFF_MM)
def test_a_printed_pin_is_so_much_thinner_and_its_socket_is_not(off: float) -> None:
    site = block_site(room_mm=12.0, outside_extra_mm=off)
    feature = Dowels(name="D", diameter_mm=5.0, gap_mm=0.1)
    halves = {side: exported(half) for side, half in halves_with(site, feature).items()}
    (first, _) = build_features((feature,), site).made["D"].joints
    at = first.figures["x_mm"], first.figures["y_mm"]
    assert bore_at(halves["lower"], at, site.parting_z_mm + 1.0)[0] == pytest.approx(5.0 + off, abs=0.01)
    assert bore_at(halves["upper"], at, site.parting_z_mm + 1.0)[0] == pytest.approx(5.2, abs=0.01)
    assert first.figures["diameter_mm"] == 5.0  # as designed; the correction stands beside it
    assert (first.figures["outside_correction_mm"], first.figures["hole_correction_mm"]) == (off, 0.0)


def test_a_steel_pin_has_no_printed_outside() -> None:
    feature = Dowels(name="D", pins="steel", diameter_mm=3.0, height_mm=4.0)
    off = block_site(room_mm=12.0, outside_extra_mm=-0.1)
    alike(feature, room_mm=12.0)
    (first, _) = build_features((feature,), off).made["D"].joints
    assert "outside_correction_mm" not in first.figures


@pytest.mark.parametrize("runs", ["inside", "outside"])
@pytest.mark.parametrize("off", OFF_MM)
def test_the_lips_face_in_its_groove_is_corrected_and_the_groove_and_the_form_are_not(
    off: float, runs: str
) -> None:
    site = block_site(outside_extra_mm=off)
    halves = {s: exported(h) for s, h in halves_with(site, Lip(name="L", runs=runs, gap_mm=0.2)).items()}  # type: ignore[arg-type]
    # In a slice through the right side: the room of the part ends at x = 21, the form at 23.4.
    level, out, across = np.array([0.0, 2.0, 8.8]), (1, 0, 0), (0, 1, 0)
    inner, outer = crossings(halves["lower"], level, out, across)[-2:]
    groove = crossings(halves["upper"], level, out, across)
    if runs == "inside":
        assert groove[-2] - outer == pytest.approx(0.2 - off / 2, abs=0.02)
        assert outer == pytest.approx(21.0 + 1.1 + off / 2, abs=0.1)
    else:
        assert inner - groove[-1] == pytest.approx(0.2 - off / 2, abs=0.02)
        assert outer == pytest.approx(23.4 + min(off, 0.0) / 2, abs=0.01)
    assert np.ptp(halves["lower"].bounds[:, 0]) == pytest.approx(46.8, abs=1e-4)


@pytest.mark.parametrize("off", OFF_MM)
def test_hooks_are_thinner_and_narrower_in_the_same_pocket(off: float) -> None:
    site = block_site(room_mm=12.0, material="PETG", outside_extra_mm=off)
    feature = Hooks(name="H", thick_mm=1.4, width_mm=6.0, gap_mm=0.25)
    halves = halves_with(site, feature)
    stand = exported(halves["lower"].above(site.parting_z_mm + 0.05))
    arms = [size_of(loop) for loop in loops(stand, (0, 0, site.parting_z_mm + 0.5), UP)]
    assert len(arms) == 2
    for x_mm, y_mm, _ in arms:
        assert sorted((x_mm, y_mm)) == pytest.approx([1.4 + off, 6.0 + off], abs=0.01)
    assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    joint = build_features((feature,), site).made["H"].joints[0]
    assert (joint.figures["thick_mm"], joint.figures["outside_correction_mm"]) == (1.4, off)
    (pocket,) = {round(feature._shape(replace(site, outside_extra_mm=x))[0].room_mm, 9) for x in OFF_MM}
    assert pocket == pytest.approx(0.6 + 0.25 + 1.4 + 0.25)


@pytest.mark.parametrize("off", OFF_MM)
def test_ribs_press_as_much_as_asked_once_printed(off: float) -> None:
    site = block_site(clearance_mm=0.5, outside_extra_mm=off)
    work = Ribs(name="R", crush_mm=0.15).build(site)
    drawn = 0.15 + off / 2  # one face of the rib is an outside
    halves = halves_with(site, Ribs(name="R", crush_mm=0.15)).values()
    deep = [np.ptp(body.bounds, axis=0).min() for half in halves for body in (half & PART).bodies()]
    assert len(deep) == 12  # two on each side
    assert deep == pytest.approx([drawn] * 12, abs=1e-4)
    assert {round(c.press_mm, 9) for c in work.contacts} == {round(drawn, 9)}
    (said,) = work.findings
    assert "press 0.15 mm" in said.message
    assert ("drawn" in said.message) == bool(off)
    if off < 0:
        assert "0.05 mm lower, for outsides that come out 0.1 mm too large" in said.message
    # Printed they press as asked, so the chances are those of a printer whose outsides come out to size.
    plain = Ribs(name="R", crush_mm=0.15).build(block_site(clearance_mm=0.5))
    printer = PrinterSpec()
    for found, wanted in zip(
        rib_odds(work.contacts, 0.5, printer), rib_odds(plain.contacts, 0.5, printer), strict=True
    ):
        assert found.room_mm == pytest.approx(wanted.room_mm, abs=1e-9)


def test_ribs_that_only_touch_end_before_the_part_where_the_printer_adds_to_them() -> None:
    site = block_site(clearance_mm=0.5, outside_extra_mm=-0.1)
    ribs = Ribs(name="R", crush_mm=0.0)
    halves = halves_with(site, ribs)
    assert all((half & PART).volume_mm3 == pytest.approx(0.0, abs=1e-9) for half in halves.values())
    assert min(half.min_gap(PART, 1.0) for half in halves.values()) == pytest.approx(0.05, abs=1e-4)
    assert {round(c.press_mm, 9) for c in ribs.build(site).contacts} == {-0.05}


def test_nothing_else_is_drawn_for_it() -> None:
    alike(Screws(name="S"))


@pytest.mark.parametrize(
    "feature", [Dowels(name="F", diameter_mm=2.0), Lip(name="F"), Hooks(name="F"), Ribs(name="F")]
)
def test_a_correction_that_leaves_too_little_is_one_sentence(feature: Feature) -> None:
    works = build_features((feature,), block_site(room_mm=12.0, outside_extra_mm=-2.0))
    assert works.made == {}
    assert "station Print" in works.findings[0].message


@pytest.mark.parametrize(
    ("printer", "off"),
    [
        (PrinterSpec(), 0.0),
        (PrinterSpec(outside_correction_mm=-0.15), -0.15),
        (PrinterSpec(process="resin"), 0.0),
    ],
)
def test_the_printers_own_figure_reaches_the_features(printer: PrinterSpec, off: float) -> None:
    part = PartSpec(name="pump", mesh_key="0" * 64)
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=5.0), printer=printer)
    assert site_wish(spec).outside_extra_mm == off


@pytest.mark.parametrize(("outside", "hole"), [(0.5, 0.0), (0.3, -0.2), (0.0, -0.4)])
@pytest.mark.parametrize("feature", [Dowels(name="D"), Lip(name="L"), Hooks(name="H")], ids=lambda f: f.kind)
def test_halves_do_not_run_into_each_other_however_far_the_printer_is_off(
    feature: Feature, outside: float, hole: float
) -> None:
    site = block_site(room_mm=12.0, wall_mm=3.2, outside_extra_mm=outside)
    halves = halves_with(replace(site, hole_extra_mm=hole), feature)
    assert (halves["lower"] & halves["upper"]).volume_mm3 < 1e-3
