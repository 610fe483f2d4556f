"""Knobs of features: where they are seen, and where a drag takes them."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.view3d.camera import STANDPOINTS, Eye, Standpoint, View
from housingdesk.view3d.handles import FeatureKnob, KnobDrag, seen, take, under

UP = (0.0, 0.0, 1.0)
KNOB = FeatureKnob("Screws", "1", 0, (10.0, 5.0, 20.0), UP, "Screw 1")


def eye(standpoint: Standpoint = "corner") -> Eye:
    azimuth, elevation = STANDPOINTS[standpoint]
    return Eye(View((0.0, 0.0, 10.0), 300.0, azimuth, elevation), 800, 600)


def pixel(looker: Eye, point: tuple[float, float, float]) -> tuple[float, float]:
    x, y, _ = looker.pixels(np.array([point]))[0]
    return float(x), float(y)


def taken(looker: Eye, knob: FeatureKnob = KNOB) -> KnobDrag:
    drag = take(looker, (knob,), pixel(looker, knob.drawn_mm))
    assert drag is not None
    return drag


@pytest.mark.parametrize("standpoint", ["corner", "top", "bottom"])
def test_a_knob_goes_where_the_pointer_is_in_its_plane(standpoint: Standpoint) -> None:
    looker = eye(standpoint)
    for place in ((14.0, 5.0, 20.0), (-8.3, 11.2, 20.0)):
        drag = taken(looker).moved(looker, pixel(looker, place), free=False)
        assert drag.at_mm == pytest.approx(place, abs=0.051)
        # Whole tenths from where it was.
        assert ((np.array(drag.at_mm) - KNOB.at_mm) * 10) == pytest.approx(
            np.round((np.array(drag.at_mm) - KNOB.at_mm) * 10), abs=1e-6
        )


def test_free_it_goes_in_hundredths() -> None:
    looker = eye("top")
    drag = taken(looker).moved(looker, pixel(looker, (12.34, 5.0, 20.0)), free=True)
    assert drag.at_mm == pytest.approx((12.34, 5.0, 20.0), abs=0.006)


def test_from_the_side_it_goes_along_the_screen_and_stays_in_its_plane() -> None:
    looker = eye("front")
    beside = pixel(looker, (16.0, 5.0, 29.0))
    drag = taken(looker).moved(looker, beside, free=False)
    assert drag.at_mm == pytest.approx((16.0, 5.0, 20.0), abs=0.15)


def test_a_plane_askew_keeps_the_knob() -> None:
    normal = (0.6, 0.0, 0.8)
    knob = FeatureKnob("Gland", "mouth", 0, (1.0, 2.0, 3.0), normal)
    looker = eye()
    x, y = pixel(looker, knob.at_mm)
    drag = taken(looker, knob).moved(looker, (x + 40, y - 25), free=False)
    assert drag.at_mm != knob.at_mm
    assert (np.array(drag.at_mm) - knob.at_mm) @ normal == pytest.approx(0, abs=1e-3)


def test_given_back_it_is_where_it_was() -> None:
    looker = eye()
    x, y = pixel(looker, KNOB.at_mm)
    assert taken(looker).moved(looker, (x + 30, y), free=False).given_back().at_mm == KNOB.at_mm


def test_a_knob_held_off_its_middle_does_not_jump() -> None:
    looker = eye("top")
    x, y = pixel(looker, KNOB.at_mm)
    drag = take(looker, (KNOB,), (x + 5, y - 4))
    assert drag is not None
    assert drag.moved(looker, (x + 5, y - 4), free=True).at_mm == pytest.approx(KNOB.at_mm, abs=1e-6)


def test_the_nearest_knob_is_taken_and_none_beside_them() -> None:
    looker = eye("top")
    other = FeatureKnob("Screws", "2", 1, (11.5, 5.0, 20.0), UP)
    x, y = pixel(looker, other.at_mm)
    assert under(looker, (KNOB, other), (x + 1, y)) is other
    assert under(looker, (KNOB, other), (x + 60, y + 60)) is None


def test_a_lifted_knob_is_drawn_with_its_half_and_dragged_in_place() -> None:
    looker = eye()
    knob = FeatureKnob("Screws", "1", 0, (10.0, 5.0, 20.0), UP, lift_z=30.0)
    assert seen(looker, (knob,)) == (pytest.approx(pixel(looker, (10.0, 5.0, 50.0))),)
    drag = taken(looker, knob).moved(looker, pixel(looker, (12.0, 6.0, 50.0)), free=False)
    assert drag.at_mm == pytest.approx((12.0, 6.0, 20.0), abs=0.051)
    assert drag.now.drawn_mm[2] == 50.0
