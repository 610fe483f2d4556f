"""The bench: the widget that shows a ``Scene`` and turns the mouse into signals."""

from __future__ import annotations

import numpy as np
import shiboken6
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QObject, QPointF, Qt, Signal
from PySide6.QtGui import QCloseEvent, QImage
from PySide6.QtWidgets import QVBoxLayout, QWidget
from pyvistaqt import QtInteractor
from vtkmodules.vtkCommonCore import vtkCommand

from housingdesk.view3d.camera import Eye, Standpoint
from housingdesk.view3d.drawing import drawing_of
from housingdesk.view3d.dresser import Dresser
from housingdesk.view3d.flight import Flight
from housingdesk.view3d.grip import Drag, Grip, Pixel
from housingdesk.view3d.hand import Hand
from housingdesk.view3d.handles import FeatureKnob, KnobDrag
from housingdesk.view3d.holding import Holding
from housingdesk.view3d.overlay import Overlay
from housingdesk.view3d.scene import Point, Scene, Spot
from housingdesk.view3d.stage import Stage


class Bench(QWidget):
    """The 3D view.

    Signals
    -------
    plane_drag_began, plane_dragged(z_mm), plane_drag_ended(z_mm) : the grip taken, moved and let go;
        given back (Esc) it is moved and let go where it began.
    cut_dragged(offset_mm) : a knob of the cutting line is dragged.
    nothing_clicked : a click beside all bodies, while a place is marked or picking is on.
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
    nothing_clicked = Signal()
    face_clicked = Signal(object)
    face_added = Signal(object)
    handle_taken = Signal(object)
    handle_dragged = Signal(object, object)
    handle_left = Signal()
    view_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._fit_due = True
        self._lights_flats = False
        self._hint = ""
        self._pointer: Pixel = (0.0, 0.0)
        self._hidden: tuple[FeatureKnob, ...] = ()  # knobs with a body before them
        self._closed = False

        self._interactor = QtInteractor(self, auto_update=False, multi_samples=0)
        self._interactor.setAcceptDrops(False)  # files are dropped on the window
        self._interactor.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._interactor.installEventFilter(self)
        self._holding = Holding(self._sight, self)
        self._hand = Hand(self._interactor, self._holding.can_take)
        self._flight = Flight(self._size, self._is_held, self)
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

        self._dresser = Dresser(self._stage, self._moves_plane, self)
        self._listen()

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
        return self._flight.eye

    @property
    def grip(self) -> Grip | None:
        """The grip as drawn, or None without a plane."""
        return self._overlay.drawing.grip

    def show_scene(self, scene: Scene) -> None:
        """Show a scene, changing only what differs from the last."""
        old = self._stage.scene
        if scene == old and not self._holding.waits_for_scene:
            return
        if self._holding.follow(scene):
            self._hand.drop_grip()
        self._stage.show(scene)
        self._draw_frame()
        if self._fit_due and scene.items:
            self.fit_view()
        self._dresser.look()
        self._redraw()

    @property
    def sees_all(self) -> bool:
        """Whether everything that is drawn lies within the picture."""
        return self.eye.holds(self._stage.bounds_mm())

    @property
    def may_go_back(self) -> bool:
        """Whether nobody minds when more comes into view: all was shown, and no hand is on the bench."""
        return self._flight.shows_all and not self._hand.busy

    def begin_view(self) -> None:
        """Stand where one stands at first, and show everything as soon as there is anything."""
        self._flight.begin()
        self.fit_view()

    def fit_view(self) -> None:
        """Show everything, from where the viewer looks."""
        self._fit_due = not self._stage.scene.items
        self._flight.fit(self._stage.bounds_mm())

    def fly_back(self) -> None:
        """Go back, without turning, until everything is seen."""
        at_once = not self._interactor.isVisible()
        self._flight.fit(self._stage.bounds_mm(), at_once=at_once)

    def fly_to(self, point_mm: Point) -> None:
        """Bring a place to the middle and come near, turned only where it lies on the far side."""
        self._flight.fly_to(point_mm, self._stage.bounds_mm(), at_once=not self._interactor.isVisible())

    def view_from(self, standpoint: Standpoint) -> None:
        """Look at everything from a named side."""
        self._flight.look_from(standpoint, self._stage.bounds_mm(), at_once=not self._interactor.isVisible())

    def set_snaps(self, heights_mm: tuple[float, ...]) -> None:
        """Heights at which the plane catches while it is dragged, mm in the build frame."""
        self._holding.snaps_mm = tuple(sorted(heights_mm))

    def set_picking(self, picking: bool, *, flats: bool = True) -> None:
        """Whether a click chooses something of a body; ``flats``: a whole plane, which then lights up."""
        self._holding.picking = picking
        self._lights_flats = picking and flats
        if not self._lights_flats and self._stage.highlight(None):
            self._redraw()
        self._show_cursor()

    def set_hint(self, words: str) -> None:
        """Words beside the pointer; none for an empty string."""
        if words != self._hint:
            self._hint = words
            self._draw_flat()

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
        self._look_for_hidden_knobs()
        self._draw_flat()
        self._mark_due()
        self._interactor.update()

    def _look_for_hidden_knobs(self) -> None:
        knobs = self._stage.scene.knobs
        places = np.array([knob.drawn_mm for knob in knobs])
        self._hidden = tuple(
            k for k, hides in zip(knobs, self._stage.hidden(self.eye, places), strict=True) if hides
        )

    def _mark_due(self) -> None:
        """Let the next paint draw in 3D; others only show the last picture again."""
        self._interactor.iren.interactor.EnableRenderOn()

    def _drawn(self, _window: object, _event: str) -> None:
        self._interactor.iren.interactor.EnableRenderOff()
        if self._smoothing_due:
            self._smoothing_due = False
            self._stage.smooth()
            self._flight.rest_soon()

    def _draw_flat(self) -> None:
        holding, words = self._holding, self._words
        drawing = drawing_of(
            *self._sight(),
            grip=holding.grip,
            handle=holding.handle,
            hidden=self._hidden,
            on_cut=holding.on_cut,
            hint=(words, self._pointer) if words else None,
        )
        self._overlay.draw(drawing)

    @property
    def _words(self) -> str:
        """What is said beside the pointer: what a knob is called goes before all else."""
        handle = self._holding.handle
        return handle.label if handle is not None else self._hint

    def _draw_frame(self) -> None:
        z_mm = self._holding.shown_z_mm
        if z_mm is not None:
            self._stage.set_frame_z(z_mm)

    def _draw_coarsely(self) -> None:
        self._stage.set_moving(True)

    def _draw_finely(self) -> None:
        self._stage.set_moving(False)
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

    def _listen(self) -> None:
        hand, holding, flight = self._hand, self._holding, self._flight
        hand.turned.connect(flight.turn)
        hand.shoved.connect(flight.shove)
        hand.came_closer.connect(self._come_closer)
        hand.double_clicked.connect(self._fly_to_pixel)
        hand.clicked.connect(self._click)
        hand.grip_taken.connect(holding.take)
        hand.grip_moved.connect(self._carry_hint)
        hand.grip_moved.connect(holding.move)
        hand.grip_left.connect(holding.leave)
        hand.grip_given_back.connect(holding.give_back)
        hand.pointed.connect(self._point)
        hand.rested.connect(self._look_under_pointer)
        hand.left.connect(self._forget_pointer)
        flight.view_changed.connect(self._redraw)
        flight.view_changed.connect(self.view_changed)
        flight.stirred.connect(self._draw_coarsely)
        flight.rested.connect(self._draw_finely)
        self._dresser.dressed.connect(self._redraw)
        holding.taken.connect(self._hold)
        holding.frame_moved.connect(self._move_frame)
        holding.left.connect(self._let_go)
        holding.flat_changed.connect(self._draw_flat)
        holding.flat_changed.connect(self._show_cursor)
        holding.plane_drag_began.connect(self.plane_drag_began)
        holding.plane_dragged.connect(self.plane_dragged)
        holding.plane_drag_ended.connect(self.plane_drag_ended)
        holding.cut_dragged.connect(self.cut_dragged)
        holding.handle_taken.connect(self.handle_taken)
        holding.handle_dragged.connect(self.handle_dragged)
        holding.handle_left.connect(self.handle_left)

    def _point(self, at: QPointF) -> None:
        self._pointer = (at.x(), at.y())
        self._holding.point(self._holding.under(at))
        if self._words:
            self._draw_flat()

    def _come_closer(self, at: QPointF, factor: float) -> None:
        spot = self._spot(at, wait=False)
        target = self._drawn_at(spot) if spot else self.eye.on_focus_plane(at.x(), at.y())
        self._flight.come_closer(target, factor)

    def _fly_to_pixel(self, at: QPointF) -> None:
        spot = None if self._holding.picking else self._spot(at, wait=True)
        if spot is not None:
            self.fly_to(self._drawn_at(spot))

    def _click(self, at: QPointF, adding: bool) -> None:
        if not self._holding.picking and not self._stage.scene.marks:
            return
        spot = self._spot(at, wait=True)
        if spot is None:
            self.nothing_clicked.emit()
        elif self._holding.picking:
            (self.face_added if adding else self.face_clicked).emit(spot)

    def _look_under_pointer(self, at: QPointF) -> None:
        within = self._interactor.rect().contains(at.toPoint()) and self._holding.over is None
        spot = self._spot(at, wait=False) if within else None
        if self._lights_flats and self._stage.highlight(spot):
            self._redraw()
        self.spot_hovered.emit(spot)

    def _forget_pointer(self) -> None:
        self._holding.point(None)
        if self._lights_flats and self._stage.highlight(None):
            self._redraw()
        self.spot_hovered.emit(None)

    def _spot(self, at: QPointF, wait: bool) -> Spot | None:
        return self._stage.spot_at(self.eye, at.x(), at.y(), wait)

    def _drawn_at(self, spot: Spot) -> Point:
        x, y, z = spot.point_mm
        return x, y, z + self._stage.bodies[spot.item].item.lift_z

    def _sight(self) -> tuple[Eye, Scene]:
        return self.eye, self._stage.scene

    def _size(self) -> tuple[int, int]:
        return self._interactor.width(), self._interactor.height()

    # What the hand holds ------------------------------------------------------------------------

    def _is_held(self) -> bool:
        return self._hand.busy

    def _moves_plane(self) -> bool:
        return isinstance(self._holding.drag, Drag)

    def _carry_hint(self, at: QPointF, _free: bool) -> None:
        if isinstance(self._holding.drag, KnobDrag):
            self._pointer = (at.x(), at.y())

    def _hold(self) -> None:
        self._flight.stir()
        self._show_cursor()
        self._redraw()

    def _move_frame(self) -> None:
        self._draw_frame()
        self._redraw()

    def _let_go(self) -> None:
        self._flight.rest_soon()
        self._show_cursor()
        self._redraw()

    def _show_cursor(self) -> None:
        idle = Qt.CursorShape.CrossCursor if self._holding.picking else Qt.CursorShape.ArrowCursor
        shape = self._holding.cursor
        self._interactor.setCursor(idle if shape is None else shape)

    # The end ------------------------------------------------------------------------------------

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop threads and timers and give the graphics back."""
        if not self._closed:
            self._closed = True
            self._dresser.stop()
            self._flight.stop()
            self._hand.stop()
            self._interactor.removeEventFilter(self)
            self._window.RemoveObserver(self._observer)
            self._stage.clear()
            context = self._interactor.context()  # none before the first frame
            surface = context.surface() if context else None
            self._interactor.close()
            if surface is not None:
                # pyvistaqt keeps it, and as it is no QObject nothing tells Python when Qt deletes it: the
                # next object at its address would be taken for it and freed twice.
                shiboken6.invalidate(surface)
        super().closeEvent(event)
