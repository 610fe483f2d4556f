"""What is drawn flat, for a viewer and a scene made up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.view3d.camera import Eye, View
from housingdesk.view3d.drawing import drawing_of
from housingdesk.view3d.handles import FeatureKnob
from housingdesk.view3d.scene import Look, scene_of
from tests.view3d.content import OUTER_MM, Z_MM, halves, part

KNOBS = tuple(FeatureKnob("Bolt", "at", i, (5.0 * i, 0.0, 23.0), (0.0, 0.0, 1.0)) for i in range(2))
SCENE = scene_of(
    (part(),), halves(), OUTER_MM, Z_MM, Look(mark_mm=(23.0, 0.0, 11.0)), cut=(0.0, 0.0), knobs=KNOBS
)
START = Eye(View(), 900, 640)
EYE = replace(START, view=START.fitted(OUTER_MM))


def at(x: float, y: float, z: float) -> tuple[float, float]:
    seen = EYE.pixels(np.array([[x, y, z]]))[0]
    return float(seen[0]), float(seen[1])


def test_marks_and_knobs_stand_where_their_places_are_seen() -> None:
    drawing = drawing_of(EYE, SCENE)
    assert drawing.marks == (pytest.approx(at(23.0, 0.0, 11.0)),)
    assert drawing.handles == (pytest.approx(at(0.0, 0.0, 23.0)), pytest.approx(at(5.0, 0.0, 23.0)))
    assert len(drawing.knobs) == 2
    assert (drawing.lit, drawing.held, drawing.hint, drawing.grip) == (None, False, None, None)


def test_a_knob_that_is_held_is_drawn_once_and_where_the_mouse_has_it() -> None:
    drawing = drawing_of(EYE, SCENE, handle=replace(KNOBS[1], at_mm=(9.0, -4.0, 23.0)), on_cut=True)
    assert drawing.lit == pytest.approx(at(9.0, -4.0, 23.0))
    assert drawing.handles == (pytest.approx(at(0.0, 0.0, 23.0)),)
    assert drawing.held


def test_what_is_behind_the_viewer_is_not_drawn() -> None:
    behind = tuple(float(v) for v in 2 * EYE.view.eye() - np.asarray(EYE.view.focus_mm))
    assert drawing_of(EYE, replace(SCENE, marks=(behind,))).marks == ()  # type: ignore[arg-type]  # three


def test_the_arms_point_as_the_axes_do_the_farthest_first() -> None:
    """From above X goes right, Y goes up and Z comes towards the viewer."""
    above = replace(EYE, view=EYE.view.towards("top"))
    compass = drawing_of(above, SCENE).compass
    arms = {words[0]: tip for words, tip in compass}
    assert arms["X"] == pytest.approx((1.0, 0.0), abs=1e-9)
    assert arms["Y"] == pytest.approx((0.0, -1.0), abs=1e-9)  # down is positive
    assert compass[-1][0] == "Z, roof"
