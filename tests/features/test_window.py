"""Windows: they clear the connector by the margin, all the way through, and widen outward."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.features.window import Window
from housingdesk.geometry.solid import Solid
from tests.features.board import PLUG_HIGH, PLUG_LOW, board_part, board_site
from tests.features.sites import halves_with
from tests.features.slices import area_of, holes, size_of

WALL_MIDDLE = -16.2  # the plug ends at -14, then 1.0 clearance and 2.4 wall
PLUG = [(PLUG_LOW[0] + PLUG_HIGH[0]) / 2, (PLUG_LOW[2] + PLUG_HIGH[2]) / 2]


def test_a_rectangle_is_the_connector_and_its_margin() -> None:
    window = Window(name="plug", margin_mm=0.5, chamfer_mm=0.6)
    site = board_site()
    lower = halves_with(site, window)["lower"]
    (hole,) = holes(lower, (0, WALL_MIDDLE, 0), (0, 1, 0))
    assert size_of(hole) == pytest.approx([9.0 + 1.0, 0.0, 3.2 + 1.0], abs=1e-5)
    assert (hole.min(axis=0) + hole.max(axis=0))[[0, 2]] / 2 == pytest.approx(PLUG, abs=1e-5)
    # At the outer face it is wider by the chamfer at each side; 0.1 mm inside by 0.5.
    (rim,) = holes(lower, (0, -17.4 + 0.1, 0), (0, 1, 0))
    assert size_of(rim) == pytest.approx([10.0 + 1.0, 0.0, 4.2 + 1.0], abs=0.02)
    record = window.build(site).openings[0]
    assert record.size_mm == pytest.approx((10.0, 4.2))
    assert record.centre_mm == pytest.approx((PLUG[0], -17.4, PLUG[1]))


@pytest.mark.parametrize("shape", ["rectangle", "slot", "circle"])
@pytest.mark.parametrize("margin_mm", [0.2, 1.0])
def test_a_plug_grown_by_the_margin_goes_through(shape: Any, margin_mm: float) -> None:
    half = halves_with(board_site(), Window(name="w", shape=shape, margin_mm=margin_mm))
    m = np.array([margin_mm - 1e-3, 0.0, margin_mm - 1e-3])
    bare = Solid.box(PLUG_LOW - [0, 10, 0], PLUG_HIGH)
    assert min(h.min_gap(bare, 5.0) for h in half.values()) == pytest.approx(margin_mm + 0.002, abs=0.0025)
    if shape == "rectangle":
        plug = Solid.box(PLUG_LOW - m - [0, 10, 0], PLUG_HIGH + m)
        assert sum((h & plug).volume_mm3 for h in half.values()) == 0.0


def test_a_window_across_the_plane_is_in_both_halves() -> None:
    site = board_site(parting_z_mm=4.6)
    halves = halves_with(site, Window(name="w", margin_mm=0.5, chamfer_mm=0.0))
    whole = Solid.box(PLUG_LOW - np.array([0.49, 10, 0.49]), PLUG_HIGH + np.array([0.49, 0, 0.49]))
    for half in halves.values():
        assert (half & whole).volume_mm3 == 0.0
    missing = [(halves_with(site)[side] - halves[side]).volume_mm3 for side in ("lower", "upper")]
    # 10 wide, 2.1 high in each half, through 2.4 of wall.
    assert missing == pytest.approx([10.0 * 2.1 * 2.4] * 2, rel=1e-6)


@pytest.mark.parametrize(
    ("shape", "area"),
    # closed forms: 12 x 5; 12 x 5 with half rounds of 2.5; round of 12
    [("rectangle", 60.0), ("slot", 7 * 5 + np.pi * 2.5**2), ("circle", np.pi * 6**2)],
)
def test_by_hand_it_has_the_size_entered_at_its_place(shape: Any, area: float) -> None:
    window = Window(
        name="w", side="right", shape=shape, fit="hand", width_mm=12, tall_mm=5, across_mm=-2, height_mm=9,
        chamfer_mm=0.0,
    )  # fmt: skip
    site = board_site(parting_z_mm=1.0)
    (hole,) = holes(halves_with(site, window)["upper"], (22.0, 0, 0), (1, 0, 0))
    assert area_of(hole) == pytest.approx(area, rel=2e-3)
    assert (hole.min(axis=0) + hole.max(axis=0)) / 2 == pytest.approx([22.0, -2.0, 9.0], abs=1e-3)


def test_it_goes_through_any_wall_and_no_further() -> None:
    window = Window(name="w", side="back", fit="hand", width_mm=6, tall_mm=4, chamfer_mm=0.0)
    for wall_mm in (1.2, 2.4, 7.0):
        site = board_site(wall_mm=wall_mm)
        before, after = halves_with(site), halves_with(site, window)
        gone = sum(before[s].volume_mm3 - after[s].volume_mm3 for s in ("lower", "upper"))
        assert gone == pytest.approx(6 * 4 * wall_mm, rel=1e-6)


def test_a_button_is_a_round_of_the_part() -> None:
    button = Solid.rod((5.0, 0.0, 15.0), (5.0, 0.0, 17.0), 3.0)
    from housingdesk.geometry.patches import find_patches

    mesh = (board_part() | button).mesh()
    site = board_site(parts={"board": mesh}, patches={"board": find_patches(mesh)})
    window = Window(name="w", side="roof", shape="circle", margin_mm=0.4, across_mm=5.5, height_mm=0.5)
    record = window.build(site).openings[0]
    assert record.centre_mm == pytest.approx((5.0, 0.0, 19.4), abs=0.02)
    assert record.size_mm[0] == pytest.approx(2 * 3.4, abs=0.02)


def test_what_cannot_be_opened_is_said_in_words() -> None:
    with pytest.raises(SpecError, match="over the edge"):
        Window(name="w", fit="hand", side="right", across_mm=11.5, width_mm=10.0).build(board_site())
    with pytest.raises(SpecError, match="No face of the part"):
        Window(name="w", side="right", across_mm=40.0, height_mm=5.0).build(board_site())
    with pytest.raises(SpecError, match="no room of the part"):
        Window(
            name="w", fit="hand", side="right", across_mm=12.9, height_mm=18.0, width_mm=2, tall_mm=1
        ).build(board_site())
    near = Window(name="w", fit="hand", side="right", across_mm=9.5, width_mm=6.0).build(board_site())
    assert [f.code for f in near.findings if f.severity == "caution"] == []


def test_a_deep_connector_is_said() -> None:
    found = {f.code: f for f in Window(name="w").build(board_site()).findings}["window-depth"]
    assert found.severity == "caution"
    assert "9.0 × 3.2" in found.message and "3.4 mm inside" in found.message  # 1.0 clearance + 2.4 wall


def test_a_click_means_the_connector_behind_it() -> None:
    site = board_site()
    made = Window.at(np.array([-5.0, -17.4, 5.0]), np.array([0.0, -1.0, 0.0]), site)
    assert made is not None and (made.side, made.fit) == ("front", "the part")
    assert made.model_copy(update={"name": "w"}).build(site).openings[0].centre_mm == pytest.approx(
        (PLUG[0], -17.4, PLUG[1])
    )
    first = Window.proposed(site)
    assert first is not None and first.side == "front"
    dragged = first.moved("place", np.array([3.0, -17.4, 7.0]), 8.0)
    assert (dragged.across_mm, dragged.height_mm) == (3.0, 7.0)
