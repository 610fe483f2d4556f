"""Draws a section: halves filled and hatched, the part in plum, dimensions where the pointer is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QBrush,
    QColor,
    QEnterEvent,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPolygonF,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from housingdesk.build.results import Section
from housingdesk.geometry.types import Floats, Side
from housingdesk.ui.gauge import Dimension, Outlines, measure_at, outlines_of, zone_gaps
from housingdesk.view3d.labels import Box, beside, overlap
from housingdesk.view3d.palette import LIGHT, Palette

_MARGIN_PX = 22
_BAR_PX = 90.0
_CLEAR_PX = 10.0  # about a dimension and the pointer, where no words go
_MARK_PX = 9.0
_ON_CUT_MM = 0.06  # the cut is given in tenths
_LEAST_AFTER_MS = 150  # the least gap is looked for when the section rests


def bar_length_mm(pixels_per_mm: float) -> float:
    """Return a round length (1, 2 or 5 times a power of ten) that draws nearest below 90 pixels."""
    most = _BAR_PX / pixels_per_mm
    decade = 10.0 ** np.floor(np.log10(most))
    return float(max(f * decade for f in (1.0, 2.0, 5.0) if f * decade <= most))


class SectionCanvas(QWidget):
    """The drawing.  ``measured(Dimension | None)`` follows the pointer."""

    measured = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumHeight(90)
        self.setAccessibleName("Section drawing")
        self._theme = LIGHT
        self._section: Section | None = None
        self._lines: Outlines | None = None
        self._paths: dict[Side, QPainterPath] = {}
        self._part = (QPainterPath(), QPainterPath())
        self._bought = QPainterPath()
        self._least: tuple[tuple[str, Dimension], ...] = ()
        self._least_due = QTimer(self)
        self._least_due.setSingleShot(True)
        self._least_due.setInterval(_LEAST_AFTER_MS)
        self._least_due.timeout.connect(self._find_least)
        self._shown: Dimension | None = None
        self._place_mm: tuple[float, float, float] | None = None
        self._stale = self._elsewhere = False
        self._kept = False  # an earlier section than the one that came, which cuts nothing
        self._zoom = 1.0
        self._shift = QPointF()
        self._grab: QPointF | None = None
        self._pointer: QPointF | None = None

    @property
    def dimension(self) -> Dimension | None:
        """What is dimensioned now: under the pointer, or the least gap; nothing of outlines that are old."""
        return self.dimensions[0][1] if self.dimensions else None

    @property
    def dimensions(self) -> tuple[tuple[str, Dimension], ...]:
        """All that is dimensioned now, with words: under the pointer, or of each zone its least gap."""
        if self._stale or self._elsewhere:
            return ()
        if self._shown is not None:
            return ((self._shown.words(), self._shown),)
        return self._least if self._pointer is None else ()

    def set_theme(self, theme: Palette) -> None:
        """Change colours."""
        self._theme = theme
        self.update()

    def show_section(self, section: Section | None, *, stale: bool = False, elsewhere: bool = False) -> None:
        """Show another section, or mark the one shown as out of date.

        ``elsewhere``: the cut is wanted at another place, which is on its way.  One on the way that cuts
        nothing, beside a housing that has become smaller, leaves the last one there, pale.
        """
        if section is not self._section and (stale or elsewhere) and self._map() and not _cuts(section):
            section, self._kept = self._section, True
        elif section is not self._section or not (stale or elsewhere):
            self._kept = False
        was, self._stale, self._elsewhere = self._stale or self._elsewhere, stale, elsewhere
        if section is not self._section:
            self._section = section
            self._lines = outlines_of(section) if section else None
            self._paths = {s: _filled(loops) for s, loops in section.halves.items()} if section else {}
            self._bought = _filled(section.bought) if section else QPainterPath()
            self._part = _part_paths(section.parts) if section else (QPainterPath(), QPainterPath())
            self._least = ()
            self._least_due.start()
            self._measure()
        elif was != (stale or elsewhere):
            self.measured.emit(self.dimension if self._pointer is not None else None)
        self.update()

    def mark_elsewhere(self, elsewhere: bool) -> None:
        """Say whether the cut is wanted at another place than the one drawn."""
        self.show_section(self._section, stale=self._stale, elsewhere=elsewhere)

    @property
    def section(self) -> Section | None:
        """What is drawn."""
        return self._section

    def show_place(self, place_mm: tuple[float, float, float] | None) -> None:
        """Mark a place, build frame, as long as the cut goes through it; None marks nothing."""
        if place_mm != self._place_mm:
            self._place_mm = place_mm
            self.update()

    @property
    def mark(self) -> tuple[float, float] | None:
        """The marked place in the drawing, mm; None where the cut drawn does not go through it."""
        if self._place_mm is None or self._section is None:
            return None
        plane = self._section.plane
        away = np.subtract(self._place_mm, plane.origin_mm)
        if abs(float(away @ np.cross(plane.right, plane.up))) > _ON_CUT_MM:
            return None
        return float(away @ plane.right), float(away @ plane.up)

    def _find_least(self) -> None:
        self._least = zone_gaps(self._section, self._lines) if self._section and self._lines else ()
        self.update()

    def fit(self) -> None:
        """Show everything."""
        self._zoom, self._shift = 1.0, QPointF()
        self.update()

    # map between drawing (mm, y up) and screen

    def _map(self) -> QTransform | None:
        box = self._lines.box if self._lines else None
        if box is None:
            return None
        wide, high = max(box[2] - box[0], 1e-6), max(box[3] - box[1], 1e-6)
        room_w, room_h = max(self.width() - 2 * _MARGIN_PX, 10), max(self.height() - 2 * _MARGIN_PX, 10)
        scale = min(room_w / wide, room_h / high) * self._zoom
        transform = QTransform()
        transform.translate(self.width() / 2 + self._shift.x(), self.height() / 2 + self._shift.y())
        transform.scale(scale, -scale)
        transform.translate(-(box[0] + box[2]) / 2, -(box[1] + box[3]) / 2)
        return transform

    def to_screen(self, point_mm: tuple[float, float]) -> QPointF:
        """Return where a point of the drawing is on the widget."""
        transform = self._map()
        return transform.map(QPointF(*point_mm)) if transform else QPointF()

    def _measure(self) -> None:
        transform = self._map()
        self._shown = None
        if transform and self._pointer is not None and self._lines is not None:
            inverse, good = transform.inverted()
            if good:
                at = inverse.map(self._pointer)
                self._shown = measure_at(self._lines, (at.x(), at.y()))
        self.measured.emit(self.dimension if self._pointer is not None else None)

    # events

    @override
    def mouseMoveEvent(self, event: QMouseEvent, /) -> None:
        if self._grab is not None:
            self._shift += event.position() - self._grab
            self._grab = event.position()
        self._pointer = event.position()
        self._measure()
        self.update()

    @override
    def mousePressEvent(self, event: QMouseEvent, /) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._grab = event.position()
            self.setCursor(Qt.CursorShape.ClosedHandCursor)

    @override
    def mouseReleaseEvent(self, event: QMouseEvent, /) -> None:
        self._grab = None
        self.unsetCursor()

    @override
    def mouseDoubleClickEvent(self, event: QMouseEvent, /) -> None:
        self.fit()

    @override
    def wheelEvent(self, event: QWheelEvent, /) -> None:
        self._zoom_at(event.position(), 1.2 ** (event.angleDelta().y() / 120.0))

    @override
    def keyPressEvent(self, event: QKeyEvent, /) -> None:
        middle = QPointF(self.width() / 2, self.height() / 2)
        if event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._zoom_at(middle, 1.2)
        elif event.key() == Qt.Key.Key_Minus:
            self._zoom_at(middle, 1 / 1.2)
        else:
            super().keyPressEvent(event)

    @override
    def enterEvent(self, event: QEnterEvent, /) -> None:
        self._pointer = event.position()

    @override
    def leaveEvent(self, event: QEvent, /) -> None:
        self._pointer = None
        self._measure()
        self.update()

    def _zoom_at(self, at: QPointF, factor: float) -> None:
        new = min(60.0, max(0.3, self._zoom * factor))
        middle = QPointF(self.width() / 2, self.height() / 2)
        self._shift = at - middle - (at - middle - self._shift) * (new / self._zoom)
        self._zoom = new
        self._measure()
        self.update()

    # drawing

    @override
    def paintEvent(self, event: QPaintEvent, /) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self._theme.card))
        transform = self._map()
        if transform is None:
            painter.setPen(QColor(self._theme.faint))
            known = self._section is not None and not self._stale and not self._elsewhere
            words = "Nothing is cut here; move the cutting line." if known else ""
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, words)
            return
        painter.setOpacity(0.5 if self._stale or self._kept else 1.0)
        self._draw_halves(painter, transform)
        self._draw_bought(painter, transform)
        self._draw_part(painter, transform)
        painter.setOpacity(1.0)
        self._draw_dimensions(painter, transform)
        if self.mark is not None:
            self._draw_mark(painter, transform.map(QPointF(*self.mark)))
        self._draw_bar(painter, transform.m11())

    def _draw_halves(self, painter: QPainter, transform: QTransform) -> None:
        t = self._theme
        for side, path in self._paths.items():
            colour = QColor(t.upper if side == "upper" else t.lower)
            drawn = transform.map(path)
            fill = QColor(colour)
            fill.setAlpha(205)
            painter.fillPath(drawn, fill)
            pattern = Qt.BrushStyle.BDiagPattern if side == "upper" else Qt.BrushStyle.FDiagPattern
            hatch = QColor(t.card)
            hatch.setAlpha(80)
            painter.fillPath(drawn, QBrush(hatch, pattern))
            painter.strokePath(drawn, QPen(colour.darker(135) if t is LIGHT else colour.lighter(125), 1.0))

    def _draw_part(self, painter: QPainter, transform: QTransform) -> None:
        filled, open_lines = self._part
        plum = QColor(self._theme.ghost)
        fill = QColor(plum)
        fill.setAlpha(90)
        painter.fillPath(transform.map(filled), fill)
        painter.strokePath(transform.map(filled), QPen(plum, 1.2))
        painter.strokePath(transform.map(open_lines), QPen(plum, 1.2))

    def _draw_bought(self, painter: QPainter, transform: QTransform) -> None:
        drawn, steel = transform.map(self._bought), QColor(self._theme.bought)
        fill = QColor(steel)
        fill.setAlpha(140)
        painter.fillPath(drawn, fill)
        painter.strokePath(drawn, QPen(steel, 1.2))

    def _draw_dimensions(self, painter: QPainter, transform: QTransform) -> None:
        """Draw dimensions and their words, the first first; one whose words have no room is left out."""
        font = QFont(self.font())
        font.setBold(True)
        painter.setFont(font)
        for words, start, end, box in self.tags(transform, QFontMetricsF(font)):
            self._draw_dimension(painter, start, end)
            self._draw_tag(painter, start, end, words, QRectF(*box))

    def tags(self, transform: QTransform, metrics: QFontMetricsF) -> list[tuple[str, QPointF, QPointF, Box]]:
        """Return what is dimensioned: words, both ends and the box of the words, pixels; none overlap."""
        ends = [
            (words, transform.map(QPointF(*d.start)), transform.map(QPointF(*d.end)))
            for words, d in self.dimensions
            if self._is_seen(transform, d)
        ]
        out: list[tuple[str, QPointF, QPointF, Box]] = []
        for words, start, end in ends:
            size = metrics.horizontalAdvance(words) + 14.0, metrics.height() + 6.0
            others = [_about(a, b) for _, a, b in ends if (a, b) != (start, end)]
            taken = [*others, *(t[3] for t in out)]
            box = self._tag_box(transform, start, end, size, taken)
            if not out or not any(overlap(box, t) for t in (*taken, _about(start, end))):
                out.append((words, start, end, box))
        return out

    def _draw_dimension(self, painter: QPainter, start: QPointF, end: QPointF) -> None:
        ink = QColor(self._theme.ink)
        painter.setPen(QPen(ink, 1.6))
        painter.drawLine(start, end)
        way = end - start
        length = max((way.x() ** 2 + way.y() ** 2) ** 0.5, 1e-6)
        across = QPointF(-way.y(), way.x()) * (5.0 / length) if length > 0.01 else QPointF(5, 0)
        for point in (start, end):
            painter.drawLine(point - across, point + across)

    def _is_seen(self, transform: QTransform, dimension: Dimension) -> bool:
        """Tell whether any of a dimension lies in the picture; words alone would point at nothing."""
        ends = (transform.map(QPointF(*p)) for p in (dimension.start, dimension.end))
        return any(QRectF(self.rect()).contains(end) for end in ends)

    def _tag_box(
        self,
        transform: QTransform,
        start: QPointF,
        end: QPointF,
        size: tuple[float, float],
        taken: Sequence[Box] = (),
    ) -> Box:
        """Return where the words of a dimension go: beside it and the pointer, over few lines."""
        assert self._lines is not None
        pieces = np.concatenate([self._lines.part, *self._lines.halves.values()])
        lines = pieces * (transform.m11(), transform.m22()) + (transform.dx(), transform.dy())
        at = [p.toTuple() for p in (start, end, self._pointer or end)]
        low, high = np.min(at, axis=0) - _CLEAR_PX, np.max(at, axis=0) + _CLEAR_PX
        place = (*low.tolist(), *(high - low).tolist())
        bar = (0.0, self.height() - 26.0, _BAR_PX + 90.0, 26.0)
        return beside(size, place, lines, (bar, *taken), float(self.width()), float(self.height()))

    def _draw_tag(self, painter: QPainter, start: QPointF, end: QPointF, words: str, tag: QRectF) -> None:
        about = (start + end) / 2
        nearest = QPointF(
            min(max(about.x(), tag.left()), tag.right()), min(max(about.y(), tag.top()), tag.bottom())
        )
        painter.setPen(QPen(QColor(self._theme.ink), 1.0))
        painter.drawLine(nearest, about)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._theme.ink))
        painter.drawRoundedRect(tag, 4, 4)
        painter.setPen(QColor(self._theme.card))
        painter.drawText(tag, Qt.AlignmentFlag.AlignCenter, words)

    def _draw_mark(self, painter: QPainter, at: QPointF) -> None:
        """Draw the rings that mark the place on the bench as well."""
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((self._theme.card, 5.0), (self._theme.fail, 2.2)):
            painter.setPen(QPen(QColor(colour), width))
            painter.drawEllipse(at, _MARK_PX, _MARK_PX)

    def _draw_bar(self, painter: QPainter, pixels_per_mm: float) -> None:
        length = bar_length_mm(pixels_per_mm)
        left, y = 16.0, self.height() - 12.0
        right = left + length * pixels_per_mm
        painter.setFont(self.font())
        words = f"{length:g} mm"
        across = right - left + 16 + painter.fontMetrics().horizontalAdvance(words)
        painter.fillRect(QRectF(left - 6, y - 10, across + 6, 20), QColor(self._theme.card))
        painter.setPen(QPen(QColor(self._theme.soft), 1.5))
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        for x in (left, right):
            painter.drawLine(QPointF(x, y - 4), QPointF(x, y + 4))
        painter.drawText(QPointF(right + 8, y + 4), words)


def _cuts(section: Section | None) -> bool:
    """Tell whether a section cuts anything."""
    return section is not None and bool(section.parts or any(section.halves.values()))


def _about(start: QPointF, end: QPointF) -> Box:
    """Return the box around a dimension with its ticks."""
    low_x, high_x = sorted((start.x(), end.x()))
    low_y, high_y = sorted((start.y(), end.y()))
    return low_x - 5.0, low_y - 5.0, high_x - low_x + 10.0, high_y - low_y + 10.0


def _polygon(points: Floats) -> QPolygonF:
    return QPolygonF([QPointF(float(x), float(y)) for x, y in points])


def _filled(loops: tuple[Floats, ...]) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for loop in loops:
        path.addPolygon(_polygon(loop))
        path.closeSubpath()
    return path


def _part_paths(lines: tuple[Floats, ...]) -> tuple[QPainterPath, QPainterPath]:
    """Return closed outlines of the part, to be filled, and open ones, to be drawn only."""
    closed, open_lines = QPainterPath(), QPainterPath()
    closed.setFillRule(Qt.FillRule.OddEvenFill)
    for line in lines:
        if len(line) > 2 and np.allclose(line[0], line[-1], atol=1e-6):
            closed.addPolygon(_polygon(line))
            closed.closeSubpath()
        elif len(line) > 1:
            open_lines.addPolygon(_polygon(line))
    return closed, open_lines
