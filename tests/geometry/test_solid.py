"""Bodies and outlines against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from housingdesk.errors import SolidError
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.solid.outline import segments_for
from housingdesk.geometry.stretch import stretched


def test_a_hole_has_no_less_room_than_its_diameter_and_a_pin_no_more() -> None:
    for radius in (0.5, 1.7, 3.0, 11.0):
        hole = Solid.rod((0, 0, 0), (0, 0, 5), radius, outside=True).section_at(2.0)
        pin = Solid.rod((0, 0, 0), (0, 0, 5), radius).section_at(2.0)
        apothem = min(_distance_to_sides(loop) for loop in hole.loops)
        assert apothem == pytest.approx(radius, abs=1e-6)
        assert max(np.linalg.norm(loop, axis=1).max() for loop in pin.loops) == pytest.approx(radius)


def _distance_to_sides(loop: np.ndarray) -> float:
    """Return the least distance of the origin to the lines of a loop's sides."""
    d = np.roll(loop, -1, axis=0) - loop
    return float((np.abs(loop[:, 0] * d[:, 1] - loop[:, 1] * d[:, 0]) / np.linalg.norm(d, axis=1)).min())


@pytest.mark.parametrize("axis", [(1, 0, 0), (0, -1, 0), (0, 0, 1), (1, 2, 3)])
def test_a_rod_runs_from_its_start_to_its_end(axis: tuple[int, int, int]) -> None:
    way = np.array(axis) / np.linalg.norm(axis)
    start = np.array([1.0, -2.0, 3.0])
    rod = Solid.rod(start, start + 7 * way, 2.0)
    along = (rod.mesh().vertices - start) @ way
    assert (along.min(), along.max()) == (pytest.approx(0, abs=1e-9), pytest.approx(7))
    assert rod.volume_mm3 == pytest.approx(math.pi * 4 * 7, rel=4e-3)


def test_a_cone_has_a_third_of_its_cylinder() -> None:
    cone = Solid.rod((0, 0, 0), (0, 0, 9), 4.0, 0.0)
    assert cone.volume_mm3 == pytest.approx(math.pi * 16 * 9 / 3, rel=3e-3)


def test_chords_stay_within_the_sagitta_asked() -> None:
    for radius in (0.3, 2.0, 10.0, 60.0):
        n = segments_for(radius, 0.004)
        assert radius * (1 - math.cos(math.pi / n)) <= 0.004 or n == 256


def test_growing_an_outline_follows_steiner() -> None:
    # Steiner's formula in the plane: A + P d + pi d^2 for a convex area.
    area = Outline.rectangle((0, 0), (30, 10)).grown(2.0).area_mm2
    assert area == pytest.approx(300 + 80 * 2 + math.pi * 4, rel=1e-3)
    assert Outline.rectangle((0, 0), (30, 10)).grown(2.0, "sharp").area_mm2 == pytest.approx(34 * 14)


def test_outlines_add_cut_and_fill() -> None:
    ring = Outline.circle((0, 0), 5) - Outline.circle((0, 0), 3)
    assert ring.area_mm2 == pytest.approx(math.pi * 16, rel=5e-3)
    assert ring.filled().area_mm2 == pytest.approx(math.pi * 25, rel=5e-3)
    assert len((Outline.circle((0, 0), 1) | Outline.circle((9, 0), 2)).pieces()) == 2
    assert ring.covers(Outline.circle((4, 0), 0.5))
    assert not ring.covers(Outline.circle((3, 0), 0.5))
    assert not ring.touches(Outline.circle((0, 0), 2.5))


def test_prism_and_silhouette_undo_each_other() -> None:
    outline = Outline.polygon([(0, 0), (8, 0), (8, 3), (2, 6)], [(3, 1), (4, 1), (4, 2)])
    body = Solid.prism(outline, -1.0, 4.0)
    assert body.volume_mm3 == pytest.approx(5 * outline.area_mm2)
    assert (body.silhouette() - outline).area_mm2 == pytest.approx(0, abs=1e-6)
    assert body.bounds[:, 2] == pytest.approx([-1, 4])


def test_what_cannot_be_is_refused() -> None:
    for wrong in (
        lambda: Solid.rod((0, 0, 0), (0, 0, 0), 1.0),
        lambda: Solid.rod((0, 0, 0), (0, 0, 1), -1.0),
        lambda: Solid.prism(Outline.circle((0, 0), 1), 2.0, 2.0),
        lambda: Outline.rectangle((0, 0), (0, 5)),
    ):
        with pytest.raises(SolidError):
            wrong()


def test_pushing_the_end_of_a_box_bounds_the_longer_box() -> None:
    box = Solid.box(np.array([0.0, 0, 0]), np.array([4.0, 3, 2])).mesh()
    more = stretched(box.vertices[box.faces], np.array([1.0, 0, 0]), 1.5)
    corners = more.reshape(-1, 3)
    assert corners.min(axis=0) == pytest.approx([4, 0, 0])
    assert corners.max(axis=0) == pytest.approx([5.5, 3, 2])
    # The moved end (3 x 2) and four walls 1.5 long: no wall along the diagonal inside the end.
    area = np.linalg.norm(np.cross(more[:, 1] - more[:, 0], more[:, 2] - more[:, 0]), axis=1).sum() / 2
    assert area == pytest.approx(3 * 2 + 2 * (3 + 2) * 1.5)
    assert len(stretched(box.vertices[box.faces][:0], np.array([1.0, 0, 0]), 1.0)) == 0
