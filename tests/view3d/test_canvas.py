"""The bench in a real window, with real mouse events."""

from __future__ import annotations

import colorsys
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot
from vtkmodules.vtkCommonCore import vtkCommand

from housingdesk.view3d.camera import STANDPOINTS, Standpoint
from housingdesk.view3d.canvas import Bench
from housingdesk.view3d.handles import FeatureKnob
from housingdesk.view3d.palette import DARK, LIGHT, channels
from housingdesk.view3d.scene import Look, PlaneFrame, Scene, Spot, scene_of
from tests.view3d.content import OUTER_MM, Z_MM, halves, part

pytestmark = pytest.mark.window

PART = part()
HALVES = halves()
LEFT = Qt.MouseButton.LeftButton
NONE = Qt.MouseButton.NoButton
SHIFT = Qt.KeyboardModifier.ShiftModifier
PATIENCE_MS = 20_000  # a busy machine without a graphics card draws once in a second


def scene(look: Look | None = None, z_mm: float = Z_MM, stale: bool = False) -> Scene:
    return scene_of((PART,), HALVES, OUTER_MM, z_mm, look or Look(), stale)


@pytest.fixture
def bench(qtbot: QtBot) -> Iterator[Bench]:
    widget = Bench()
    qtbot.addWidget(widget)
    widget.resize(900, 640)
    widget.show()
    qtbot.waitExposed(widget)
    widget.show_scene(scene())
    settle(qtbot, widget)
    yield widget
    widget.close()


def settle(qtbot: QtBot, bench: Bench) -> None:
    """Wait until every body is dressed and the view is at rest."""
    qtbot.waitUntil(
        lambda: not any(b.wants_dressing() for b in bench.stage.bodies.values()), timeout=PATIENCE_MS
    )
    qtbot.wait(200)


def point(at: tuple[float, float]) -> QPoint:
    return QPoint(round(at[0]), round(at[1]))


def move(
    bench: Bench,
    at: tuple[float, float] | QPoint,
    button: Qt.MouseButton = LEFT,
    modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
) -> None:
    """A mouse move by Qt's own dispatch.

    QTest's goes through the screen's pointer: it arrives when the screen pleases and holds no keys.
    """
    where = QPointF(at) if isinstance(at, QPoint) else QPointF(*at)
    glob = bench.interactor.mapToGlobal(where)
    event = QMouseEvent(QEvent.Type.MouseMove, where, glob, Qt.MouseButton.NoButton, button, modifiers)
    QApplication.sendEvent(bench.interactor, event)


def seen_by_vtk(bench: Bench, point_mm: tuple[float, float, float]) -> tuple[float, float]:
    """Logical pixel of a point, by VTK's own renderer and not by the bench's arithmetic."""
    renderer = bench.stage.layers.solid
    renderer.SetWorldPoint(*point_mm, 1.0)
    renderer.WorldToDisplay()
    x, y, _ = renderer.GetDisplayPoint()
    ratio = bench.interactor.devicePixelRatioF()
    return x / ratio, bench.interactor.height() - y / ratio


def heard(bench: Bench) -> list[tuple[str, float | None]]:
    """Everything the bench says about the plane, in order."""
    said: list[tuple[str, float | None]] = []
    bench.plane_drag_began.connect(lambda: said.append(("began", None)))
    bench.plane_dragged.connect(lambda z: said.append(("moved", z)))
    bench.plane_drag_ended.connect(lambda z: said.append(("ended", z)))
    return said


def press_grip(bench: Bench) -> tuple[tuple[float, float], Callable[[float], tuple[float, float]]]:
    """Press the grip's middle; return that pixel, and the pixel to move to for any height."""
    grip = bench.grip
    assert grip is not None
    start = (float(round(grip.at[0])), float(round(grip.at[1])))
    off = (start[0] - grip.at[0], start[1] - grip.at[1])

    def above(z_mm: float) -> tuple[float, float]:
        x, y = seen_by_vtk(bench, (*grip.anchor, z_mm))
        return x + off[0], y + off[1]

    QTest.mousePress(bench.interactor, LEFT, pos=point(start))
    return start, above


def hue_share(picture: np.ndarray, colour: str) -> float:
    """Share of the picture in a colour's hue (within 12 degrees) and at least half its saturation."""
    hue, saturation, _ = colorsys.rgb_to_hsv(*channels(colour))
    rgb = picture[::4, ::4].reshape(-1, 3) / 255
    seen = np.array([colorsys.rgb_to_hsv(*pixel) for pixel in rgb])
    near = np.abs((seen[:, 0] - hue + 0.5) % 1 - 0.5) < 12 / 360
    return float((near & (seen[:, 1] > saturation / 2)).mean())


# --- the plane ---------------------------------------------------------------------------------------


def test_dragging_the_grip_says_the_height_under_the_mouse(qtbot: QtBot, bench: Bench) -> None:
    said = heard(bench)
    frame = bench.grip
    assert frame is not None
    assert bench.eye.mm_per_px((*frame.anchor, Z_MM)) < 0.15  # a pixel's rounding stays in the bound
    _, above = press_grip(bench)
    wanted = [12.5, 14.0, 16.2, 9.0, 6.3]
    for z in wanted:
        before = len(said)
        QTest.mouseMove(bench.interactor, point(above(z)))  # by the screen's own pointer
        qtbot.waitUntil(lambda n=before: len(said) > n, timeout=PATIENCE_MS)
        assert said[-1][0] == "moved"
        assert said[-1][1] == pytest.approx(z, abs=0.2)
        assert bench.grip is not None
        assert bench.grip.at == pytest.approx(above(said[-1][1] or 0.0), abs=1.0)
    QTest.mouseRelease(bench.interactor, LEFT, pos=point(above(6.3)))
    assert said[0] == ("began", None)
    assert said[-1] == ("ended", said[-2][1])
    assert [name for name, _ in said] == ["began", *["moved"] * len(wanted), "ended"]


def test_the_plane_catches_at_given_heights_and_shift_frees_it(bench: Bench) -> None:
    bench.set_snaps((4.0, 13.37))
    said = heard(bench)
    _, above = press_grip(bench)
    x, y = above(13.37)
    move(bench, (x, y + 4))
    assert said[-1] == ("moved", 13.37)
    assert bench.grip is not None
    assert bench.grip.caught
    move(bench, (x, y + 4), LEFT, SHIFT)
    freed = said[-1][1]
    assert freed is not None
    assert 0.2 < 13.37 - freed < 1.5
    assert seen_by_vtk(bench, (*bench.grip.anchor, freed)) == pytest.approx((x, y + 4), abs=1.2)
    move(bench, (x, y + 14))
    assert not bench.grip.caught
    QTest.mouseRelease(bench.interactor, LEFT, pos=point((x, y + 14)))


def test_escape_gives_the_plane_back(bench: Bench) -> None:
    said = heard(bench)
    _, above = press_grip(bench)
    move(bench, point(above(15.0)))
    QTest.keyClick(bench.interactor, Qt.Key.Key_Escape)
    assert said[-2:] == [("moved", Z_MM), ("ended", Z_MM)]
    count = len(said)
    move(bench, point(above(5.0)))
    QTest.mouseRelease(bench.interactor, LEFT, pos=point(above(5.0)))
    assert len(said) == count
    assert bench.grip is not None
    assert bench.grip.text == "11.0 mm"


def test_the_frame_waits_where_it_was_left_for_the_next_scene(bench: Bench) -> None:
    _, above = press_grip(bench)
    move(bench, point(above(15.0)))
    bench.show_scene(scene(z_mm=12.0))  # a scene on its way while the mouse is ahead of it
    assert bench.grip is not None
    assert bench.grip.text != "12.0 mm"
    QTest.mouseRelease(bench.interactor, LEFT, pos=point(above(15.0)))
    left_at = bench.grip.text
    assert left_at.startswith(("14.9", "15.0", "15.1"))
    bench.show_scene(scene(z_mm=12.0))
    assert bench.grip.text == "12.0 mm"


def test_a_knob_of_the_cutting_line_is_dragged_and_given_back(bench: Bench) -> None:
    cut = scene_of((PART,), HALVES, OUTER_MM, Z_MM, Look(), cut=(0.0, 0.0))
    bench.show_scene(cut)
    assert cut.cut is not None
    said: list[float] = []
    bench.cut_dragged.connect(said.append)
    bench.cut_dragged.connect(
        lambda offset: bench.show_scene(scene_of((PART,), HALVES, OUTER_MM, Z_MM, Look(), cut=(0.0, offset)))
    )
    planes = heard(bench)
    view = bench.eye.view
    x, y, z = cut.cut.corners[2]
    start = seen_by_vtk(bench, (x, y, z))
    QTest.mousePress(bench.interactor, LEFT, pos=point(start))
    off = (round(start[0]) - start[0], round(start[1]) - start[1])
    for shift in (-2.0, -6.0):
        seen = seen_by_vtk(bench, (x, y + shift, z))  # turned by 0 degrees the cut is shifted along y
        move(bench, (seen[0] + off[0], seen[1] + off[1]))
    assert said == pytest.approx([-2.0, -6.0])
    assert bench.stage.scene.cut is not None
    assert bench.stage.scene.cut.offset_mm == pytest.approx(-6.0)
    QTest.keyClick(bench.interactor, Qt.Key.Key_Escape)
    assert said[-1] == 0.0
    QTest.mouseRelease(bench.interactor, LEFT, pos=point(start))
    assert planes == []
    assert bench.eye.view == view  # nothing was turned


def test_a_drag_whose_plane_goes_ends_quietly(bench: Bench) -> None:
    _, above = press_grip(bench)
    said = heard(bench)
    bench.show_scene(scene(Look(plane_shown=False)))
    move(bench, point(above(15.0)))
    QTest.mouseRelease(bench.interactor, LEFT, pos=point(above(15.0)))
    assert said == []
    assert bench.grip is None


def test_pointing_at_the_grip_brightens_it_without_drawing_in_3d(qtbot: QtBot, bench: Bench) -> None:
    drawn = count_draws(bench)
    grip = bench.grip
    assert grip is not None
    move(bench, (grip.at[0] + 11, grip.at[1] - 11), NONE)
    assert bench.grip is not None
    assert bench.grip.lit
    assert bench.interactor.cursor().shape() == Qt.CursorShape.SizeVerCursor
    qtbot.wait(200)
    assert drawn == []
    move(bench, QPoint(30, 30), NONE)
    assert not bench.grip.lit
    assert bench.interactor.cursor().shape() == Qt.CursorShape.ArrowCursor


# --- the view ----------------------------------------------------------------------------------------


def count_draws(bench: Bench) -> list[int]:
    drawn: list[int] = []
    window = bench.stage.layers.solid.GetRenderWindow()
    window.AddObserver(vtkCommand.EndEvent, lambda *_: drawn.append(1))
    return drawn


def test_many_changes_in_one_turn_are_drawn_once(qtbot: QtBot, bench: Bench) -> None:
    drawn = count_draws(bench)
    for i in range(10):
        bench.show_scene(scene(Look(lift_mm=float(i), ghost_opacity=0.3 + i / 100)))
    bench.fit_view()
    assert drawn == []
    qtbot.waitUntil(lambda: len(drawn) > 0, timeout=PATIENCE_MS)
    QApplication.processEvents()
    assert len(drawn) == 1


def test_a_left_drag_beside_the_grip_turns_and_says_so(bench: Bench) -> None:
    before, said = bench.eye.view, heard(bench)
    moves: list[int] = []
    bench.view_changed.connect(lambda: moves.append(1))
    QTest.mousePress(bench.interactor, LEFT, pos=QPoint(100, 100))
    for i in range(1, 4):
        move(bench, QPoint(100 + 10 * i, 100))
    QTest.mouseRelease(bench.interactor, LEFT, pos=QPoint(130, 100))
    after = bench.eye.view
    assert len(moves) == 3
    assert after.azimuth_deg < before.azimuth_deg
    assert (after.elevation_deg, after.focus_mm) == (before.elevation_deg, before.focus_mm)
    assert said == []


@pytest.mark.parametrize("button", [Qt.MouseButton.RightButton, Qt.MouseButton.MiddleButton, LEFT])
def test_shoving(bench: Bench, button: Qt.MouseButton) -> None:
    """Right, middle, or left with Shift: what was under the pointer goes with it."""
    before = bench.eye.view
    held = SHIFT if button == LEFT else Qt.KeyboardModifier.NoModifier
    QTest.mousePress(bench.interactor, button, held, QPoint(200, 200))
    move(bench, (260, 230), button, held)
    QTest.mouseRelease(bench.interactor, button, held, QPoint(260, 230))
    assert bench.eye.view.axes() == pytest.approx(before.axes())
    middle = seen_by_vtk(bench, before.focus_mm)
    size = bench.interactor.size()
    assert middle == pytest.approx((size.width() / 2 + 60, size.height() / 2 + 30), abs=0.5)


def test_the_wheel_comes_closer_to_what_is_under_it(bench: Bench) -> None:
    corner = (float(OUTER_MM[1, 0]), float(OUTER_MM[0, 1]), 20.0)
    at = seen_by_vtk(bench, corner)
    spot = bench.stage.spot_at(bench.eye, at[0] - 6, at[1], wait=True)
    assert spot is not None
    distance = bench.eye.view.distance_mm
    where = QPointF(at[0] - 6, at[1])
    wheel = QWheelEvent(
        where,
        bench.interactor.mapToGlobal(where),
        QPoint(),
        QPoint(0, 240),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(bench.interactor, wheel)
    assert bench.eye.view.distance_mm < 0.8 * distance
    assert seen_by_vtk(bench, spot.point_mm) == pytest.approx((where.x(), where.y()), abs=0.5)


def test_a_double_click_flies_to_the_place(qtbot: QtBot, bench: Bench) -> None:
    middle = seen_by_vtk(bench, (5.0, 0.0, float(OUTER_MM[1, 2])))
    QTest.mouseDClick(bench.interactor, LEFT, pos=point(middle))
    qtbot.waitUntil(
        lambda: np.allclose(bench.eye.view.focus_mm, (5.0, 0.0, OUTER_MM[1, 2]), atol=0.3),
        timeout=PATIENCE_MS,
    )
    qtbot.wait(400)
    assert bench.eye.mm_per_px(bench.eye.view.focus_mm) < 0.08


def test_views_from_named_sides(qtbot: QtBot, bench: Bench) -> None:
    bench.view_from("top")
    qtbot.waitUntil(lambda: bench.eye.view.elevation_deg == 90.0, timeout=PATIENCE_MS)
    low, high = (seen_by_vtk(bench, (*OUTER_MM[i, :2], 23.0)) for i in (0, 1))
    assert low[0] < high[0]
    assert low[1] > high[1]
    size = bench.interactor.size()
    for x, y in (low, high):
        assert 0 < x < size.width()
        assert 0 < y < size.height()


def test_knobs_behind_a_body_are_told_from_those_before_it(qtbot: QtBot, bench: Bench) -> None:
    on_roof = FeatureKnob("Lid", "at", 0, (12.0, 5.0, 23.0), (0.0, 0.0, 1.0), lift_z=30.0)
    on_floor = FeatureKnob("Feet", "at", 0, (12.0, 5.0, -3.0), (0.0, 0.0, 1.0))
    bench.show_scene(replace(scene(Look(lift_mm=30.0)), knobs=(on_roof, on_floor)))
    seen_from: dict[Standpoint, tuple[FeatureKnob, FeatureKnob]] = {
        "top": (on_roof, on_floor),
        "bottom": (on_floor, on_roof),
    }
    for side, (before, behind) in seen_from.items():
        bench.view_from(side)
        elevation = STANDPOINTS[side][1]
        qtbot.waitUntil(lambda e=elevation: bench.eye.view.elevation_deg == e, timeout=PATIENCE_MS)
        settle(qtbot, bench)
        drawing = bench._overlay.drawing
        assert drawing.handles == (pytest.approx(seen_by_vtk(bench, before.drawn_mm), abs=1e-3),)
        assert drawing.behind == (pytest.approx(seen_by_vtk(bench, behind.drawn_mm), abs=1e-3),)


def test_keys_belong_to_the_window(qtbot: QtBot) -> None:
    class Window(QWidget):
        keys: list[int]

        def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
            self.keys.append(event.key())

    window = Window()
    window.keys = []
    qtbot.addWidget(window)
    bench = Bench(window)
    QVBoxLayout(window).addWidget(bench)
    window.show()
    qtbot.waitExposed(window)
    for key in (Qt.Key.Key_Q, Qt.Key.Key_W, Qt.Key.Key_Escape):
        QTest.keyClick(bench.interactor, key)
    assert window.keys == [Qt.Key.Key_Q, Qt.Key.Key_W, Qt.Key.Key_Escape]
    bench.close()


# --- what is drawn -----------------------------------------------------------------------------------


def test_both_halves_the_ghost_and_the_paper_are_in_the_picture(qtbot: QtBot, bench: Bench) -> None:
    bench.show_scene(scene(Look(lift_mm=25.0)))
    bench.fit_view()
    settle(qtbot, bench)
    picture = bench.snapshot()
    ratio = bench.interactor.devicePixelRatioF()
    assert picture.shape == (round(640 * ratio), round(900 * ratio), 3)
    for corner in (picture[3, 3], picture[3, -3], picture[-3, -3]):
        assert tuple(corner) == (0xEE, 0xF0, 0xEA)  # one flat ground
    assert hue_share(picture, LIGHT.upper) > 0.03
    assert hue_share(picture, LIGHT.lower) > 0.03
    bench.show_scene(scene(Look(lift_mm=25.0, ghost_on=False)))
    without = bench.snapshot()
    changed = (np.abs(picture.astype(int) - without.astype(int)).max(axis=2) > 8).mean()
    assert changed > 0.02
    # The ghost tints towards plum: red and blue rise over green, wherever it is drawn.
    where = np.abs(picture.astype(int) - without.astype(int)).max(axis=2) > 8
    tint = picture[where].astype(float).mean(axis=0) - without[where].astype(float).mean(axis=0)
    assert tint[1] < tint[0] and tint[1] < tint[2]


def test_hidden_halves_are_gone_and_stale_ones_pale(qtbot: QtBot, bench: Bench) -> None:
    plain = Look(ghost_on=False)
    bench.show_scene(scene(plain))
    fresh = bench.snapshot()
    bench.show_scene(scene(Look(ghost_on=False, upper_shown=False)))
    assert hue_share(bench.snapshot(), LIGHT.upper) < 0.1 * hue_share(fresh, LIGHT.upper)
    bench.show_scene(scene(plain, stale=True))
    stale = bench.snapshot()
    assert hue_share(stale, LIGHT.lower) < 0.2 * hue_share(fresh, LIGHT.lower)
    assert (np.abs(stale.astype(int) - [0xEE, 0xF0, 0xEA]).max(axis=2) > 12).mean() > 0.1  # still there


def test_the_dark_twin(bench: Bench) -> None:
    bench.show_scene(scene(Look(dark=True)))
    assert tuple(bench.snapshot()[3, 3]) == tuple(round(255 * c) for c in channels(DARK.paper))


def test_the_ghost_is_seen_through_a_closed_housing(bench: Bench) -> None:
    bench.show_scene(scene(Look(ghost_on=False)))
    without = bench.snapshot().astype(int)
    bench.show_scene(scene())
    difference = np.abs(bench.snapshot().astype(int) - without).max(axis=2)
    ratio = bench.interactor.devicePixelRatioF()
    x, y = (round(v * ratio) for v in seen_by_vtk(bench, (0.0, 0.0, float(OUTER_MM[1, 2]))))
    assert difference[y - 3 : y + 3, x - 3 : x + 3].min() > 8


def test_a_mark_is_drawn_where_it_points(bench: Bench) -> None:
    without = bench.snapshot().astype(int)
    bench.show_scene(scene(Look(mark_mm=(23.0, 0.0, 11.0))))
    changed = np.argwhere(np.abs(bench.snapshot().astype(int) - without).max(axis=2) > 40)
    ratio = bench.interactor.devicePixelRatioF()
    x, y = seen_by_vtk(bench, (23.0, 0.0, 11.0))
    assert changed.mean(axis=0) / ratio == pytest.approx([y, x], abs=1.5)


def test_toggling_the_ghost_touches_the_ghost_alone(bench: Bench) -> None:
    bodies = {name: bench.stage.bodies[name] for name in ("lower", "upper")}

    def times() -> dict[str, list[int]]:
        return {
            name: [
                t for a in body.actors for t in (a.GetMTime(), a.GetMapper().GetMTime(), body.data.GetMTime())
            ]
            for name, body in bodies.items()
        }

    before = times()
    bench.show_scene(scene(Look(ghost_on=False)))
    assert "part-0" not in bench.stage.bodies
    bench.show_scene(scene())
    ghost = bench.stage.bodies["part-0"].actors
    bench.show_scene(scene(Look(ghost_opacity=0.6)))
    assert bench.stage.bodies["part-0"].actors == ghost
    assert {name: bench.stage.bodies[name] for name in bodies} == bodies
    assert times() == before


def test_new_halves_keep_their_actors(qtbot: QtBot, bench: Bench) -> None:
    body = bench.stage.bodies["lower"]
    actors, data = body.actors, body.data
    for z in (9.0, 10.0, 12.5):
        made = halves(z)
        bench.show_scene(scene_of((PART,), made, OUTER_MM, z, Look()))
        assert bench.stage.bodies["lower"] is body
        assert body.actors == actors
        assert body.data is data
        assert data.GetBounds()[5] == pytest.approx(z)
        assert data.GetNumberOfCells() == made["lower"].triangles
    settle(qtbot, bench)
    assert body.dressing is not None
    assert body.dressing.mesh is made["lower"]


# --- pointing ----------------------------------------------------------------------------------------


def test_a_click_while_picking_says_which_flat(qtbot: QtBot, bench: Bench) -> None:
    clicked: list[Spot] = []
    bench.face_clicked.connect(clicked.append)
    at = point(seen_by_vtk(bench, (-8.0, 3.0, 20.0)))
    QTest.mouseClick(bench.interactor, LEFT, pos=at)
    assert clicked == []
    bench.show_scene(scene(Look(pick_faces=True)))
    bench.set_picking(True)
    QTest.mouseClick(bench.interactor, LEFT, pos=at)
    (spot,) = clicked
    assert spot.item == "part-0"
    assert spot.normal == pytest.approx((0, 0, 1))
    assert spot.point_mm == pytest.approx((-8.0, 3.0, 20.0), abs=0.3)
    assert (PART.vertices[PART.faces[spot.face]][:, 2] == 20.0).all()
    QTest.mousePress(bench.interactor, LEFT, pos=at)  # a drag is not a click
    move(bench, at + QPoint(40, 0))
    QTest.mouseRelease(bench.interactor, LEFT, pos=at + QPoint(40, 0))
    assert len(clicked) == 1


def test_a_whole_plane_lights_up_only_where_a_click_means_one(qtbot: QtBot, bench: Bench) -> None:
    bench.show_scene(scene(Look(pick_faces=True)))
    settle(qtbot, bench)
    at = QPointF(point(seen_by_vtk(bench, (-8.0, 3.0, 20.0))))
    for flats in (True, False):
        bench.set_picking(True, flats=flats)
        bench._look_under_pointer(at)
        assert (bench.stage._flat_key is not None) == flats


def test_a_click_beside_all_bodies_is_told_while_something_is_pointed_at(bench: Bench) -> None:
    told: list[bool] = []
    bench.nothing_clicked.connect(lambda: told.append(True))
    QTest.mouseClick(bench.interactor, LEFT, pos=QPoint(5, 5))
    assert not told
    bench.show_scene(scene(Look(mark_mm=(23.0, 0.0, 11.0))))
    QTest.mouseClick(bench.interactor, LEFT, pos=point(seen_by_vtk(bench, (4.0, 2.0, 23.0))))
    assert not told
    QTest.mouseClick(bench.interactor, LEFT, pos=QPoint(5, 5))
    assert told


def test_the_pointer_at_rest_says_what_is_under_it(qtbot: QtBot, bench: Bench) -> None:
    bench.show_scene(scene(Look(lift_mm=10.0)))
    settle(qtbot, bench)
    told: list[Spot | None] = []
    bench.spot_hovered.connect(told.append)
    move(bench, seen_by_vtk(bench, (4.0, 2.0, 33.0)), NONE)
    qtbot.waitUntil(lambda: bool(told), timeout=PATIENCE_MS)
    spot = told[-1]
    assert spot is not None
    assert spot.item == "upper"
    assert spot.point_mm == pytest.approx((4.0, 2.0, 23.0), abs=0.3)  # as if the housing were closed
    assert spot.normal == pytest.approx((0, 0, 1))
    move(bench, QPoint(5, 5), NONE)
    qtbot.waitUntil(lambda: told[-1] is None, timeout=PATIENCE_MS)


# --- the end -----------------------------------------------------------------------------------------


def test_closing_stops_timers_and_lets_go_of_the_bodies(qtbot: QtBot) -> None:
    bench = Bench()
    qtbot.addWidget(bench)
    bench.show()
    qtbot.waitExposed(bench)
    bench.show_scene(scene())
    QApplication.processEvents()
    gone: list[str] = []
    for body in bench.stage.bodies.values():
        for actor in body.actors:
            actor.AddObserver(vtkCommand.DeleteEvent, lambda *_: gone.append("actor"))
    count = sum(len(body.actors) for body in bench.stage.bodies.values())
    del body, actor
    bench.view_from("top")
    bench.close()
    assert len(gone) == count
    from PySide6.QtCore import QTimer

    assert not [timer for timer in bench.findChildren(QTimer) if timer.isActive()]
    bench.show_scene(scene(z_mm=5.0))  # late news is no trouble
    bench.close()


def test_dense_screens(tmp_path: Path) -> None:
    """The grip and the pictures once more at two device pixels to one, in a process of its own."""
    names = "grip_says or catches or knob or in_the_picture or mark or wheel or click_while"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", __file__, "-k", names],
        env={**os.environ, "QT_SCALE_FACTOR": "2"},
        cwd=Path(__file__).resolve().parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-4000:]
    assert "8 passed" in done.stdout


def test_a_scene_shown_before_the_window_is_fitted_when_it_is(qtbot: QtBot) -> None:
    bench = Bench()
    qtbot.addWidget(bench)
    bench.show_scene(scene())
    bench.resize(900, 640)
    bench.show()
    qtbot.waitExposed(bench)
    frame = bench.stage.scene.plane
    assert isinstance(frame, PlaneFrame)
    for x, y in frame.corners:
        px = bench.eye.pixels(np.array([x, y, Z_MM]))[0]
        assert 0 < px[0] < 900
        assert 0 < px[1] < 640
    bench.close()
