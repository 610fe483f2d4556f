"""Dragging the plane, without a window."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.view3d.camera import Eye, View
from housingdesk.view3d.grip import Drag, grip_of
from housingdesk.view3d.scene import PlaneFrame

PLANE = PlaneFrame(11.0, ((-30, -20), (30, -20), (30, 20), (-30, 20)), (0.1, 19.9))
EYE = Eye(View((0, 0, 8), 320), 1000, 700)
AT = (30.0, -20.0)


def pixel(z: float) -> tuple[float, float]:
    x, y, _ = EYE.pixels(np.array([*AT, z]))[0]
    return float(x), float(y)


def drag(hold: tuple[float, float] = (0, 0)) -> Drag:
    return Drag(AT, 11.0, 11.0, hold)


@given(st.floats(0.2, 19.8), st.floats(-15, 15), st.floats(-15, 15))
def test_the_plane_stays_under_the_place_it_was_taken_by(z: float, dx: float, dy: float) -> None:
    x, y = pixel(z)
    moved = drag((dx, dy)).moved(EYE, PLANE, (), (x + dx, y + dy), free=False)
    assert moved.z_mm == pytest.approx(z, abs=0.05 + 1e-6)  # whole tenths
    fine = drag((dx, dy)).moved(EYE, PLANE, (), (x + dx, y + dy), free=True)
    assert fine.z_mm == pytest.approx(z, abs=0.005 + 1e-6)


@given(st.floats(-5.5, 5.5))
def test_within_six_pixels_a_height_catches(off: float) -> None:
    x, y = pixel(13.37)
    caught = drag().moved(EYE, PLANE, (4.0, 13.37), (x, y + off), free=False)
    assert (caught.z_mm, caught.caught) == (13.37, True)
    free = drag().moved(EYE, PLANE, (4.0, 13.37), (x, y + off), free=True)
    assert not free.caught
    # Seen from 26 degrees above, a pixel up is 1 / cos(26 degrees) of its millimetres; the rest is depth.
    way = off * EYE.mm_per_px((*AT, 13.37)) / np.cos(np.radians(26))
    assert free.z_mm == pytest.approx(13.37 - way, abs=0.006 + 0.03 * abs(way))


def test_beyond_eight_pixels_none_does() -> None:
    x, y = pixel(13.37)
    assert not drag().moved(EYE, PLANE, (13.37,), (x, y + 8), free=False).caught


def test_the_plane_stays_in_the_part() -> None:
    assert drag().moved(EYE, PLANE, (25.0,), pixel(25.0), free=False).z_mm == 19.9
    assert drag().moved(EYE, PLANE, (-3.0,), pixel(-3.0), free=False).z_mm == 0.1


def test_given_back() -> None:
    moved = drag().moved(EYE, PLANE, (), pixel(4.0), free=False)
    assert (moved.given_back().z_mm, moved.given_back().began_z) == (11.0, 11.0)


@given(st.floats(20, 4000), st.floats(-180, 180), st.floats(-90, 90))
def test_the_grip_is_easy_to_hit_from_everywhere(distance: float, azimuth: float, elevation: float) -> None:
    eye = Eye(View((0, 0, 8), distance, azimuth, elevation), 1000, 700)
    grip = grip_of(eye, PLANE, 11.0, False, None, ())
    for dx, dy in ((0, 0), (12, 12), (-12, 12), (12, -12), (-12, -12)):  # 24 pixels square at least
        assert grip.holds((grip.at[0] + dx, grip.at[1] + dy))
    assert not grip.holds((grip.at[0] + 40, grip.at[1]))
    assert grip.text == "11.0 mm"
    assert grip.rail is None


def test_a_held_grip_shows_its_rail_and_ticks() -> None:
    held = grip_of(EYE, PLANE, 5.0, True, drag().moved(EYE, PLANE, (), pixel(5.0), False), (4.0, 9.0, 44.0))
    assert held.held
    assert held.at == pytest.approx(pixel(5.0))
    assert held.rail is not None
    assert held.rail[0] == pytest.approx(pixel(0.1))
    assert held.rail[1] == pytest.approx(pixel(19.9))
    assert [t == pytest.approx(pixel(z)) for t, z in zip(held.ticks, (4.0, 9.0), strict=True)] == [True, True]
