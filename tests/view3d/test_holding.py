"""What the pointer takes, drags and lets go, with a viewer and a scene made up; no window, no VTK."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from pytestqt.qtbot import QtBot

from housingdesk.view3d.camera import Eye, View
from housingdesk.view3d.handles import FeatureKnob
from housingdesk.view3d.holding import Holding
from housingdesk.view3d.scene import Look, Scene, scene_of
from tests.view3d.content import OUTER_MM, Z_MM, halves, part

pytestmark = pytest.mark.window

BOLT = FeatureKnob("Bolt", "at", 0, (5.0, 0.0, 23.0), (0.0, 0.0, 1.0), "the bolt")
SCENE = scene_of((part(),), halves(), OUTER_MM, Z_MM, Look(), cut=(0.0, 0.0), knobs=(BOLT,))
NOWHERE = QPointF(3.0, 3.0)


class Pointer:
    """A holding that sees one scene from one place, and a note of all it says but what is to be drawn."""

    def __init__(self, scene: Scene = SCENE) -> None:
        self.scene = scene
        self.eye = Eye(View(), 900, 640)
        self.eye = replace(self.eye, view=self.eye.fitted(OUTER_MM, 0.3))
        self.holding = Holding(lambda: (self.eye, self.scene))
        self.said: list[tuple[object, ...]] = []
        for name in (
            "plane_drag_began",
            "plane_dragged",
            "plane_drag_ended",
            "cut_dragged",
            "handle_taken",
            "handle_dragged",
            "handle_left",
            "taken",
            "left",
        ):
            getattr(self.holding, name).connect(lambda *values, n=name: self.said.append((n, *values)))

    def pixel(self, x: float, y: float, z: float) -> QPointF:
        seen = self.eye.pixels(np.array([[x, y, z]]))[0]
        return QPointF(float(seen[0]), float(seen[1]))

    def grip(self, z_mm: float = Z_MM) -> QPointF:
        grip = self.holding.grip
        assert grip is not None
        return self.pixel(*grip.anchor, z_mm)

    def cut(self, shift_mm: float = 0.0) -> QPointF:
        assert self.scene.cut is not None
        x, y, z = self.scene.cut.corners[2]
        return self.pixel(x, y + shift_mm, z)  # turned by 0 degrees the cut is shifted along y


def test_each_thing_is_found_where_it_is_drawn(qtbot: QtBot) -> None:
    pointer = Pointer()
    at = pointer.pixel(*BOLT.at_mm)
    found = [pointer.holding.under(p) for p in (pointer.grip(), at, pointer.cut(), NOWHERE)]
    assert found == ["grip", BOLT, "cut", None]
    assert [pointer.holding.can_take(p) for p in (at, NOWHERE)] == [True, False]
    pointer.holding.picking = True  # a click chooses a face now
    found = [pointer.holding.under(p) for p in (pointer.grip(), at, pointer.cut())]
    assert found == [None, None, "cut"]


def test_a_plane_taken_dragged_and_let_go(qtbot: QtBot) -> None:
    pointer = Pointer()
    pointer.holding.take(pointer.grip())
    pointer.holding.move(pointer.grip(15.0), False)
    pointer.holding.move(pointer.grip(15.0), False)
    assert pointer.said == [("taken",), ("plane_drag_began",), ("plane_dragged", 15.0)]
    assert pointer.holding.cursor == Qt.CursorShape.SizeVerCursor
    pointer.holding.leave()
    assert pointer.said[3:] == [("left",), ("plane_drag_ended", 15.0)]
    assert pointer.holding.drag is None
    # The scene still has it at 11 mm: it is drawn where it was left until the next one comes.
    assert pointer.holding.waits_for_scene
    assert pointer.holding.shown_z_mm == 15.0
    assert not pointer.holding.follow(pointer.scene)
    assert pointer.holding.shown_z_mm == Z_MM


def test_a_plane_that_followed_is_not_waited_for(qtbot: QtBot) -> None:
    pointer = Pointer()

    def follow(z_mm: float) -> None:
        pointer.scene = scene_of((part(),), halves(), OUTER_MM, z_mm, Look())

    pointer.holding.plane_dragged.connect(follow)
    pointer.holding.take(pointer.grip())
    pointer.holding.move(pointer.grip(15.0), False)
    pointer.holding.give_back()
    assert pointer.said[-3:] == [("plane_dragged", Z_MM), ("left",), ("plane_drag_ended", Z_MM)]
    assert not pointer.holding.waits_for_scene


def test_heights_catch_but_not_with_shift(qtbot: QtBot) -> None:
    pointer = Pointer()
    pointer.holding.snaps_mm = (13.37,)
    pointer.holding.take(pointer.grip())
    at = pointer.grip(13.37) + QPointF(0.0, 3.0)
    pointer.holding.move(at, False)
    assert pointer.said[-1] == ("plane_dragged", 13.37)
    assert pointer.holding.grip is not None
    assert pointer.holding.grip.caught
    pointer.holding.move(at, True)
    assert pointer.said[-1] != ("plane_dragged", 13.37)


def test_a_knob_of_the_cutting_line(qtbot: QtBot) -> None:
    pointer = Pointer()
    pointer.holding.take(pointer.cut())
    pointer.holding.move(pointer.cut(-4.0), False)
    assert pointer.said == [("taken",), ("cut_dragged", -4.0)]
    assert pointer.holding.on_cut
    pointer.holding.give_back()
    assert pointer.said[2:] == [("cut_dragged", 0.0), ("left",)]
    assert not pointer.holding.on_cut


def test_a_knob_of_a_feature(qtbot: QtBot) -> None:
    pointer = Pointer()
    pointer.holding.take(pointer.pixel(*BOLT.at_mm))
    pointer.holding.move(pointer.pixel(9.0, -4.0, 23.0), False)
    assert pointer.said == [("taken",), ("handle_taken", BOLT), ("handle_dragged", BOLT, (9.0, -4.0, 23.0))]
    assert pointer.holding.handle == replace(BOLT, at_mm=(9.0, -4.0, 23.0))
    pointer.holding.leave()
    assert pointer.said[3:] == [("left",), ("handle_left",)]
    assert pointer.holding.handle is None


def test_nothing_is_taken_where_nothing_is(qtbot: QtBot) -> None:
    pointer = Pointer()
    pointer.holding.take(NOWHERE)
    pointer.holding.move(pointer.grip(15.0), False)
    pointer.holding.give_back()
    pointer.holding.leave()
    assert pointer.said == []


def test_what_is_under_the_pointer_is_lit(qtbot: QtBot) -> None:
    pointer = Pointer()
    told: list[None] = []
    pointer.holding.flat_changed.connect(lambda: told.append(None))
    for over in (BOLT, BOLT, None, "grip", "cut"):
        pointer.holding.point(over)  # type: ignore[arg-type]  # the words are those of Over
    assert pointer.said == []
    assert len(told) == 4
    assert pointer.holding.on_cut
    assert pointer.holding.cursor == Qt.CursorShape.SizeAllCursor
    pointer.holding.point(None)
    assert pointer.holding.cursor is None


@pytest.mark.parametrize("what", ["grip", "cut"])
def test_what_goes_from_the_scene_is_held_no_longer_without_a_word(qtbot: QtBot, what: str) -> None:
    pointer = Pointer()
    pointer.holding.take(pointer.grip() if what == "grip" else pointer.cut())
    pointer.said.clear()
    assert not pointer.holding.follow(SCENE)
    pointer.scene = replace(SCENE, plane=None, cut=None)
    assert pointer.holding.follow(pointer.scene)
    pointer.holding.leave()
    assert pointer.said == []
    assert pointer.holding.grip is None
