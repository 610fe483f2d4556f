"""The user's hand on the bench: Qt's mouse and key events as what they mean, in pixels.

Left drag turns, right or middle drag (or Shift and left) shoves, the wheel comes closer, a double click
flies; a left drag that begins on the grip moves the grip, and Esc gives it back.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

CLICK_PX = 4.0  # a press that moves less is a click
HOVER_MS = 40
WHEEL_FACTOR = 0.86  # of the distance, per notch


class Hand(QObject):
    """Watches a widget and answers all its mouse and key events, so that nothing else does.

    Signals
    -------
    turned(dx, dy), shoved(dx, dy) : the view is dragged by so many pixels.
    came_closer(at, factor) : wheel or pinch; a factor below 1 is closer.
    double_clicked(at), clicked(at, adding) : the left button; a click only where nothing was dragged;
        adding while Shift is held.
    grip_taken(at), grip_moved(at, free), grip_left(), grip_given_back() : free while Shift is held.
    pointed(at) : every move with no button down; rested(at) : at most one in 40 ms; left() : gone.

    Parameters
    ----------
    on_grip : whether a pixel is on the grip.
    """

    turned = Signal(float, float)
    shoved = Signal(float, float)
    came_closer = Signal(QPointF, float)
    double_clicked = Signal(QPointF)
    clicked = Signal(QPointF, bool)
    grip_taken = Signal(QPointF)
    grip_moved = Signal(QPointF, bool)
    grip_left = Signal()
    grip_given_back = Signal()
    pointed = Signal(QPointF)
    rested = Signal(QPointF)
    left = Signal()

    def __init__(self, widget: QWidget, on_grip: Callable[[QPointF], bool]) -> None:
        super().__init__(widget)
        self._widget = widget
        self._on_grip = on_grip
        self._button: Qt.MouseButton | None = None
        self._holds_grip = False
        self._began = QPointF()
        self._last = QPointF()
        self._hover = QTimer(self)
        self._hover.setSingleShot(True)
        self._hover.setInterval(HOVER_MS)
        self._hover.timeout.connect(self._rest)
        kind = QEvent.Type
        self._answers: dict[QEvent.Type, Callable[[QEvent], None]] = {
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
        widget.installEventFilter(self)

    @property
    def busy(self) -> bool:
        """Whether a button is down."""
        return self._button is not None

    def drop_grip(self) -> None:
        """Hold the grip no longer, without a word: it has gone."""
        self._holds_grip = False

    def stop(self) -> None:
        """Watch no longer."""
        self._hover.stop()
        self._widget.removeEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Answer the widget's events."""
        answer = self._answers.get(event.type()) if watched is self._widget else None
        if answer is None:
            return False
        answer(event)
        return True

    def _press(self, event: QEvent) -> None:
        assert isinstance(event, QMouseEvent)
        self._widget.setFocus(Qt.FocusReason.MouseFocusReason)
        if self._button is not None:
            return  # a second button while one is down
        self._hover.stop()
        self._button = event.button()
        self._began = self._last = event.position()
        if self._button == Qt.MouseButton.LeftButton and self._on_grip(self._began):
            self._holds_grip = True
            self.grip_taken.emit(self._began)

    def _move(self, event: QEvent) -> None:
        assert isinstance(event, QMouseEvent)
        at, last = event.position(), self._last
        self._last = at
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._holds_grip:
            self.grip_moved.emit(at, shift)
        elif self._button is None:
            self._point(at)
        elif self._button == Qt.MouseButton.LeftButton and not shift:
            self.turned.emit(at.x() - last.x(), at.y() - last.y())
        else:
            self.shoved.emit(at.x() - last.x(), at.y() - last.y())

    def _release(self, event: QEvent) -> None:
        assert isinstance(event, QMouseEvent)
        if event.button() != self._button:
            return
        self._button = None
        at = event.position()
        if self._holds_grip:
            self._holds_grip = False
            self.grip_left.emit()
        elif event.button() == Qt.MouseButton.LeftButton and (at - self._began).manhattanLength() <= CLICK_PX:
            self.clicked.emit(at, bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))
        self._point(at)

    def _double_click(self, event: QEvent) -> None:
        assert isinstance(event, QMouseEvent)
        if event.button() == Qt.MouseButton.LeftButton and not self._on_grip(event.position()):
            self.double_clicked.emit(event.position())
        else:
            self._press(event)

    def _wheel(self, event: QEvent) -> None:
        assert isinstance(event, QWheelEvent)
        notches = event.angleDelta().y() / 120.0
        if notches and not self._holds_grip:
            self.came_closer.emit(event.position(), WHEEL_FACTOR**notches)

    def _pinch(self, event: QEvent) -> None:
        assert isinstance(event, QNativeGestureEvent)
        if event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture and not self._holds_grip:
            self.came_closer.emit(event.position(), 1.0 / max(1.0 + event.value(), 0.2))

    def _key(self, event: QEvent) -> None:
        assert isinstance(event, QKeyEvent)
        giving_back = self._holds_grip and event.key() == Qt.Key.Key_Escape
        if giving_back and event.type() == QEvent.Type.KeyPress:
            self._holds_grip = False
            self.grip_given_back.emit()
        event.setAccepted(giving_back)  # all other keys belong to the window

    def _leave(self, _event: QEvent) -> None:
        self._hover.stop()
        self.left.emit()

    def _point(self, at: QPointF) -> None:
        self._last = at
        self.pointed.emit(at)
        if not self._hover.isActive():
            self._hover.start()

    def _rest(self) -> None:
        if self._button is None:
            self.rested.emit(self._last)
