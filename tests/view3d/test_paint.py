"""Colours of single faces."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from housingdesk.spec.zones import Purpose
from housingdesk.view3d.paint import pick_paint, shades, zone_colour, zone_paint
from housingdesk.view3d.palette import LIGHT, channels

PURPOSES: tuple[Purpose, ...] = get_args(Purpose)
# What someone without red- or green-sensitive cones sees: rows of Viénot, Brettel and Mollon, "Digital video
# colourmaps for checking the legibility of displays by dichromats" (1999), for linear RGB, from memory.
PROTAN = np.array([[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]])
DEUTAN = np.array([[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]])


def linear(colour: str) -> np.ndarray:
    """IEC 61966-2-1 (sRGB), from memory."""
    c = np.array(channels(colour))
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("eyes", [np.eye(3), PROTAN, DEUTAN], ids=["all cones", "no red", "no green"])
def test_zones_are_told_apart_also_by_colour_blind_eyes(eyes: np.ndarray) -> None:
    seen = [eyes @ linear(c) for c in (LIGHT.ghost, *(zone_colour(p) for p in PURPOSES))]
    apart = [np.linalg.norm(a - b) for i, a in enumerate(seen) for b in seen[i + 1 :]]
    assert min(apart) > 0.15


def test_faces_have_the_colour_of_their_zone_and_of_the_pick() -> None:
    base = zone_paint(np.array([-1, 0, 1, -1], np.int32), ("turning", "hot"), LIGHT)
    rgb = np.round(255 * np.array([channels(c) for c in (LIGHT.ghost, "#56B4E9", "#D55E00", LIGHT.ghost)]))
    assert (base.rgb == rgb).all()
    picked = pick_paint(base, np.array([1], np.int32), np.array([1, 3], np.int32), LIGHT)
    assert (picked.rgb[1] == np.round(255 * np.array(channels(LIGHT.snap)))).all()
    assert (picked.rgb[[0, 2]] == base.rgb[[0, 2]]).all()
    assert (picked.rgb[3] != base.rgb[3]).any()
    assert (base.rgb == rgb).all()  # the zones' own paint is kept for later


def test_a_scale_runs_from_end_to_end_and_no_farther() -> None:
    got = shades([-5.0, 0.0, 0.5, 1.0, 9.0], ("#000000", "#FFFFFF"), 0.0, 1.0)
    assert got[:, 0].tolist() == [0, 0, 128, 255, 255]
