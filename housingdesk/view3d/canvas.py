"""The bench: the widget that shows a ``Scene`` and turns the mouse into signals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import (
    QEasingCurve,
    QEvent,
    QObject,
    QPointF,
    Qt,
    QTimer,
    QVariantAnimation,
    Signal,
)
from PySide6.QtGui import QCloseEvent, QImage, QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget
from pyvistaqt import QtInteractor
from vtkmodules.vtkCommonCore import vtkCommand
from vtkmodules.vtkRenderingCore import vtkRenderWindow

from housingdesk.view3d.bodies import Dressing
from housingdesk.view3d.camera import Eye, Standpoint, View
from housingdesk.view3d.grip import Drag, Grip, grip_of
from housingdesk.view3d.overlay import Drawing, Overlay
from housingdesk.view3d.scene import Point, Scene, Spot
from housingdesk.view3d.stage import Stage
from housingdesk.view3d.tailor import Tailor

CLICK_PX = 4.0  # a press that moves less is a click
REST_MS = 160  # nothing has moved for this long: draw finely again
DRESS_MS = 120  # a mesh has stood for this long: work out its edges
HOVER_MS = 40
FLIGHT_MS = 260
WHEEL_FACTOR = 0.86  # of the distance, per notch

Button = Qt.MouseButton


class Bench(QWidget):
    """The 3D view.

    Signals
    -------
    plane_drag_began, plane_dragged(z_mm), plane_drag_ended(z_mm) : the grip taken, moved and let go;
        given back (Esc) it is moved and let go where it began.
    spot_hovered(Spot or None) : what is under the resting pointer.
    face_clicked(Spot) : while picking is on.
    view_changed : the viewer has moved.
    """

    plane_drag_began = Signal()
    plane_dragged = Signal(float)
    plane_drag_ended = Signal(float)
    spot_hovered = Signal(object)
    face_clicked = Signal(object)
    view_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._view = View()
        self._fit_due = True
        self._drag: Drag | None = None
        self._pending_z: float | None = None
        self._over_grip = False
        self._picking = False
        self._snaps: tuple[float, ...] = ()
        self._pressed: tuple[Qt.MouseButton, QPointF] | None = None
        self._last = QPointF()
        self._hover_at = QPointF()
        self._closed = False

        self._interactor = QtInteractor(self, auto_update=False, multi_samples=0)
        self._interactor.setAcceptDrops(False)  # files are dropped on the window
        self._interactor.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._interactor.installEventFilter(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._interactor)
        self._overlay = Overlay(self._interactor)
        self.setMinimumSize(240, 200)

        self._window: vtkRenderWindow = self._interactor.ren_win
        self._stage = Stage(self._window, self._interactor.renderer)
        self._smoothing_due = True
        self._observer = self._window.AddObserver(vtkCommand.EndEvent, self._drawn)

        self._rest = _once(self, REST_MS, self._come_to_rest)
        self._dress = _once(self, DRESS_MS, self._start_dressing)
        self._hover = _once(self, HOVER_MS, self._look_under_pointer)
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
            compass=tuple(("XYZ"[i], (float(axes[0, i]), -float(axes[1, i]))) for i in order),
            palette=scene.palette,
        )

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
        if self._drag is None and self._pressed is None:
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

    # The mouse ----------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Answer the events of the picture; nothing of them reaches VTK's own handling."""
        if watched is not self._interactor or self._closed:
            return False
        kind = event.type()
        if kind in (QEvent.Type.Resize, QEvent.Type.Show, QEvent.Type.DevicePixelRatioChange):
            self._overlay.setGeometry(self._interactor.rect())
            if self._fit_due and self._stage.scene.items:
                self.fit_view()
            self._redraw()
            return False
        answer = self._answers().get(kind)
        if answer is None:
            return False
        return answer(event)

    def _answers(self) -> dict[QEvent.Type, Callable[[QEvent], bool]]:
        kind = QEvent.Type
        return {
            kind.MouseButtonPress: self._press,
            kind.MouseMove: self._move,
            kind.MouseButtonRelease: self._release,
            kind.MouseButtonDblClick: self._double_click,
            kind.Wheel: self._wheel,
            kind.NativeGesture: self._pinch,
            kind.Leave: self._leave,
            kind.KeyPress: self._key,
            kind.KeyRelease: self._key,
            kind.ShortcutOverride: self._key,
        }

    def _press(self, event: QEvent) -> bool:
        assert isinstance(event, QMouseEvent)
        self._interactor.setFocus(Qt.FocusReason.MouseFocusReason)
        if self._pressed is not None:
            return True  # a second button while one is down
        at = event.position()
        self._flight.stop()
        self._pressed = (event.button(), at)
        self._last = at
        grip = self.grip
        if event.button() == Button.LeftButton and grip is not None and self._on_grip(at):
            self._take_grip(grip, at)
        self._show_cursor()
        return True

    def _move(self, event: QEvent) -> bool:
        assert isinstance(event, QMouseEvent)
        at = event.position()
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._drag is not None:
            plane = self._stage.scene.plane
            assert plane is not None  # a scene without one ends the drag
            self._drag_moved(self._drag.moved(self.eye, plane, self._snaps, (at.x(), at.y()), free=shift))
        elif self._pressed is None:
            self._point_at(at)
        else:
            dx, dy = at.x() - self._last.x(), at.y() - self._last.y()
            if self._pressed[0] == Button.LeftButton and not shift:
                self._move_view(self._view.turned(dx, dy))
            else:
                self._move_view(self.eye.shifted(dx, dy))
        self._last = at
        return True

    def _release(self, event: QEvent) -> bool:
        assert isinstance(event, QMouseEvent)
        if self._pressed is None or event.button() != self._pressed[0]:
            return True
        button, began = self._pressed
        self._pressed = None
        at = event.position()
        if self._drag is not None:
            self._let_go(self._drag.z_mm)
        elif self._picking and button == Button.LeftButton and (at - began).manhattanLength() <= CLICK_PX:
            spot = self._stage.spot_at(self.eye, at.x(), at.y(), wait=True)
            if spot is not None:
                self.face_clicked.emit(spot)
        self._point_at(at)
        self._show_cursor()
        return True

    def _double_click(self, event: QEvent) -> bool:
        assert isinstance(event, QMouseEvent)
        at = event.position()
        if event.button() != Button.LeftButton or self._picking or self._on_grip(at):
            return self._press(event)
        spot = self._stage.spot_at(self.eye, at.x(), at.y(), wait=True)
        if spot is not None:
            self.fly_to(self._drawn_at(spot))
        return True

    def _wheel(self, event: QEvent) -> bool:
        assert isinstance(event, QWheelEvent)
        notches = event.angleDelta().y() / 120.0
        if notches and self._drag is None:
            self._come_closer(event.position(), WHEEL_FACTOR**notches)
        return True

    def _pinch(self, event: QEvent) -> bool:
        assert isinstance(event, QNativeGestureEvent)
        if event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture and self._drag is None:
            self._come_closer(event.position(), 1.0 / max(1.0 + event.value(), 0.2))
        return True

    def _come_closer(self, at: QPointF, factor: float) -> None:
        spot = self._stage.spot_at(self.eye, at.x(), at.y(), wait=False)
        target = self._drawn_at(spot) if spot else self.eye.on_focus_plane(at.x(), at.y())
        self._move_view(self._view.closer(target, factor))

    def _drawn_at(self, spot: Spot) -> Point:
        x, y, z = spot.point_mm
        return x, y, z + self._stage.bodies[spot.item].item.lift_z

    def _leave(self, _event: QEvent) -> bool:
        self._hover.stop()
        self._light_grip(False)
        self.spot_hovered.emit(None)
        return True

    def _key(self, event: QEvent) -> bool:
        assert isinstance(event, QKeyEvent)
        giving_back = self._drag is not None and event.key() == Qt.Key.Key_Escape
        if giving_back and event.type() == QEvent.Type.KeyPress and self._drag is not None:
            self._drag_moved(self._drag.given_back())
            self._let_go(self._drag.began_z)
        event.setAccepted(giving_back)  # all other keys belong to the window
        return True

    # The grip -----------------------------------------------------------------------------------

    def _take_grip(self, grip: Grip, at: QPointF) -> None:
        z = self._shown_z()
        assert z is not None
        self._drag = Drag(grip.anchor, z, z, (at.x() - grip.at[0], at.y() - grip.at[1]))
        self._stage.set_moving(True)
        self._hover.stop()
        self.plane_drag_began.emit()
        self._redraw()

    def _drag_moved(self, drag: Drag) -> None:
        old, self._drag = self._drag, drag
        if old is None or old == drag:
            return
        self._stage.set_frame_z(drag.z_mm)
        self._redraw()
        if old.z_mm != drag.z_mm:
            self.plane_dragged.emit(drag.z_mm)

    def _let_go(self, z_mm: float) -> None:
        """End the drag; the frame stays at its last height until the next scene says otherwise."""
        plane = self._stage.scene.plane
        self._drag = None
        self._pending_z = z_mm if plane is not None and plane.z_mm != z_mm else None
        self._rest.start()
        self._redraw()
        self.plane_drag_ended.emit(z_mm)

    # The pointer at rest ------------------------------------------------------------------------

    def _point_at(self, at: QPointF) -> None:
        self._light_grip(self._on_grip(at))
        self._hover_at = at
        if not self._hover.isActive():
            self._hover.start()

    def _look_under_pointer(self) -> None:
        if self._drag is not None or self._pressed is not None:
            return
        at = self._hover_at
        spot = None
        if not self._over_grip and self._interactor.rect().contains(at.toPoint()):
            spot = self._stage.spot_at(self.eye, at.x(), at.y(), wait=False)
        if self._picking and self._stage.highlight(spot):
            self._redraw()
        self.spot_hovered.emit(spot)

    def _on_grip(self, at: QPointF) -> bool:
        return not self._picking and self.grip is not None and self.grip.holds((at.x(), at.y()))

    def _light_grip(self, lit: bool) -> None:
        if lit != self._over_grip:
            self._over_grip = lit
            self._overlay.draw(self._drawing())
            self._show_cursor()

    def _show_cursor(self) -> None:
        if self._drag is not None or self._over_grip:
            shape = Qt.CursorShape.SizeVerCursor
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
            for timer in (self._rest, self._dress, self._hover):
                timer.stop()
            self._flight.stop()
            self._tailor.stop()
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
