"""A small plan of the housing seen from above, with the cutting line to drag and to turn."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPolygonF,
    QTransform,
)
from PySide6.QtWidgets import QSizePolicy, QWidget
from typing_extensions import override

from housingdesk.build.results import Plan
from housingdesk.geometry.types import Floats
from housingdesk.view3d.cutting import chord, directions, reach_along_normal, settled
from housingdesk.view3d.palette import LIGHT, Palette

Box = tuple[float, float, float, float]  # least x, least y, greatest x, greatest y; mm in plan
_MARGIN_PX = 20
_KNOB_PX = 7.0
_OVERHANG_PX = 9.0
_SNAP_DEG = 5.0


class CutPlan(QWidget):
    """Plan with the cutting line: drag the line to shift it, a knob at its ends to turn it.

    ``moved(angle_deg, offset_mm)`` comes while it changes, ``began`` and ``rested`` around a drag.
    """

    began = Signal()
    moved = Signal(float, float)
    rested = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setMouseTracking(True)
        self.setToolTip(
            "The housing from above, its back up. Drag the line to move the cut, a round end to turn it.\n"
            "Keys: arrows move, Shift with arrows turns."
        )
        self.setAccessibleName("Cutting line")
        self._theme = LIGHT
        self._outer: Box | None = None
        self._housing, self._parts = QPainterPath(), QPainterPath()  # mm in plan
        self._angle_deg, self._offset_mm = 0.0, 0.0
        self._grab: str | None = None
        self._grab_mm = 0.0

    @override
    def sizeHint(self) -> QSize:
        return QSize(172, 120)

    @property
    def housing_mm(self) -> QPainterPath:
        """The area of the housing from above, mm in plan."""
        return self._housing

    def set_theme(self, theme: Palette) -> None:
        """Change colours."""
        self._theme = theme
        self.update()

    def show_plan(self, outer: Box | None, plan: Plan) -> None:
        """Show another housing, whose form fills a box."""
        self._outer = outer
        self._housing, self._parts = _area(plan.housing), _area(plan.parts)
        self.update()

    def show_cut(self, angle_deg: float, offset_mm: float) -> None:
        """Show the cutting line somewhere; says nothing to anybody."""
        self._angle_deg, self._offset_mm = angle_deg, offset_mm
        self.update()

    # map: plan x right, plan y up

    def _scale(self) -> float:
        assert self._outer is not None
        (mx, my), seen = self._middle(), self._housing.boundingRect().united(self._parts.boundingRect())
        # As much to both sides of the middle as there is on either; features and shafts stick out.
        wide = 2 * max(self._outer[2] - mx, seen.right() - mx, mx - seen.left())
        high = 2 * max(self._outer[3] - my, seen.bottom() - my, my - seen.top())
        diagonal = float(np.hypot(wide, high))
        room = min(self.width(), self.height()) - 2 * _MARGIN_PX
        by_box = min(
            (self.width() - 2 * _MARGIN_PX) / max(wide, 1e-6),
            (self.height() - 2 * _MARGIN_PX) / max(high, 1e-6),
        )
        return max(min(by_box, 1.4 * room / max(diagonal, 1e-6)), 1e-6)

    def _middle(self) -> tuple[float, float]:
        assert self._outer is not None
        return (self._outer[0] + self._outer[2]) / 2, (self._outer[1] + self._outer[3]) / 2

    def _screen(self, x: float, y: float) -> QPointF:
        mx, my = self._middle()
        s = self._scale()
        return QPointF(self.width() / 2 + (x - mx) * s, self.height() / 2 - (y - my) * s)

    def _half_size(self) -> tuple[float, float]:
        assert self._outer is not None
        return (self._outer[2] - self._outer[0]) / 2, (self._outer[3] - self._outer[1]) / 2

    def _axes(self) -> tuple[QPointF, QPointF]:
        """Direction of the line and its normal on the screen."""
        (ax, ay), (nx, ny) = directions(self._angle_deg)
        return QPointF(ax, -ay), QPointF(nx, -ny)

    def ends(self) -> tuple[QPointF, QPointF]:
        """Return where the two turning knobs are on the widget."""
        along, normal = self._axes()
        middle = QPointF(self.width() / 2, self.height() / 2) + normal * (self._offset_mm * self._scale())
        assert self._outer is not None
        back_mm, front_mm = chord(self._angle_deg, self._offset_mm, self._half_size())
        scale = self._scale()
        return middle + along * (back_mm * scale - _OVERHANG_PX), middle + along * (
            front_mm * scale + _OVERHANG_PX
        )

    # events

    @override
    def mousePressEvent(self, event: QMouseEvent, /) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._outer is None:
            return
        self._grab = self._part_at(event.position())
        self._grab_mm = self._offset_at(event.position()) - self._offset_mm
        if self._grab:
            self.began.emit()

    @override
    def mouseMoveEvent(self, event: QMouseEvent, /) -> None:
        if self._outer is None:
            return
        if self._grab is None:
            over = self._part_at(event.position())
            shift = over == "shift"
            self.setCursor(Qt.CursorShape.SizeAllCursor if shift else Qt.CursorShape.CrossCursor)
        elif self._grab == "shift":
            self._set(self._angle_deg, self._offset_at(event.position()) - self._grab_mm)
        else:
            away = event.position() - QPointF(self.width() / 2, self.height() / 2)
            angle = float(np.degrees(np.arctan2(away.y(), away.x())))
            # Of the line's two ways round the one it is on: the shift keeps its side.
            angle += 180.0 * round((self._angle_deg - angle) / 180.0)
            free = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self._set(angle if free else round(angle / _SNAP_DEG) * _SNAP_DEG, self._offset_mm)

    @override
    def mouseReleaseEvent(self, event: QMouseEvent, /) -> None:
        if self._grab:
            self._grab = None
            self.rested.emit()

    @override
    def keyPressEvent(self, event: QKeyEvent, /) -> None:
        key, turning = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        sign = (key in (Qt.Key.Key_Up, Qt.Key.Key_Right)) - (key in (Qt.Key.Key_Down, Qt.Key.Key_Left))
        if not sign or self._outer is None:
            super().keyPressEvent(event)
            return
        angle = self._angle_deg + (sign * _SNAP_DEG if turning else 0.0)
        self._set(angle, self._offset_mm + (0.0 if turning else sign * 0.5))
        self.rested.emit()

    def _part_at(self, at: QPointF) -> str:
        back, front = self.ends()
        for name, knob in (("turn", front), ("turn-back", back)):
            if (at - knob).manhattanLength() < 2.2 * _KNOB_PX:
                return name
        return "shift"

    def _offset_at(self, at: QPointF) -> float:
        _, normal = self._axes()
        away = at - QPointF(self.width() / 2, self.height() / 2)
        return (away.x() * normal.x() + away.y() * normal.y()) / self._scale()

    def _set(self, angle_deg: float, offset_mm: float) -> None:
        assert self._outer is not None
        size = (self._outer[2] - self._outer[0], self._outer[3] - self._outer[1])
        angle_deg, offset_mm = settled(angle_deg, offset_mm)
        most = max(0.0, reach_along_normal(angle_deg, size) - 0.05)
        self._angle_deg, self._offset_mm = angle_deg, float(np.clip(offset_mm, -most, most))
        self.update()
        self.moved.emit(self._angle_deg, self._offset_mm)

    # drawing

    @override
    def paintEvent(self, event: QPaintEvent, /) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._outer is None:
            return
        t = self._theme
        housing = self._drawn(self._housing)
        painter.fillPath(housing, QColor(t.paper))
        painter.strokePath(housing, QPen(QColor(t.rule), 1.2))
        plum = QColor(t.ghost)
        parts = self._drawn(self._parts)
        painter.strokePath(parts, QPen(plum, 1.0))
        plum.setAlpha(70)
        painter.fillPath(parts, plum)
        back, front = self.ends()
        ink = QColor(t.ink)
        painter.setPen(QPen(ink, 2.4 if self.hasFocus() else 1.6))
        painter.drawLine(back, front)
        painter.setBrush(QColor(t.card))
        painter.setPen(QPen(QColor(t.lower) if self.hasFocus() else ink, 1.8))
        for knob in (back, front):
            painter.drawEllipse(knob, _KNOB_PX - 2, _KNOB_PX - 2)

    def _drawn(self, area: QPainterPath) -> QPainterPath:
        """Return an area on the widget."""
        mx, my = self._middle()
        to_screen = QTransform.fromTranslate(self.width() / 2, self.height() / 2)
        return to_screen.scale(self._scale(), -self._scale()).translate(-mx, -my).map(area)


def _area(outlines: tuple[Floats, ...]) -> QPainterPath:
    """Return what lies under any of the outlines, each (k, 2), all of them running the same way."""
    area = QPainterPath()
    area.setFillRule(Qt.FillRule.WindingFill)
    for outline in outlines:
        area.addPolygon(QPolygonF([QPointF(float(x), float(y)) for x, y in outline]))
        area.closeSubpath()
    return area
