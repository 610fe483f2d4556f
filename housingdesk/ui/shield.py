"""What has just slid under a resting mouse cannot be pressed: that was meant for what lay there before."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QCursor, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget
from typing_extensions import override

_MOMENT_MS = 500  # about as long as it takes to see what has changed
_MOVED_PX = 3.0


class Shield(QWidget):
    """Lies over an area that scrolls, unseen, for a moment or until the mouse is moved."""

    def __init__(self, over: QScrollArea, stack: QWidget, parent: QWidget) -> None:
        super().__init__(parent)
        self._over, self._stack, self._around = over, stack, parent
        self._place: QPointF | None = None
        self.setMouseTracking(True)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_MOMENT_MS)
        self._timer.timeout.connect(self.hide)
        self.hide()

    def under_mouse(self) -> QWidget | None:
        """Return what of the area lies under the mouse, whatever lies over it; None while it drags."""
        if QApplication.mouseButtons() != Qt.MouseButton.NoButton:
            return None
        shown, stack = self._over.viewport(), self._stack
        at = self._mouse()
        inside = shown.isVisible() and shown.rect().contains(shown.mapFromGlobal(at))
        return stack.childAt(stack.mapFromGlobal(at)) if inside else None

    def rise(self) -> None:
        """Keep presses off for a moment."""
        shown = self._over.viewport()
        self._place = None
        self.setGeometry(shown.rect().translated(shown.mapTo(self._around, QPoint(0, 0))))
        self.raise_()
        self.show()
        self._timer.start()

    def _mouse(self) -> QPoint:
        return QCursor.pos()

    @override
    def mouseMoveEvent(self, event: QMouseEvent, /) -> None:
        self._place = self._place or event.position()
        if (event.position() - self._place).manhattanLength() > _MOVED_PX:
            self.hide()

    @override
    def mousePressEvent(self, event: QMouseEvent, /) -> None:
        event.accept()

    @override
    def wheelEvent(self, event: QWheelEvent, /) -> None:
        self.hide()
        event.ignore()
