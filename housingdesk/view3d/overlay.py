"""What is drawn flat over the 3D picture, in pixels: grip, height, rail, marks, compass.

Painted by Qt, so that text is sharp and the grip is as large on screen at any distance.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QLinearGradient, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from housingdesk.view3d.arrows import ArrowSeen
from housingdesk.view3d.drawing import Drawing
from housingdesk.view3d.grip import GRIP_HEIGHT, GRIP_WIDTH, Grip, Pixel
from housingdesk.view3d.handles import REACH_PX
from housingdesk.view3d.knob import KNOB_PX
from housingdesk.view3d.legend import STOPS, Legend
from housingdesk.view3d.palette import Palette

LABEL_GAP = 8.0
COMPASS_ARM = 26.0
COMPASS_INSET = 46.0
HINT_GAP = 14.0
LEGEND_LENGTH = 190.0
LEGEND_WIDTH = 142.0


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
        _paint_compass(painter, self.drawing.compass, self.height(), colours)
        for knob in self.drawing.knobs:
            _paint_knob(painter, knob, self.drawing.held, colours)
        for arrow in self.drawing.arrows:
            _paint_arrow(painter, arrow, colours)
        for handle in self.drawing.handles:
            _paint_handle(painter, handle, False, colours)
        if self.drawing.lit is not None:
            _paint_handle(painter, self.drawing.lit, True, colours)
        for mark in self.drawing.marks:
            _paint_mark(painter, mark, colours)
        if self.drawing.grip is not None:
            _paint_grip(painter, self.drawing.grip, self.width(), colours)
        if self.drawing.legend is not None:
            _paint_legend(painter, self.drawing.legend, self.width(), self.height(), colours)
        if self.drawing.hint is not None:
            _paint_hint(painter, *self.drawing.hint, self.width(), colours)
        painter.end()


def _paint_compass(
    painter: QPainter, arms: tuple[tuple[str, Pixel], ...], height: float, colours: Palette
) -> None:
    if not arms:
        return
    painter.save()
    painter.translate(COMPASS_INSET, height - COMPASS_INSET)
    font = QFont(painter.font())
    font.setPointSizeF(8.5)
    painter.setFont(font)
    painter.setPen(QPen(QColor(colours.faint), 1.4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    for words, (right, down) in arms:
        if right * right + down * down < 0.04:
            continue  # points at the viewer: nothing to draw
        tip = QPointF(right * COMPASS_ARM, down * COMPASS_ARM)
        painter.drawLine(QPointF(0, 0), tip)
        beyond = QPointF(right * (COMPASS_ARM + 14), down * (COMPASS_ARM + 12))
        wide = painter.fontMetrics().horizontalAdvance(words)
        share = min(max((right + 1) / 2, 0.0), 1.0)  # words of an arm to the right begin at its tip
        box = QRectF(beyond.x() - 6 - (1 - share) * (wide - 12), beyond.y() - 10, wide + 2, 20)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
    painter.restore()


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


def _paint_handle(painter: QPainter, at: Pixel, lit: bool, colours: Palette) -> None:
    """Paint a feature's knob: a small diamond, so that it is told from the round ends of the cut."""
    reach = REACH_PX - 2 if lit else REACH_PX - 3
    x, y = at
    painter.setBrush(QColor(colours.snap if lit else colours.card))
    painter.setPen(QPen(QColor(colours.ink), 1.8))
    painter.drawPolygon(
        [QPointF(x - reach, y), QPointF(x, y - reach), QPointF(x + reach, y), QPointF(x, y + reach)]
    )


def _paint_arrow(painter: QPainter, arrow: ArrowSeen, colours: Palette) -> None:
    ink = QColor(colours.ink)
    tip = QPointF(*arrow.tip)
    room = QFontMetricsF(painter.font()).horizontalAdvance(arrow.words) + 10
    middle = tip
    if arrow.tail is not None:
        way = tip - QPointF(*arrow.tail)
        way /= max((way.x() ** 2 + way.y() ** 2) ** 0.5, 1e-6)
        across = QPointF(-way.y(), way.x())
        painter.setPen(QPen(QColor(colours.paper), 5.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(QPointF(*arrow.tail), tip)
        painter.setPen(QPen(ink, 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(QPointF(*arrow.tail), tip)
        for side in (1.0, -1.0):
            painter.drawLine(tip, tip - way * 9.0 + across * (5.0 * side))
        middle = tip + way * (room / 2 * abs(way.x()) + 11.0 * abs(way.y()) + 4.0)
    card = QRectF(middle.x() - room / 2, middle.y() - 10, room, 20)
    backing = QColor(colours.card)
    backing.setAlpha(235)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(backing)
    painter.drawRoundedRect(card, 4, 4)
    painter.setPen(ink)
    painter.drawText(card, Qt.AlignmentFlag.AlignCenter, arrow.words)


def _paint_legend(painter: QPainter, legend: Legend, width: float, height: float, colours: Palette) -> None:
    """Paint the scale of the gaps upright at the right, with the asked values marked on it."""
    length = min(LEGEND_LENGTH, height - 150)
    left, top = width - LEGEND_WIDTH, height - length - 66
    backing = QColor(colours.card)
    backing.setAlpha(235)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(backing)
    painter.drawRoundedRect(QRectF(left - 12, top - 34, LEGEND_WIDTH, length + 88), 6, 6)
    ink = QColor(colours.ink)
    painter.setPen(ink)
    painter.drawText(QPointF(left, top - 14), "Gap")
    scale = QLinearGradient(0, top + length, 0, top)
    for number, colour in enumerate(STOPS):
        scale.setColorAt(number / (len(STOPS) - 1), QColor(colour))
    painter.setPen(QPen(ink, 1.0))
    painter.setBrush(scale)
    painter.drawRect(QRectF(left, top, 16, length))
    painter.drawText(QPointF(left + 22, top + length + 4), "0 mm")
    painter.drawText(QPointF(left + 22, top + 6), f"{legend.most_mm:.2f} and more")
    for asked in legend.asked_mm:
        y = top + length * (1 - min(asked / legend.most_mm, 1.0))
        painter.setPen(QPen(ink, 2.4))
        painter.drawLine(QPointF(left - 5, y), QPointF(left + 21, y))
        painter.drawText(QPointF(left + 26, y + 4), f"{asked:.2f} asked")
    below = top + length + 24
    swatches = [(legend.open_colour, "in the open")]
    if legend.short_colour:
        swatches.append((legend.short_colour, "less than asked"))
    for number, (colour, words) in enumerate(swatches):
        painter.setPen(QPen(ink, 1.0))
        painter.setBrush(QColor(colour))
        painter.drawRect(QRectF(left, below + 16 * number - 9, 10, 10))
        painter.drawText(QPointF(left + 22, below + 16 * number), words)


def _paint_hint(painter: QPainter, words: str, at: Pixel, width: float, colours: Palette) -> None:
    """Paint a few words beside the pointer, inside the picture."""
    room = QFontMetricsF(painter.font()).horizontalAdvance(words) + 14
    left = at[0] + HINT_GAP if at[0] + HINT_GAP + room < width - 4 else at[0] - HINT_GAP - room
    card = QRectF(max(left, 4.0), max(at[1] - HINT_GAP - 22, 4.0), room, 22)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colours.ink))
    painter.drawRoundedRect(card, 4, 4)
    painter.setPen(QColor(colours.card))
    painter.drawText(card, Qt.AlignmentFlag.AlignCenter, words)


def _paint_grip(painter: QPainter, grip: Grip, width: float, colours: Palette) -> None:
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
    font = QFont(painter.font())
    font.setPointSizeF(11 if grip.held else 10)
    font.setBold(grip.held or grip.lit)
    painter.setFont(font)
    text_width = QFontMetricsF(font).horizontalAdvance(grip.text) + 12
    right = x + GRIP_WIDTH / 2 + LABEL_GAP
    if right + text_width > width - 4:
        right = x - GRIP_WIDTH / 2 - LABEL_GAP - text_width
    card = QRectF(right, y - 12, text_width, 24)
    backing = QColor(colours.card)
    backing.setAlpha(225)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(backing)
    painter.drawRoundedRect(card, 4, 4)
    painter.setPen(QColor(colours.snap) if grip.caught else ink)
    painter.drawText(card, Qt.AlignmentFlag.AlignCenter, grip.text)
