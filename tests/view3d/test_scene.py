"""Scenes: which bodies are seen, how, and that nothing is seen twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.geometry.types import Mesh
from housingdesk.view3d.palette import DARK, LIGHT, palette
from housingdesk.view3d.scene import EDGE_TRIANGLES, Look, Scene, height_label, plane_frame, scene_of
from tests.view3d.content import OUTER_MM, Z_MM, box, halves, part

PART = part()
HALVES = halves()


def scene(look: Look | None = None, stale: bool = False) -> Scene:
    return scene_of((PART,), HALVES, OUTER_MM, Z_MM, look or Look(), stale)


def names(shown: Scene) -> list[str]:
    return [item.name for item in shown.items]


def test_everything_is_shown_in_its_colour() -> None:
    shown = {item.name: item for item in scene().items}
    assert list(shown) == ["lower", "upper", "part-0"]
    assert [shown[n].colour for n in shown] == [LIGHT.lower, LIGHT.upper, LIGHT.ghost]
    assert [shown[n].opacity for n in shown] == [1.0, 1.0, 0.35]
    assert shown["lower"].mesh is HALVES["lower"]
    assert shown["part-0"].mesh is PART


def test_equal_choices_give_equal_scenes() -> None:
    assert scene() == scene()
    assert scene() != scene_of((PART,), halves(), OUTER_MM, Z_MM, Look())


@pytest.mark.parametrize(
    ("look", "left"),
    [
        (Look(ghost_on=False), ["lower", "upper"]),
        (Look(ghost_opacity=0.0), ["lower", "upper"]),
        (Look(lower_shown=False), ["upper", "part-0"]),
        (Look(upper_shown=False), ["lower", "part-0"]),
        (Look(lower_shown=False, upper_shown=False, ghost_on=False), []),
    ],
)
def test_what_is_hidden_is_not_there(look: Look, left: list[str]) -> None:
    assert names(scene(look)) == left


def test_lifting_moves_the_upper_half_alone() -> None:
    lifted = scene(Look(lift_mm=25.0))
    assert {i.name: i.lift_z for i in lifted.items} == {"lower": 0.0, "upper": 25.0, "part-0": 0.0}
    box_mm = lifted.bounds_mm()
    assert box_mm is not None
    assert box_mm[1, 2] == pytest.approx(OUTER_MM[1, 2] + 25)
    assert box_mm[0, 2] == pytest.approx(OUTER_MM[0, 2])


def test_before_the_first_halves_the_part_is_solid() -> None:
    shown = scene_of((PART, PART), None, None, None, Look(ghost_on=False), stale=True)
    assert names(shown) == ["part-0", "part-1"]
    assert all(item.opacity == 1.0 for item in shown.items)
    assert shown.plane is None
    assert not shown.stale


def test_what_is_bought_is_drawn_with_the_parts_in_a_colour_of_its_own() -> None:
    def shown(look: Look) -> list[str]:
        return names(scene_of((PART,), HALVES, OUTER_MM, 5.0, look, bought=(PART,)))

    assert shown(Look()) == ["lower", "upper", "part-0", "bought-0"]
    assert "bought-0" not in shown(Look(ghost_on=False))
    assert shown(Look(pick_faces=True)) == ["part-0"]
    item = scene_of((PART,), HALVES, OUTER_MM, 5.0, Look(), bought=(PART,)).items[-1]
    assert item.colour == palette(False).bought
    assert 0 < item.opacity < 1


def test_picking_shows_parts_alone() -> None:
    shown = scene(Look(pick_faces=True))
    assert names(shown) == ["part-0"]
    assert shown.items[0].opacity == 1.0
    assert shown.plane is None


def test_stale_halves_are_paler_and_the_ghost_is_not() -> None:
    fresh, stale = ({i.name: i for i in scene(stale=s).items} for s in (False, True))
    for side in ("lower", "upper"):
        assert stale[side].colour != fresh[side].colour
        assert not stale[side].edges
    assert stale["part-0"] == fresh["part-0"]
    assert scene(stale=True).stale


def test_edges_of_a_very_large_mesh_are_not_drawn() -> None:
    grid = np.zeros((EDGE_TRIANGLES + 1, 3), np.int32)
    large = Mesh(np.eye(3), grid)
    shown = scene_of((PART,), {"lower": large, "upper": HALVES["upper"]}, OUTER_MM, Z_MM, Look())
    assert [item.edges for item in shown.items] == [False, True, True]


def test_the_frame_stands_clear_of_the_housing_and_inside_the_part() -> None:
    frame = plane_frame(OUTER_MM, (PART,), Z_MM)
    ring = np.array(frame.corners)
    assert (ring.min(axis=0) < OUTER_MM[0, :2]).all()
    assert (ring.max(axis=0) > OUTER_MM[1, :2]).all()
    # Shoelace formula: a ring in order around has the area of its box.
    x, y = ring.T
    area = 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    assert area == pytest.approx(float(np.prod(np.ptp(ring, axis=0))))
    assert 0.0 < frame.range_mm[0] < frame.range_mm[1] < 20.0
    assert frame.z_mm == Z_MM


def test_a_thin_part_can_still_be_parted() -> None:
    low, high = plane_frame(OUTER_MM, (box(np.array([[0, 0, 0], [9, 9, 0.5]])),), 0.2).range_mm
    assert 0 < low < high < 0.5


@pytest.mark.parametrize(
    ("z_mm", "text"),
    [
        (11.0, "11.0 mm"),
        (11.5, "11.5 mm"),
        (11.25, "11.25 mm"),
        (0.3, "0.3 mm"),
        (11.999, "12.0 mm"),
        (11.97, "11.97 mm"),
    ],
)
def test_heights_in_words(z_mm: float, text: str) -> None:
    assert height_label(z_mm) == text


def test_marks_plane_and_dark() -> None:
    shown = scene(Look(mark_mm=(1.0, 2.0, 3.0), plane_shown=False, dark=True))
    assert shown.marks == ((1.0, 2.0, 3.0),)
    assert shown.plane is None
    assert shown.palette is DARK
    assert scene().marks == ()


def test_an_empty_bench_has_no_bounds() -> None:
    assert scene_of((), None, None, None, Look()).bounds_mm() is None
    assert replace(scene(), items=()).bounds_mm() is None
