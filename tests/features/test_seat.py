"""The seat of a shaft's bearing: it is laid in, lies free of what turns, and cannot move along the shaft."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.errors import SpecError
from housingdesk.features.carried import ball_bearing, plain_bush
from housingdesk.features.seat import ShaftSeat
from housingdesk.features.site import Shaft, Site
from housingdesk.geometry.solid import Solid
from tests.features.sites import block_site, halves_with
from tests.features.slices import exported, loops

PLANE_Z = 8.0


def shaft_site(diameter_mm: float = 5.0, z: float = PLANE_Z, length_mm: float = 30.0, **more: Any) -> Site:
    """The block with a shaft out of its right side, its cavity and hole as the engine makes them."""
    site = block_site(**more)
    base, tip = np.array([20.0, 0.0, z]), np.array([20.0 + length_mm, 0.0, z])
    radius = diameter_mm / 2 + 0.5
    tube = Solid.rod(base, tip, radius, outside=True)
    away = np.array([0.0, 0.0, 40.0])
    lower = site.cavity["lower"] | Solid.hull([tube, tube.shifted(away)])
    upper = site.cavity["upper"] | Solid.hull([tube, tube.shifted(-away)])
    shaft = Shaft("shaft", base, tip, np.array([1.0, 0.0, 0.0]), diameter_mm, 0.5)
    return block_site(shafts=(shaft,), cavity={"lower": lower, "upper": upper}, **more)


def seat(**more: Any) -> ShaftSeat:
    return ShaftSeat(**({"kind": "seat", "name": "seat", "zone": "shaft", "seat": "bearing"} | more))


def ring(outside_mm: float, bore_mm: float, start: float, width_mm: float, z: float = PLANE_Z) -> Solid:
    a, b = (start, 0.0, z), (start + width_mm, 0.0, z)
    return Solid.rod(a, b, outside_mm / 2) - Solid.rod(
        (start - 1, 0, z), (start + width_mm + 1, 0, z), bore_mm / 2
    )


def starts_mm(site: Site, feature: ShaftSeat) -> float:
    return 20.0 + feature.build(site).joints[0].figures["starts_mm"]


# ISO 15: 605 5 x 14 x 5, 625 5 x 16 x 5 (softsolder.com/2011/02/18), 608 8 x 22 x 7 (that and further pages)
@pytest.mark.parametrize(
    ("designation", "bore_mm", "outside_mm", "width_mm", "wall_mm"),
    [("605", 5.0, 14.0, 5.0, 2.4), ("625", 5.0, 16.0, 5.0, 2.4), ("625", 5.0, 16.0, 5.0, 12.0)],
)
def test_a_bearing_of_its_published_size_is_laid_in_and_caught(
    designation: str, bore_mm: float, outside_mm: float, width_mm: float, wall_mm: float
) -> None:
    site = shaft_site(wall_mm=wall_mm)
    feature = seat(bearing=designation)
    halves = halves_with(site, feature)
    start = starts_mm(site, feature) + 0.1  # in the middle of its 0.2 play
    bearing = ring(outside_mm, bore_mm, start, width_mm)
    for half in halves.values():
        assert (half & bearing).volume_mm3 == 0.0
        # Snug: 0.1 a side around, 0.1 at each end.
        assert half.min_gap(bearing, 2.0) == pytest.approx(0.1, abs=0.01)
    # It goes straight into the lower half, and the upper half straight over it.
    for step in np.linspace(0.0, 30.0, 31):
        assert (halves["lower"] & bearing.shifted((0, 0, step))).volume_mm3 == 0.0
        assert (halves["upper"] & bearing.shifted((0, 0, -step))).volume_mm3 == 0.0
    # It cannot move along the shaft, either way, in either half.
    for half in halves.values():
        for way in (-0.3, 0.3):
            assert (half & bearing.shifted((way, 0, 0))).volume_mm3 > 1.0
    # What turns with the shaft touches nothing: the inner ring, and the shaft all along.
    inner = ring(outside_mm - 0.2 * (outside_mm - bore_mm) - 0.05, bore_mm, start - 3.0, width_mm + 6.0)
    shaft = Solid.rod((20.0, 0, PLANE_Z), (60.0, 0, PLANE_Z), bore_mm / 2)
    assert all((half & inner).volume_mm3 == 0.0 for half in halves.values())
    assert all((half & shaft).volume_mm3 == 0.0 for half in halves.values())


def test_the_boss_is_as_long_as_the_seat_needs_and_prints() -> None:
    site = shaft_site()
    lower = halves_with(site, seat(bearing="605"))["lower"]
    # Two shoulders of 1.6, the bearing's 5.0 and 0.2 play from the wall's inside at 21.
    assert lower.bounds[1, 0] == pytest.approx(21.0 + 1.6 + 5.2 + 1.6, abs=1e-6)
    assert halves_with(shaft_site(wall_mm=12.0), seat(bearing="605"))["lower"].bounds[1, 0] == pytest.approx(
        33.0
    )
    mesh = exported(lower)
    outside = (mesh.triangles_center[:, 0] > 23.5) & (mesh.triangles_center[:, 2] > -3.39)
    under = outside & (np.linalg.norm(mesh.triangles_center[:, 1:] - [0, PLANE_Z], axis=1) > 7.2)
    assert (mesh.face_normals[under, 2] > -0.72).all()
    assert len(lower.bodies()) == 1


def test_the_seat_is_measured_by_slicing() -> None:
    feature = seat(bearing="608")
    with pytest.raises(SpecError, match="floor"):  # half of 22 and 1.2 mm do not fit in 11.4
        feature.build(shaft_site(8.0))
    lower = halves_with(shaft_site(8.0, wall_mm=12.0), feature)["lower"]
    rim = np.vstack(loops(lower, (26.0, 0, 0), (1, 0, 0)))
    at_plane = np.abs(rim[np.abs(rim[:, 2] - PLANE_Z) < 1e-6, 1])
    assert 2 * at_plane.min() == pytest.approx(22.0 + 2 * 0.1, abs=0.01)
    away = np.linalg.norm(rim[:, 1:] - [0.0, PLANE_Z], axis=1)
    pocket = away[(away < 12.0) & (np.abs(rim[:, 2] - PLANE_Z) > 1e-6)]
    assert len(pocket) > 20
    assert (pocket.min(), pocket.max()) == pytest.approx((11.1, 11.1), abs=0.02)


def test_a_bush_is_caught_by_its_shoulder() -> None:
    site = shaft_site()
    feature = seat(seat="bush")
    halves = halves_with(site, feature)
    start = starts_mm(site, feature) + 0.1
    # ISO 2795, from memory: bore 5, outside 9, length 8, shoulder 13 x 2.
    bush = ring(13.0, 5.0, start, 2.0) | ring(9.0, 5.0, start + 2.0, 6.0)
    for half in halves.values():
        assert (half & bush).volume_mm3 == 0.0
        for way in (-0.3, 0.3):
            assert (half & bush.shifted((way, 0, 0))).volume_mm3 > 1.0
    (line,) = feature.build(site).bill
    assert "plain bush 5 x 9 x 8" in line.what and line.standard == "ISO 2795"
    assert any("from memory" in f.message for f in feature.build(site).findings)


def test_off_the_plane_it_is_pushed_in_from_inside() -> None:
    site = shaft_site(z=5.0, parting_z_mm=12.0, wall_mm=6.0)
    feature = seat(bearing="605")
    lower = halves_with(site, feature)["lower"]
    start = starts_mm(site, feature)
    bearing = ring(14.0, 5.0, start + 0.05, 5.0, z=5.0)
    for step in np.linspace(0.0, 6.0, 13):
        assert (lower & bearing.shifted((-step, 0, 0))).volume_mm3 == 0.0
    assert (lower & bearing.shifted((0.5, 0, 0))).volume_mm3 > 1.0
    said = {f.code: f.severity for f in feature.build(site).findings}
    assert said["seat-pushed-in"] == "caution"


def test_what_does_not_fit_is_said() -> None:
    with pytest.raises(SpecError, match="There is no ball bearing '999'"):
        ball_bearing("999", 5.0)
    with pytest.raises(SpecError, match=r"The nearest is the 605, 5 x 14 x 5: .* sleeve 0\.0[78] mm"):
        ball_bearing("", 4.85)
    with pytest.raises(SpecError, match=r"The nearest is the one of 5 x 9 x 8: .* your own size"):
        plain_bush("", 4.85)
    with pytest.raises(SpecError, match=r"The widest has 17 mm; choose your own size"):
        ball_bearing("", 20.0)
    assert ball_bearing("", 5.0).what == "ball bearing 605"  # the smallest outside for the bore
    wrong = {f.code: f.severity for f in seat(bearing="608").build(shaft_site(wall_mm=12.0)).findings}
    assert wrong["seat-bore"] == "fail"
    short = {f.code: f.severity for f in seat(bearing="605").build(shaft_site(length_mm=4.0)).findings}
    assert short["seat-short-shaft"] == "fail"
    with pytest.raises(SpecError, match="no end that leaves"):
        seat(zone="other").build(shaft_site())


def test_a_bearing_of_the_users_own_size_is_laid_in() -> None:
    site = shaft_site(4.85)
    for kind, free in (("bearing", 12.0 - 0.2 * (12.0 - 4.85)), ("bush", 4.85)):
        feature = seat(seat=kind, bearing="own", outside_mm=12.0, width_mm=4.0)
        work = feature.build(site)
        (made,) = work.seats
        assert (made.steps_mm, made.free_mm) == (((4.0, 12.0),), pytest.approx(free))
        body = ring(12.0, 4.85, starts_mm(site, feature) + 0.1, 4.0)
        for half in halves_with(site, feature).values():
            assert half.min_gap(body, 2.0) == pytest.approx(0.1, abs=0.01)
        assert {f.code: f.severity for f in work.findings}[
            "seat-bore"
        ] == "pass"  # its bore follows the shaft
    with pytest.raises(SpecError, match="next to nothing"):
        seat(bearing="own", bore_mm=4.85, outside_mm=5.0).build(site)


def test_a_bore_a_little_wide_wants_a_sleeve() -> None:
    work = seat(bearing="605").build(shaft_site(4.85))
    (bore,) = (f for f in work.findings if f.code == "seat-bore")
    assert bore.severity == "caution"
    assert "a sleeve 0.0" in bore.remedy
    assert {f.code: f.severity for f in seat(bearing="605").build(shaft_site(5.3)).findings}[
        "seat-bore"
    ] == "fail"


def test_the_other_kinds_name_is_forgotten() -> None:
    (line,) = seat(seat="bush", bearing="605").build(shaft_site()).bill
    assert "plain bush 5 x 9 x 8" in line.what


def test_what_is_bought_lies_in_its_seat_and_is_not_printed() -> None:
    site = shaft_site()
    feature = seat(bearing="605")
    (body,) = feature.build(site).bought
    assert body.volume_mm3 == pytest.approx(np.pi / 4 * (14.0**2 - 5.0**2) * 5.0, rel=0.01)
    for half in halves_with(site, feature).values():
        assert (half & body).volume_mm3 == 0.0
        assert half.min_gap(body, 2.0) == pytest.approx(0.1, abs=0.01)


def test_a_seat_that_cannot_be_made_has_a_place() -> None:
    works = build_features((seat(bearing="999"),), shaft_site())
    (said,) = works.findings
    assert said.where_mm == (20.0, 0.0, PLANE_Z)


def test_it_is_billed() -> None:
    (line,) = seat(bearing="605").build(shaft_site()).bill
    assert (line.count, line.what, line.standard) == (1, "ball bearing 605", "ISO 15")
