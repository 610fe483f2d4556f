"""Snap hooks: figures by the published formulas, bodies that catch, bend and let go."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.hook_shape import LEAD_DEG, HookShape, frame
from housingdesk.features.hooks import Hooks
from housingdesk.features.lip import Lip
from housingdesk.features.screws import Screws
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Side
from tests.features.sites import block_site, halves_with

WISHES: list[dict[str, Any]] = [
    {},
    {"lets_go": "by pulling"},
    {"hook_on": "upper", "count": 4},
    {"thick_mm": 1.6, "catch_mm": 0.4, "gap_mm": 0.4},
]


def arms_of(halves: dict[str, Solid], hook_on: str, z: float) -> Solid:
    return halves["lower"].above(z + 0.05) if hook_on == "lower" else halves["upper"].below(z - 0.05)


@pytest.mark.parametrize("room", [0.0, 12.0])
@pytest.mark.parametrize("wish", WISHES)
def test_shut_they_touch_nothing_and_catch(wish: dict[str, Any], room: float) -> None:
    site = block_site(room_mm=room, material="PETG")
    feature = Hooks(name="H", **wish)
    works = build_features((feature,), site)
    assert "H" in works.made, works.findings
    assert len(works.made["H"].joints) == feature.count
    halves = halves_with(site, feature)
    z, own = site.parting_z_mm, feature.hook_on
    other: Side = "upper" if own == "lower" else "lower"
    assert all(len(half.bodies()) == 1 for half in halves.values())
    assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    arms = arms_of(halves, own, z)
    assert len(arms.bodies()) == feature.count
    assert arms.min_gap(halves[other], 1.0) >= 0.06
    # Lifted by less than a millimetre the noses are held: all of them, over their whole width.
    away = 1.0 if other == "upper" else -1.0
    lifted = halves[other].shifted((0, 0, away * 0.8))
    for arm in arms.bodies():
        assert (arm & lifted).volume_mm3 > 0.3 * feature.width_mm * 0.1
    for side, half in halves.items():
        assert (half & site.cavity[side]).volume_mm3 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("wish", WISHES)
def test_bent_by_the_catch_they_go_in_and_come_out(wish: dict[str, Any]) -> None:
    """An arm shifted inward by what the figures say it bends passes the edge, and needs no more room."""
    site = block_site(room_mm=12.0, material="PETG")
    feature = Hooks(name="H", **wish)
    shape, _ = feature._shape(site)
    pocket = Solid.box(np.array([-2.0, 0.0, -9.0]), np.array([shape.deep_mm, shape.pocket_mm + 3, 9.0]))
    other = pocket - shape.other_cut()
    bent = shape.arm(shape.catch_mm)
    own = Solid.box(np.array([-2.0, -shape.well_mm, -9.0]), np.array([shape.deep_mm, 0.0, 9.0]))
    for lift in np.linspace(0.0, shape.pocket_mm + 1, 9):
        assert (bent & other.shifted((0.0, lift, 0.0))).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    # In its own half, too, the stem has that room above its rounded root.
    root = 0.5 * shape.thick_mm + 0.2
    stem = bent & Solid.box(np.array([-50.0, root - shape.well_mm, -50.0]), np.array([50.0, 50.0, 50.0]))
    well = own - (shape.own_cut() | shape.arm())
    assert (stem & well).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    if shape.catch_mm > 0.2:
        less = shape.arm(shape.catch_mm - 0.1)
        assert (less & other.shifted((0.0, shape.nose_mm, 0.0))).volume_mm3 > 0.0


def test_the_root_is_rounded() -> None:
    """Radius of half the thickness (konubinix.eu; check-values 4a): the stem widens towards its root."""
    shape = HookShape(8.0, 1.2, 6.0, 0.6, 0.3, 2.0, 90.0, 1.2)

    def width(above: float) -> float:
        low = np.array([-5.0, above - shape.well_mm, -0.5])
        piece = shape.arm() & Solid.box(low, low + np.array([15.0, 0.001, 1.0]))
        return float(np.ptp(piece.bounds[:, 0]))

    assert width(0.7) == pytest.approx(1.2, abs=0.01)
    radius = 0.6
    for above in (0.1, 0.3):  # a quarter round on either side
        flank = radius - np.sqrt(radius**2 - (radius - above) ** 2)
        assert width(above) == pytest.approx(1.2 + 2 * flank, abs=0.03)


def test_figures_are_those_of_the_formulas() -> None:
    """e = 1.5 h Y / L^2, P = b h^2 E e / (6 L), W by the lead slope (check-values 3a)."""
    site = block_site(room_mm=12.0, material="PETG")
    f = Hooks(name="H", length_mm=7.0).build(site).joints[0].figures
    strain = 1.5 * 1.2 * 0.6 / 49.0
    assert f["strain_pct"] == pytest.approx(100 * strain, rel=0.005)
    bending = 6.0 * 1.2**2 * 2100.0 * strain / (6 * 7.0)  # PETG 2.0 to 2.2 GPa
    slope = np.tan(np.radians(LEAD_DEG))
    assert f["push_n"] == pytest.approx(bending * (0.6 + slope) / (1 - 0.6 * slope), rel=0.005)
    assert f["strain_limit_pct"] == 3.0  # PETG 3 to 5 % (filamentfeed.com)
    assert f["root_radius_mm"] >= 0.5 * 1.2
    again = Hooks(name="H", lets_go="by pulling").build(site).joints[0].figures
    assert again["strain_limit_pct"] == pytest.approx(0.6 * 3.0)  # 60 % for repeated use (scribd 172064197)
    assert again["strain_pct"] <= again["strain_limit_pct"]
    assert again["pull_n"] > again["push_n"]


def test_too_much_strain_is_a_fail() -> None:
    site = block_site(room_mm=12.0)
    found = {f.code: f for f in build_features((Hooks(name="H", length_mm=4.0),), site).findings}
    assert found["hook-strain"].severity == "fail"
    fine = {f.code: f for f in build_features((Hooks(name="H", catch_mm=0.4),), site).findings}
    assert fine["hook-strain"].severity == "pass"
    low = build_features((Hooks(name="H"),), block_site(room_mm=12.0, parting_z_mm=1.0))
    assert {f.code: f.severity for f in low.findings}["hook-strain"] == "fail"


def test_pockets_that_do_not_fit_are_refused() -> None:
    works = build_features((Hooks(name="H"),), block_site(parting_z_mm=15.5, material="PETG"))
    assert works.made == {}
    assert "too low" in works.findings[0].message


def test_hooks_keep_off_screws_and_the_lip_off_hooks() -> None:
    site = block_site(material="PETG")
    features = (Screws(name="S", size="M2", count=2), Hooks(name="H"), Lip(name="L"))
    works = build_features(features, site)
    assert set(works.made) == {"S", "H", "L"}
    assert "features-collide" not in {f.code for f in works.findings}
    halves = halves_with(site, *features)
    assert (halves["lower"] & halves["upper"]).volume_mm3 == pytest.approx(0.0, abs=1e-6)
    assert all(len(half.bodies()) == 1 for half in halves.values())


def test_a_hooks_frame_is_a_rotation() -> None:
    for outward in ([1.0, 0, 0], [0, -1.0, 0]):
        for up in (1.0, -1.0):
            m = frame(np.array([1.0, 2.0, 3.0]), np.array(outward), up)
            assert np.linalg.det(m[:3, :3]) == pytest.approx(1.0)
            assert (m @ [0, 1, 0, 1])[:3] == pytest.approx([1.0, 2.0, 3.0 + up])
            assert (m @ [1, 0, 0, 1])[:3] == pytest.approx(np.array([1.0, 2.0, 3.0]) + outward)


def test_no_strain_known_is_said() -> None:
    found = build_features((Hooks(name="H"),), replace(block_site(room_mm=12.0), material="TPU")).findings
    assert "hook-plastic" in {f.code for f in found}


@pytest.mark.parametrize(
    ("place", "side", "along"),
    [((31.0, 3.0), (0, 1), 3.0), ((-33.0, -2.0), (0, -1), -2.0), ((4.0, 25.0), (1, 1), 4.0)],
)
def test_a_hook_with_a_place_stands_in_the_side_that_is_nearest(place: Any, side: Any, along: float) -> None:
    site = block_site(room_mm=8.0)
    work = build_features((Hooks(name="H", count=1, places_mm=(place,)),), site).made["H"]
    axis, way = side
    ((low, high),) = [body.bounds for body in work.keep_out]
    assert (low + high)[1 - axis] / 2 == pytest.approx(along)
    assert way * ((low + high)[axis] / 2) > 0.8 * way * site.outer_mm[int(way > 0), axis]
    (handle,) = work.handles
    assert handle.at_mm[1 - axis] == pytest.approx(along)
    assert handle.at_mm[axis] == pytest.approx(site.outer_mm[int(way > 0), axis])
    # The knob's own place gives the same hook.
    again = Hooks(name="H", count=1, places_mm=(handle.at_mm[:2],))
    assert build_features((again,), site).made["H"].handles == work.handles


def test_a_dragged_hook_leaves_the_others_and_one_without_room_is_told_with_its_knob() -> None:
    site = block_site(room_mm=8.0)
    hooks = Hooks(name="H", count=2)
    first = build_features((hooks,), site).made["H"]
    moved = hooks.moved(first.handles[0].key, np.array([31.0, 1.0, 8.0]), site.parting_z_mm)
    second = build_features((moved,), site).made["H"]
    assert second.handles[1].at_mm == pytest.approx(first.handles[1].at_mm, abs=1e-3)
    assert second.handles[0].at_mm == pytest.approx((31.4, 1.0, 8.0))
    both = moved.model_copy(update={"places_mm": (moved.places_mm[1], moved.places_mm[1])})
    third = build_features((both,), site).made["H"]
    assert len(third.joints) == 1 and len(third.handles) == 2
    told = [f for f in third.findings if f.code == "hook-place"]
    assert [f.severity for f in told] == ["fail"] and "Hook 2 of H" in told[0].message
    assert not [f for f in third.findings if f.code == "hook-count"]


def test_a_click_places_one_hook() -> None:
    site = block_site(room_mm=8.0)
    hook = Hooks.at(np.array([31.4, 2.0, 5.0]), np.array([1.0, 0.0, 0.0]), site)
    assert hook.places_mm == ((31.4, 2.0),) and hook.count == 1


def test_a_form_without_a_place_for_hooks_is_refused() -> None:
    left = Solid.box(np.array([-23.4, -15.4, -3.4]), np.array([-1.0, 15.4, 4.0]))
    right = Solid.box(np.array([1.0, -15.4, 12.0]), np.array([23.4, 15.4, 19.4]))
    works = build_features((Hooks(name="H"),), block_site(form=left | right))  # nothing at the plane
    assert not works.made
    assert [f.severity for f in works.findings] == ["fail"]
