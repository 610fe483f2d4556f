"""What is drawn flat over the 3D picture, in pixels: grip, height, rail, marks, compass.

Painted by Qt, so that text is sharp and the grip is as large on screen at any distance.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QLinearGradient, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from housingdesk.view3d.arrows import ArrowSeen
from housingdesk.view3d.drawing import Drawing
from housingdesk.view3d.grip import GRIP_HEIGHT, GRIP_WIDTH, Grip, Pixel
from housingdesk.view3d.handles import REACH_PX
from housingdesk.view3d.knob import KNOB_PX
from housingdesk.view3d.labels import Box, is_inside, laid
from housingdesk.view3d.legend import STOPS, Legend
from housingdesk.view3d.palette import Palette

LABEL_GAP = 8.0
COMPASS_ARM = 26.0
COMPASS_INSET = 46.0
HINT_GAP = 14.0
LEGEND_LENGTH = 190.0
LEGEND_WIDTH = 160.0
_MARK_PX = 16.0  # reach of the rings


Arms = tuple[tuple[str, Pixel], ...]


class Overlay(QWidget):
    """Paints a ``Drawing`` over the bench and lets every mouse event through."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.drawing = Drawing()

    def draw(self, drawing: Drawing) -> None:
        """Show another drawing, if it is another."""
        if drawing != self.drawing:
            self.drawing = drawing
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the drawing."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = self.drawing.palette
        drawing, size = self.drawing, (float(self.width()), float(self.height()))
        _paint_compass(painter, drawing.compass, size[1], colours)
        for knob in drawing.knobs:
            _paint_knob(painter, knob, drawing.held, colours)
        for arrow in drawing.arrows:
            _paint_arrow(painter, arrow, colours)
        for handle in drawing.behind:
            _paint_handle(painter, handle, REACH_PX - 3, None, colours.ink)
        for handle in drawing.handles:
            _paint_handle(painter, handle, REACH_PX - 3, colours.card, colours.ink)
        if drawing.lit is not None:
            _paint_handle(painter, drawing.lit, REACH_PX - 2, colours.snap, colours.ink)
        for mark in drawing.marks:
            _paint_mark(painter, mark, colours)
        if drawing.grip is not None:
            _paint_grip(painter, drawing.grip, colours)
        if drawing.legend is not None:
            _paint_legend(painter, drawing.legend, *size, colours)
        labels = _labels(painter.font(), drawing, size[0], size[1])
        for label, box in zip(
            labels, laid([w.box for w in labels], _taken(drawing, *size), *size), strict=True
        ):
            _paint_label(painter, label, QRectF(*box))
        painter.end()


@dataclass(frozen=True, slots=True)
class _Label:
    """Words on a card (none where ``card`` is None), and the box in which they are wanted."""

    words: str
    box: Box
    font: QFont
    ink: QColor
    card: QColor | None


def _labels(font: QFont, drawing: Drawing, width: float, height: float) -> list[_Label]:
    """Return all labels, those that stay put first: what moves with the pointer gives way."""
    grip = () if drawing.grip is None else (_grip_label(font, drawing.grip, width, drawing.palette),)
    arrows = (
        _arrow_label(font, a, drawing.palette) for a in drawing.arrows if is_inside(*a.tip, width, height)
    )
    compass = _compass_labels(font, drawing.compass, height, drawing.palette)
    hint = () if drawing.hint is None else (_hint_label(font, *drawing.hint, width, drawing.palette),)
    return [*grip, *compass, *arrows, *hint]


def _taken(drawing: Drawing, width: float, height: float) -> list[Box]:
    """Return what no label may cover: places pointed at, arrows, the grip, and the scale of the gaps."""
    out: list[Box] = [(x - _MARK_PX, y - _MARK_PX, 2 * _MARK_PX, 2 * _MARK_PX) for x, y in drawing.marks]
    for arrow in drawing.arrows:
        if arrow.tail is not None and not arrow.around:
            (x, y), (u, v) = arrow.tail, arrow.tip
            out.append((min(x, u), min(y, v), abs(u - x), abs(v - y)))
    if drawing.grip is not None:
        x, y = drawing.grip.at
        out.append((x - GRIP_WIDTH / 2, y - GRIP_HEIGHT / 2, GRIP_WIDTH, GRIP_HEIGHT))
    if drawing.legend is not None:
        out.append(_legend_box(width, height))
    return out


def _paint_label(painter: QPainter, label: _Label, box: QRectF) -> None:
    if label.card is not None:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(label.card)
        painter.drawRoundedRect(box, 4, 4)
    painter.setFont(label.font)
    painter.setPen(label.ink)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, label.words)


def _room(font: QFont, words: str) -> float:
    """Return how wide words are, pixels."""
    return QFontMetricsF(font).horizontalAdvance(words)


def _card(colours: Palette, alpha: int) -> QColor:
    card = QColor(colours.card)
    card.setAlpha(alpha)
    return card


def _seen_arms(arms: Arms) -> Arms:
    """Leave out the arms that point at the viewer: they are dots."""
    return tuple((words, tip) for words, tip in arms if tip[0] ** 2 + tip[1] ** 2 >= 0.04)


def _paint_compass(painter: QPainter, arms: Arms, height: float, colours: Palette) -> None:
    painter.setPen(QPen(QColor(colours.faint), 1.4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    middle = QPointF(COMPASS_INSET, height - COMPASS_INSET)
    for _, tip in _seen_arms(arms):
        painter.drawLine(middle, middle + QPointF(*tip) * COMPASS_ARM)


def _compass_labels(font: QFont, arms: Arms, height: float, colours: Palette) -> list[_Label]:
    font = QFont(font)
    font.setPointSizeF(8.5)
    out = []
    for words, (right, down) in _seen_arms(arms):
        wide = _room(font, words)
        share = min(max((right + 1) / 2, 0.0), 1.0)  # words of an arm to the right begin at its tip
        left = COMPASS_INSET + right * (COMPASS_ARM + 14) - 6 - (1 - share) * (wide - 12)
        top = height - COMPASS_INSET + down * (COMPASS_ARM + 12) - 8
        out.append(_Label(words, (left, top, wide + 2, 16.0), font, QColor(colours.faint), None))
    return out


def _paint_mark(painter: QPainter, at: Pixel, colours: Palette) -> None:
    """Two rings with a gap in the middle, so that the place itself stays in sight."""
    middle = QPointF(*at)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for radius, width, colour in ((13, 5, colours.paper), (13, 2.2, colours.fail), (3.2, 1.6, colours.fail)):
        painter.setPen(QPen(QColor(colour), width))
        painter.drawEllipse(middle, radius, radius)


def _paint_knob(painter: QPainter, at: Pixel, held: bool, colours: Palette) -> None:
    """Paint a round end of the cutting line, as in the strip's plan."""
    painter.setBrush(QColor(colours.snap if held else colours.card))
    painter.setPen(QPen(QColor(colours.ink), 1.8))
    painter.drawEllipse(QPointF(*at), KNOB_PX, KNOB_PX)


def _paint_handle(painter: QPainter, at: Pixel, reach: float, fill: str | None, ink: str) -> None:
    """Paint a feature's knob: a small diamond, so that it is told from the round ends of the cut.

    Without a fill it is an outline only, which lies behind what is seen through it.
    """
    x, y = at
    painter.setBrush(Qt.BrushStyle.NoBrush if fill is None else QColor(fill))
    painter.setPen(QPen(QColor(ink), 1.2 if fill is None else 1.8))
    painter.drawPolygon(
        [QPointF(x - reach, y), QPointF(x, y - reach), QPointF(x + reach, y), QPointF(x, y + reach)]
    )


def _paint_arrow(painter: QPainter, arrow: ArrowSeen, colours: Palette) -> None:
    if arrow.tail is None:
        return
    line = [QPointF(*at) for at in arrow.around or (arrow.tail, arrow.tip)]
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(colours.paper), 5.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawPolyline(line)
    painter.setPen(QPen(QColor(colours.ink), 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawPolyline(line)
    for headed, before, tip in zip(arrow.ends, (line[1], line[-2]), (line[0], line[-1]), strict=True):
        way = _way(before, tip)
        across = QPointF(-way.y(), way.x())
        for side in (1.0, -1.0) if headed else ():
            painter.drawLine(tip, tip - way * 9.0 + across * (5.0 * side))


def _arrow_label(font: QFont, arrow: ArrowSeen, colours: Palette) -> _Label:
    room = _room(font, arrow.words) + 10
    middle = QPointF(*arrow.tip)
    if arrow.tail is not None:
        way = _way(QPointF(*arrow.tail), middle)
        middle += way * (room / 2 * abs(way.x()) + 11.0 * abs(way.y()) + 4.0)
    box = (middle.x() - room / 2, middle.y() - 10, room, 20.0)
    return _Label(arrow.words, box, font, QColor(colours.ink), _card(colours, 235))


def _way(tail: QPointF, tip: QPointF) -> QPointF:
    way = tip - tail
    length = max((way.x() ** 2 + way.y() ** 2) ** 0.5, 1e-6)
    return QPointF(way.x() / length, way.y() / length)


def _legend_box(width: float, height: float) -> Box:
    length = min(LEGEND_LENGTH, height - 150)
    return width - LEGEND_WIDTH - 12, height - length - 100, LEGEND_WIDTH, length + 88


def _paint_legend(painter: QPainter, legend: Legend, width: float, height: float, colours: Palette) -> None:
    """Paint the scale of the gaps upright at the right, with the asked values marked on it."""
    length = min(LEGEND_LENGTH, height - 150)
    left, top = width - LEGEND_WIDTH, height - length - 66
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(_card(colours, 235))
    painter.drawRoundedRect(QRectF(*_legend_box(width, height)), 6, 6)
    ink = QColor(colours.ink)
    painter.setPen(ink)
    painter.drawText(QPointF(left, top - 14), "Gap")
    scale = QLinearGradient(0, top + length, 0, top)
    for number, colour in enumerate(STOPS):
        scale.setColorAt(number / (len(STOPS) - 1), QColor(colour))
    painter.setPen(QPen(ink, 1.0))
    painter.setBrush(scale)
    painter.drawRect(QRectF(left, top, 16, length))
    painter.setPen(QPen(ink, 2.4))
    for share in legend.shares(legend.asked_mm):
        y = top + length * (1 - share)
        painter.drawLine(QPointF(left - 5, y), QPointF(left + 21, y))
    line = painter.fontMetrics().height()
    painter.setPen(ink)
    for share, words in legend.words(int(length / line) - 2):
        painter.drawText(QPointF(left + 26, top + length * (1 - share) + 4), words)
    below = top + length + 24
    swatches = [(legend.open_colour, "in the open")]
    if legend.short_colour:
        swatches.append((legend.short_colour, "less than asked"))
    for number, (colour, words) in enumerate(swatches):
        painter.setPen(QPen(ink, 1.0))
        painter.setBrush(QColor(colour))
        painter.drawRect(QRectF(left, below + 16 * number - 9, 10, 10))
        painter.drawText(QPointF(left + 22, below + 16 * number), words)


def _hint_label(font: QFont, words: str, at: Pixel, width: float, colours: Palette) -> _Label:
    """Return a few words beside the pointer."""
    room = _room(font, words) + 14
    left = at[0] + HINT_GAP if at[0] + HINT_GAP + room < width - 4 else at[0] - HINT_GAP - room
    box = (left, at[1] - HINT_GAP - 22, room, 22.0)
    return _Label(words, box, font, QColor(colours.card), QColor(colours.ink))


def _paint_grip(painter: QPainter, grip: Grip, colours: Palette) -> None:
    x, y = grip.at
    ink, paper = QColor(colours.ink), QColor(colours.paper)
    if grip.rail is not None:
        painter.setPen(QPen(ink, 1.2, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(*grip.rail[0]), QPointF(*grip.rail[1]))
        painter.setPen(QPen(ink, 2.0))
        for tick in grip.ticks:
            painter.drawLine(QPointF(tick[0] - 11, tick[1]), QPointF(tick[0] + 11, tick[1]))
    plate = QRectF(x - GRIP_WIDTH / 2, y - GRIP_HEIGHT / 2, GRIP_WIDTH, GRIP_HEIGHT)
    fill = QColor(colours.snap) if grip.caught else QColor(colours.upper) if grip.lit or grip.held else ink
    painter.setPen(QPen(paper, 2.0))
    painter.setBrush(fill)
    painter.drawRoundedRect(plate, 5, 5)
    painter.save()
    painter.setClipRect(plate.adjusted(6, 6, -6, -6))
    painter.setPen(QPen(paper, 2.0))
    for i in range(-3, 5):  # the hatch
        left = x + i * 8.0 - 10
        painter.drawLine(QPointF(left, y + 12), QPointF(left + 20, y - 12))
    painter.restore()


def _grip_label(font: QFont, grip: Grip, width: float, colours: Palette) -> _Label:
    font = QFont(font)
    font.setPointSizeF(11 if grip.held else 10)
    font.setBold(grip.held or grip.lit)
    room = _room(font, grip.text) + 12
    x, y = grip.at
    left = x + GRIP_WIDTH / 2 + LABEL_GAP
    if left + room > width - 4:
        left = x - GRIP_WIDTH / 2 - LABEL_GAP - room
    ink = QColor(colours.snap if grip.caught else colours.ink)
    return _Label(grip.text, (left, y - 12, room, 24.0), font, ink, _card(colours, 225))
