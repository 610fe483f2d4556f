"""What is said of parting planes, on a made-up profile."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.build.propose import ON_SHAFT, SLENDER, best_first, rank, slender
from housingdesk.features.site import Shaft
from housingdesk.geometry.profile import Profile

TOP = 20.0
Z = np.linspace(-1, TOP + 1, 221)


BOX = np.array([[0.0, 0, 0], [10, 10, TOP]])
HELD = (0.0, TOP)
UP = Shaft("shaft", np.zeros(3), np.array([0, 0, TOP]), np.array([0.0, 0, 1]), 4.0, 0.5, leaves=False)


def profile(lower_per_mm: float) -> Profile:
    """Relief of the lower half grows with the plane's height, the upper half needs none."""
    return Profile(Z, lower_per_mm * np.maximum(Z, 0), np.zeros_like(Z), np.full_like(Z, 100.0))


def test_a_plane_through_the_shaft_comes_first_and_its_reasons_are_told() -> None:
    found = best_first(rank("+z", profile(0.0), (), (12.0,), BOX, HELD), 2000.0)
    assert found[0].reason == ON_SHAFT
    assert found[0].height_mm == 12.0
    assert found[0].notes == (
        "The part goes straight into both halves; nothing has to be cut away.",
        "The shaft lies in the plane.",
        "Both halves have walls to hold the part, 8.0 mm of it or more.",
        "Both halves print flat on their outer faces with the cavity up, 12 mm and 8 mm tall.",
    )
    middle = next(p for p in found if p.height_mm == 10.0)
    assert "A shaft does not lie in the plane, so one half is cut open beside it." in middle.notes


def test_relief_and_mere_rims_are_told_with_figures() -> None:
    (first, *_) = rank("+z", profile(200.0), (), (1.5,), BOX, HELD)
    # 200 mm3 a mm up to 1.5 mm
    assert first.relief_mm3 == pytest.approx(300, rel=1e-3)
    assert first.notes[0].startswith("0.3 cm³ have to be cut away")
    assert "0.3 below and 0.0 above" in first.notes[0]
    assert first.notes[2] == "One half takes only 1.5 mm of the part, so its walls are mere rims."


def test_a_half_is_a_tower_beyond_three_times_its_least_breadth() -> None:
    # 20 x 6 mm footprint from -2 to 40: at 16 the lower half is 18 = 3 x 6 tall, the upper 24.
    box = np.array([[-10.0, -3, -2], [10, 3, 40]])
    assert slender(16.0, box) == ("upper", 24.0, 6.0)
    assert slender(22.0, box) == ("lower", 24.0, 6.0)
    box[1, 2] = 34.0
    assert slender(16.0, box) is None
    assert slender(16.0 + 1e-6, box) == ("lower", pytest.approx(SLENDER * 6.0, abs=1e-5), 6.0)


def test_halves_that_stand_well_go_before_towers_of_as_little_relief() -> None:
    tower = np.array([[-1.5, -1.5, -2], [1.5, 1.5, TOP + 2]])
    wide = np.array([[-10.0, -10, -2], [10, 10, TOP + 2]])
    towers = rank("+z", profile(0.0), (10.0,), (), tower, HELD, (UP,))
    flat = rank("+x", profile(1.0), (10.0,), (), wide, HELD)
    first, *_, last = best_first([*towers, *flat], 2000.0)
    assert (first.pull, first.stands) == ("+x", True)
    assert (last.pull, last.stands) == ("+z", False)
    half = next(p for p in towers if p.height_mm == 10.0)
    assert half.notes[-2:] == (
        "The lower half stands 12 mm tall on a face only 3 mm broad; it may wobble or tip while it is "
        "printed.",
        "A shaft lies along the pull, and the roof reaches past its end; station Fit can let it out.",
    )


def test_no_plane_is_offered_in_a_shaft_that_stands_out_of_the_roof() -> None:
    found = rank("+z", profile(0.0), (16.0,), (), BOX, (0.0, 12.0), (replace(UP, leaves=True),))
    assert {p.height_mm for p in found} <= {6.0, *(round(float(z), 2) for z in Z if z < 12.0)}
    assert any(p.height_mm == 6.0 for p in found)
    assert found[0].notes[-1] == "A shaft comes out through the roof, the face that half is printed on."
    assert "Both halves have walls to hold the part, 6.0 mm of it or more." in found[-1].notes
