"""Finished halves with marks on them: what features cut is told apart from the walls of the form."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.build.halved import Hollowed, halve
from housingdesk.build.placed import Placed
from housingdesk.build.works import build_features
from housingdesk.features.forms.ground import Outside
from housingdesk.features.mark import Mark
from housingdesk.features.mating_marks import MatingMarks
from housingdesk.features.site import Shadow
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Side
from housingdesk.geometry.walls import CAVITY, OUTSIDE, REST, Shell, shell_of
from housingdesk.spec.models import PartingSpec
from tests.features.sites import block_site

C, W, Z = 1.0, 2.4, 8.0


def shells(*features: object) -> tuple[dict[Side, Shell], dict[Side, dict[int, float]]]:
    """Return what is measured on both halves of the block's housing, and each kind of surface's area, mm2."""
    site = block_site(C, W, Z)
    part = site.parts["block"]
    tris = part.vertices[part.faces]
    placed = Placed(np.eye(4), ("block",), (part,), (np.eye(4),), tris, (0, len(tris)), ())
    hollowed = Hollowed(Outside.same(site.form), site.cavity, (), site.shadow)
    works = build_features(features, site)  # type: ignore[arg-type] # features
    made = halve(PartingSpec(height_mm=Z), "final", placed, hollowed, works)
    found, areas = {}, {}
    for side in SIDES:
        half, skin = made.halves[side], made.skins[side]
        found[side] = shell_of(half, site.outer_mm, Z, upper=side == "upper", margin_mm=C + W, skin=skin)
        a, b, c = (half.vertices[half.faces[:, i]] for i in range(3))
        area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
        areas[side] = {kind: float(area[skin == kind].sum()) for kind in (OUTSIDE, CAVITY, REST)}
    return found, areas


def test_every_triangle_of_a_plain_half_is_sorted_right() -> None:
    found, areas = shells()
    x, y = 40 + 2 * (C + W), 24 + 2 * (C + W)
    cx, cy = 40 + 2 * C, 24 + 2 * C
    height = Z + C + W
    assert areas["lower"][OUTSIDE] == pytest.approx(x * y + 2 * (x + y) * height)
    assert areas["lower"][CAVITY] == pytest.approx(cx * cy + 2 * (cx + cy) * (Z + C))
    assert areas["lower"][REST] == pytest.approx(x * y - cx * cy)
    for side in SIDES:
        assert [w.least_mm for w in found[side].walls if not w.slanted] == pytest.approx([W] * 5)


def test_marks_do_not_thin_the_walls_that_are_measured_nor_open_them() -> None:
    marks = (
        Mark(name="roof", text="ROOF", height_mm=6.0, depth_mm=0.8),
        Mark(name="floor", text="FLOOR", height_mm=6.0, depth_mm=0.8, face="floor"),
        Mark(name="left", text="UP", height_mm=4.0, depth_mm=0.6, face="left"),
        Mark(name="right", text="UP", height_mm=4.0, depth_mm=0.6, face="right", way="raised"),
        MatingMarks(name="mate"),
    )
    found, areas = shells(*marks)
    for side in SIDES:
        assert [w.least_mm for w in found[side].walls if not w.slanted] == pytest.approx([W] * 5)
        assert found[side].openings == ()
    # What was engraved in the floor is missing from its flat, and counts as the rest.
    x, y = 40 + 2 * (C + W), 24 + 2 * (C + W)
    assert found["lower"].flat_mm2 < x * y - 20.0
    plain = shells()[1]
    assert areas["lower"][REST] > plain["lower"][REST] + 20.0


def test_a_collar_of_a_wrap_is_a_wall_and_its_parting_face_is_none() -> None:
    """A mushroom upside down, parted at its stem: the upper half covers the lower half's relief."""
    import trimesh

    from housingdesk.features.forms.wrap import Wrap
    from housingdesk.geometry.offset import sweep_cavity
    from tests.features.test_forms import ground

    cap = trimesh.creation.box(bounds=[[-15, -15, 0], [15, 15, 5]])
    stem = trimesh.creation.box(bounds=[[-5, -5, 4], [5, 5, 30]])
    g = ground(trimesh.boolean.union([cap, stem], engine="manifold"), C, W)
    outside, z = Wrap().build(g), 20.0
    lower, upper = (
        sweep_cavity(g.tris, g.reach, up=up, seal_mm=g.seal_mm, tolerance_mm=0.02) for up in (True, False)
    )
    placed = Placed(np.eye(4), (), (), (), g.tris, (0,), ())
    cavity: dict[Side, Solid] = {"lower": lower, "upper": upper}
    hollowed = Hollowed(outside, cavity, (), Shadow((lower, upper)))
    made = halve(PartingSpec(height_mm=z), "final", placed, hollowed, build_features((), block_site()))
    for side in SIDES:
        shell = shell_of(
            made.halves[side],
            outside.bounds,
            z,
            upper=side == "upper",
            margin_mm=C + W,
            skin=made.skins[side],
        )
        assert shell.openings == ()
        assert min(w.least_mm for w in shell.walls) >= W - 0.011
    # The lid over the relief is part of the upper half: as wide as the cap's room, less the stem's.
    closed = made.halves["upper"]
    assert np.ptp(closed.bounds[:, 0]) >= 2 * (15 + C + W)
