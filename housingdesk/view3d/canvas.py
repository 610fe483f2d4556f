"""The bench: the widget that shows a ``Scene`` and turns the mouse into signals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEasingCurve, QEvent, QObject, QPointF, Qt, QTimer, QVariantAnimation, Signal
from PySide6.QtGui import QCloseEvent, QImage
from PySide6.QtWidgets import QVBoxLayout, QWidget
from pyvistaqt import QtInteractor
from vtkmodules.vtkCommonCore import vtkCommand

from housingdesk.view3d.arrows import arrows_seen
from housingdesk.view3d.bodies import Dressing
from housingdesk.view3d.camera import Eye, Standpoint, View
from housingdesk.view3d.grip import Drag, Grip, grip_of
from housingdesk.view3d.hand import Hand
from housingdesk.view3d.handles import FeatureKnob, KnobDrag, seen, take, under
from housingdesk.view3d.knob import CutDrag, knob_under, knobs_of, take_knob
from housingdesk.view3d.overlay import Drawing, HandlesDrawn, Overlay
from housingdesk.view3d.scene import Point, Scene, Spot
from housingdesk.view3d.stage import Stage
from housingdesk.view3d.tailor import Tailor

REST_MS = 160  # nothing has moved for this long: draw finely again
DRESS_MS = 120  # a mesh has stood for this long: work out its edges
FLIGHT_MS = 260
_ARMS = ("X, right", "Y, back", "Z, roof")  # the sides have the names that the job card gives them


class Bench(QWidget):
    """The 3D view.

    Signals
    -------
    plane_drag_began, plane_dragged(z_mm), plane_drag_ended(z_mm) : the grip taken, moved and let go;
        given back (Esc) it is moved and let go where it began.
    cut_dragged(offset_mm) : a knob of the cutting line is dragged.
    spot_hovered(Spot or None) : what is under the resting pointer.
    face_clicked(Spot), face_added(Spot) : while picking is on; added with Shift held.
    handle_taken(FeatureKnob), handle_dragged(FeatureKnob, place), handle_left() : a feature's knob; the
        place is (x, y, z) in the build frame.
    view_changed : the viewer has moved.
    """

    plane_drag_began = Signal()
    plane_dragged = Signal(float)
    plane_drag_ended = Signal(float)
    cut_dragged = Signal(float)
    spot_hovered = Signal(object)
    face_clicked = Signal(object)
    face_added = Signal(object)
    handle_taken = Signal(object)
    handle_dragged = Signal(object, object)
    handle_left = Signal()
    view_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._view = View()
        self._fit_due = True
        self._drag: Drag | None = None
        self._cut_drag: CutDrag | None = None
        self._handle_drag: KnobDrag | None = None
        self._over_handle: FeatureKnob | None = None
        self._hint = ""
        self._pointer: tuple[float, float] = (0.0, 0.0)
        self._over_knob = False
        self._pending_z: float | None = None
        self._over_grip = False
        self._picking = False
        self._snaps: tuple[float, ...] = ()
        self._closed = False

        self._interactor = QtInteractor(self, auto_update=False, multi_samples=0)
        self._interactor.setAcceptDrops(False)  # files are dropped on the window
        self._interactor.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._interactor.installEventFilter(self)
        self._hand = Hand(self._interactor, self._holds_something)
        self._listen(self._hand)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._interactor)
        self._overlay = Overlay(self._interactor)
        self.setMinimumSize(240, 200)

        window = self._interactor.render_window
        assert window is not None  # pyvista lets go of it on closing only
        self._window = window
        self._stage = Stage(self._window, self._interactor.renderer)
        self._smoothing_due = True
        self._observer = self._window.AddObserver(vtkCommand.EndEvent, self._drawn)

        self._rest = _once(self, REST_MS, self._come_to_rest)
        self._dress = _once(self, DRESS_MS, self._start_dressing)
        self._tailor = Tailor(self)
        self._tailor.done.connect(self._take_dressing)
        self._flight = QVariantAnimation(self)
        self._flight.setStartValue(0.0)
        self._flight.setEndValue(1.0)
        self._flight.setDuration(FLIGHT_MS)
        self._flight.setEasingCurve(QEasingCurve.Type.InOutCubic)
        self._flight.valueChanged.connect(self._fly_on)
        self._flight_ends = (self._view, self._view)

    # What others ask of the bench ---------------------------------------------------------------

    @property
    def interactor(self) -> QWidget:
        """The widget that receives the mouse."""
        return self._interactor

    @property
    def stage(self) -> Stage:
        """What is drawn; for tests and pictures."""
        return self._stage

    @property
    def eye(self) -> Eye:
        """The viewer and the picture's size in logical pixels."""
        return Eye(self._view, max(self._interactor.width(), 1), max(self._interactor.height(), 1))

    @property
    def grip(self) -> Grip | None:
        """The grip as drawn, or None without a plane."""
        return self._overlay.drawing.grip

    def show_scene(self, scene: Scene) -> None:
        """Show a scene, changing only what differs from the last."""
        old = self._stage.scene
        if scene == old and self._pending_z is None:
            return
        if self._drag is not None and scene.plane is None:
            self._drag = None
            self._hand.drop_grip()
        if self._cut_drag is not None and scene.cut is None:
            self._cut_drag = None
            self._hand.drop_grip()
        if self._drag is None:
            self._pending_z = None
        self._stage.show(scene)
        if self._shown_z() is not None:
            self._stage.set_frame_z(self._shown_z() or 0.0)
        if self._fit_due and scene.items:
            self.fit_view()
        if any(body.wants_dressing() for body in self._stage.bodies.values()):
            self._dress.start()
        self._redraw()

    def fit_view(self) -> None:
        """Show everything, from where the viewer looks."""
        self._fit_due = not self._stage.scene.items
        self._set_view(self.eye.fitted(self._stage.bounds_mm()))

    def fly_to(self, point_mm: Point) -> None:
        """Bring a place to the middle and come near, without turning."""
        near = 0.35 * self.eye.fitted(self._stage.bounds_mm()).distance_mm
        self._fly(replace(self._view, focus_mm=point_mm, distance_mm=min(self._view.distance_mm, near)))

    def view_from(self, standpoint: Standpoint) -> None:
        """Look at everything from a named side."""
        turned = Eye(self._view.towards(standpoint), self.eye.width, self.eye.height)
        self._fly(turned.fitted(self._stage.bounds_mm()))

    def set_snaps(self, heights_mm: tuple[float, ...]) -> None:
        """Heights at which the plane catches while it is dragged, mm in the build frame."""
        self._snaps = tuple(sorted(heights_mm))

    def set_picking(self, picking: bool) -> None:
        """Whether a click chooses a flat of a body."""
        self._picking = picking
        if not picking and self._stage.highlight(None):
            self._redraw()
        self._show_cursor()

    def set_hint(self, words: str) -> None:
        """Words beside the pointer; none for an empty string."""
        if words != self._hint:
            self._hint = words
            self._overlay.draw(self._drawing())

    def snapshot(self) -> NDArray[np.uint8]:
        """Return the bench as it is on screen, (height, width, 3) in device pixels."""
        self._mark_due()
        image = self._interactor.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
        rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
        return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).copy()

    # Drawing ------------------------------------------------------------------------------------

    def _redraw(self) -> None:
        """Ask for one new picture; Qt answers once a turn of the event loop, however often asked."""
        if self._closed:
            return
        self._stage.set_line_scale(self._interactor.devicePixelRatioF())
        self._stage.set_eye(self.eye)
        self._overlay.draw(self._drawing())
        self._mark_due()
        self._interactor.update()

    def _mark_due(self) -> None:
        """Let the next paint draw in 3D; others only show the last picture again."""
        self._interactor.iren.interactor.EnableRenderOn()

    def _drawn(self, _window: object, _event: str) -> None:
        self._interactor.iren.interactor.EnableRenderOff()
        if self._smoothing_due:
            self._smoothing_due = False
            self._stage.smooth()
            self._rest.start()

    def _drawing(self) -> Drawing:
        scene, eye, z = self._stage.scene, self.eye, self._shown_z()
        plane = scene.plane
        marks = eye.pixels(np.array(scene.marks)) if scene.marks else np.zeros((0, 3))
        axes = self._view.axes()
        order = np.argsort(axes[2])  # the arm that points at the viewer last
        grip = None
        if plane is not None and z is not None:
            grip = grip_of(eye, plane, z, self._over_grip, self._drag, self._snaps)
        return Drawing(
            grip=grip,
            marks=tuple((float(m[0]), float(m[1])) for m in marks if m[2] > 0),
            compass=tuple((_ARMS[i], (float(axes[0, i]), -float(axes[1, i]))) for i in order),
            palette=scene.palette,
            knobs=knobs_of(eye, scene.cut) if scene.cut else (),
            held=self._over_knob or self._cut_drag is not None,
            **self._drawn_handles(),
            arrows=arrows_seen(eye, scene.arrows),
            legend=scene.legend,
            hint=(self._hint, self._pointer) if self._hint else None,
        )

    def _drawn_handles(self) -> HandlesDrawn:
        held = self._handle_drag.now if self._handle_drag else self._over_handle
        others = [k for k in self._stage.scene.knobs if held is None or not k.same(held)]
        lit = seen(self.eye, (held,) if held else ())
        return {"handles": seen(self.eye, others), "lit": lit[0] if lit else None}

    def _shown_z(self) -> float | None:
        """Height the frame is drawn at: where the mouse has it, else where the scene has it."""
        if self._drag is not None:
            return self._drag.z_mm
        if self._pending_z is not None:
            return self._pending_z
        plane = self._stage.scene.plane
        return plane.z_mm if plane else None

    # The view -----------------------------------------------------------------------------------

    def _set_view(self, view: View) -> None:
        if view == self._view:
            return
        self._view = view
        self._redraw()
        self.view_changed.emit()

    def _move_view(self, view: View) -> None:
        """Change the view by hand: coarse until it rests."""
        self._flight.stop()
        self._stage.set_moving(True)
        self._rest.start()
        self._set_view(view)

    def _fly(self, target: View) -> None:
        self._flight.stop()
        if not self._interactor.isVisible():
            self._set_view(target)
            return
        self._flight_ends = (self._view, target)
        self._flight.start()

    def _fly_on(self, share: float) -> None:
        start, end = self._flight_ends
        self._stage.set_moving(share < 1.0)
        self._set_view(end if share >= 1.0 else start.between(end, share))
        if share >= 1.0:
            self._redraw()

    def _come_to_rest(self) -> None:
        if not self._hand.busy:
            self._stage.set_moving(False)
            self._redraw()
        else:
            self._rest.start()

    # Dressing -----------------------------------------------------------------------------------

    def _start_dressing(self) -> None:
        if self._drag is not None:
            self._dress.start()
            return
        for body in self._stage.bodies.values():
            if body.wants_dressing():
                self._tailor.make(body.item.mesh, body.item.edges)

    def _take_dressing(self, dressing: Dressing) -> None:
        taken = [body.put_on(dressing) for body in self._stage.bodies.values()]
        if any(taken):
            self._redraw()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep up with the picture's size; the mouse is the hand's."""
        kinds = (QEvent.Type.Resize, QEvent.Type.Show, QEvent.Type.DevicePixelRatioChange)
        if watched is self._interactor and event.type() in kinds:
            self._overlay.setGeometry(self._interactor.rect())
            if self._fit_due and self._stage.scene.items:
                self.fit_view()
            self._redraw()
        return False

    # What the hand does -------------------------------------------------------------------------

    def _listen(self, hand: Hand) -> None:
        hand.turned.connect(self._turn)
        hand.shoved.connect(self._shove)
        hand.came_closer.connect(self._come_closer)
        hand.double_clicked.connect(self._fly_to_pixel)
        hand.clicked.connect(self._click)
        hand.grip_taken.connect(self._take_grip)
        hand.grip_moved.connect(self._move_grip)
        hand.grip_left.connect(self._leave_grip)
        hand.grip_given_back.connect(self._give_grip_back)
        hand.pointed.connect(self._point)
        hand.rested.connect(self._look_under_pointer)
        hand.left.connect(self._forget_pointer)

    def _turn(self, dx: float, dy: float) -> None:
        self._move_view(self._view.turned(dx, dy))

    def _shove(self, dx: float, dy: float) -> None:
        self._move_view(self.eye.shifted(dx, dy))

    def _point(self, at: QPointF) -> None:
        self._pointer = (at.x(), at.y())
        on_grip = self._on_grip(at)
        handle = None if on_grip else self._handle_at(at)
        self._light(on_grip, not on_grip and handle is None and self._on_knob(at), handle)
        if self._hint:
            self._overlay.draw(self._drawing())

    def _come_closer(self, at: QPointF, factor: float) -> None:
        spot = self._spot(at, wait=False)
        target = self._drawn_at(spot) if spot else self.eye.on_focus_plane(at.x(), at.y())
        self._move_view(self._view.closer(target, factor))

    def _fly_to_pixel(self, at: QPointF) -> None:
        spot = None if self._picking else self._spot(at, wait=True)
        if spot is not None:
            self.fly_to(self._drawn_at(spot))

    def _click(self, at: QPointF, adding: bool) -> None:
        spot = self._spot(at, wait=True) if self._picking else None
        if spot is not None:
            (self.face_added if adding else self.face_clicked).emit(spot)

    def _look_under_pointer(self, at: QPointF) -> None:
        held = self._over_grip or self._over_knob or self._over_handle is not None
        within = self._interactor.rect().contains(at.toPoint()) and not held
        spot = self._spot(at, wait=False) if within else None
        if self._picking and self._stage.highlight(spot):
            self._redraw()
        self.spot_hovered.emit(spot)

    def _forget_pointer(self) -> None:
        self._light(False, False, None)
        if self._picking and self._stage.highlight(None):
            self._redraw()
        self.spot_hovered.emit(None)

    def _spot(self, at: QPointF, wait: bool) -> Spot | None:
        return self._stage.spot_at(self.eye, at.x(), at.y(), wait)

    def _drawn_at(self, spot: Spot) -> Point:
        x, y, z = spot.point_mm
        return x, y, z + self._stage.bodies[spot.item].item.lift_z

    # The grip -----------------------------------------------------------------------------------

    def _on_grip(self, at: QPointF) -> bool:
        return not self._picking and self.grip is not None and self.grip.holds((at.x(), at.y()))

    def _on_knob(self, at: QPointF) -> bool:
        frame = self._stage.scene.cut
        return frame is not None and knob_under(self.eye, frame, (at.x(), at.y())) is not None

    def _holds_something(self, at: QPointF) -> bool:
        return self._on_grip(at) or self._handle_at(at) is not None or self._on_knob(at)

    def _handle_at(self, at: QPointF) -> FeatureKnob | None:
        return None if self._picking else under(self.eye, self._stage.scene.knobs, (at.x(), at.y()))

    def _light(self, grip: bool, knob: bool, handle: FeatureKnob | None) -> None:
        if (grip, knob, handle) != (self._over_grip, self._over_knob, self._over_handle):
            if handle != self._over_handle:
                self.set_hint(handle.label if handle else "")
            self._over_grip, self._over_knob, self._over_handle = grip, knob, handle
            self._overlay.draw(self._drawing())
            self._show_cursor()

    def _take_grip(self, at: QPointF) -> None:
        if not self._on_grip(at):
            if not self._take_handle(at):
                self._take_knob(at)
            return
        grip, z = self.grip, self._shown_z()
        assert grip is not None and z is not None  # the hand has just found it
        self._flight.stop()
        self._drag = Drag(grip.anchor, z, z, (at.x() - grip.at[0], at.y() - grip.at[1]))
        self._stage.set_moving(True)
        self._show_cursor()
        self.plane_drag_began.emit()
        self._redraw()

    def _move_grip(self, at: QPointF, free: bool) -> None:
        plane, cut = self._stage.scene.plane, self._stage.scene.cut
        if self._handle_drag is not None:
            self._pointer = (at.x(), at.y())
            self._set_handle_drag(self._handle_drag.moved(self.eye, (at.x(), at.y()), free))
        elif self._cut_drag is not None and cut is not None:
            self._set_cut_drag(self._cut_drag.moved(self.eye, cut, (at.x(), at.y()), free))
        elif self._drag is not None and plane is not None:
            self._set_drag(self._drag.moved(self.eye, plane, self._snaps, (at.x(), at.y()), free))

    def _set_drag(self, drag: Drag) -> None:
        old, self._drag = self._drag, drag
        if old is None or old == drag:
            return
        self._stage.set_frame_z(drag.z_mm)
        self._redraw()
        if old.z_mm != drag.z_mm:
            self.plane_dragged.emit(drag.z_mm)

    def _take_handle(self, at: QPointF) -> bool:
        self._handle_drag = take(self.eye, self._stage.scene.knobs, (at.x(), at.y()))
        if self._handle_drag is None:
            return False
        self._flight.stop()
        self._stage.set_moving(True)
        self.handle_taken.emit(self._handle_drag.knob)
        self._redraw()
        return True

    def _set_handle_drag(self, drag: KnobDrag) -> None:
        old, self._handle_drag = self._handle_drag, drag
        if old is not None and old.at_mm != drag.at_mm:
            self._overlay.draw(self._drawing())
            self.handle_dragged.emit(drag.knob, drag.at_mm)

    def _take_knob(self, at: QPointF) -> None:
        frame = self._stage.scene.cut
        assert frame is not None  # the hand has just found its knob
        self._flight.stop()
        self._cut_drag = take_knob(self.eye, frame, (at.x(), at.y()))
        self._stage.set_moving(True)
        self._redraw()

    def _set_cut_drag(self, drag: CutDrag) -> None:
        old, self._cut_drag = self._cut_drag, drag
        if old is not None and old.offset_mm != drag.offset_mm:
            self.cut_dragged.emit(drag.offset_mm)

    def _give_grip_back(self) -> None:
        if self._handle_drag is not None:
            self._set_handle_drag(self._handle_drag.given_back())
            self._leave_grip()
        if self._cut_drag is not None:
            self._set_cut_drag(self._cut_drag.given_back())
            self._leave_grip()
        if self._drag is not None:
            self._set_drag(self._drag.given_back())
            self._leave_grip()

    def _leave_grip(self) -> None:
        """End the drag; the frame stays at its last height until the next scene says otherwise."""
        if self._cut_drag is not None or self._handle_drag is not None:
            handle, self._cut_drag, self._handle_drag = self._handle_drag, None, None
            self._rest.start()
            self._redraw()
            if handle is not None:
                self.handle_left.emit()
        if self._drag is None:
            return
        z, plane = self._drag.z_mm, self._stage.scene.plane
        self._drag = None
        self._pending_z = z if plane is not None and plane.z_mm != z else None
        self._rest.start()
        self._show_cursor()
        self._redraw()
        self.plane_drag_ended.emit(z)

    def _show_cursor(self) -> None:
        if self._drag is not None or self._over_grip:
            shape = Qt.CursorShape.SizeVerCursor
        elif self._over_knob or self._over_handle or self._cut_drag or self._handle_drag:
            shape = Qt.CursorShape.SizeAllCursor
        elif self._picking:
            shape = Qt.CursorShape.CrossCursor
        else:
            shape = Qt.CursorShape.ArrowCursor
        self._interactor.setCursor(shape)

    # The end ------------------------------------------------------------------------------------

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop threads and timers and give the graphics back."""
        if not self._closed:
            self._closed = True
            for timer in (self._rest, self._dress):
                timer.stop()
            self._flight.stop()
            self._tailor.stop()
            self._hand.stop()
            self._interactor.removeEventFilter(self)
            self._window.RemoveObserver(self._observer)
            self._stage.clear()
            self._interactor.close()
        super().closeEvent(event)


def _once(owner: QWidget, after_ms: int, call: Callable[[], None]) -> QTimer:
    timer = QTimer(owner)
    timer.setSingleShot(True)
    timer.setInterval(after_ms)
    timer.timeout.connect(call)
    return timer
