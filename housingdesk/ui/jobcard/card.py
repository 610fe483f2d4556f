"""The job card: a vertical card of stations, the current one open, and the button that writes the halves."""

from __future__ import annotations

import importlib
import pkgutil

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QFrame,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from housingdesk.spec.edits import rename_housing
from housingdesk.ui import jobcard
from housingdesk.ui.desk import Desk
from housingdesk.ui.jobcard.station import Station, may_be_narrow
from housingdesk.ui.shield import Shield
from housingdesk.ui.stack import Stack, allow, bring_into_view, scrolled, settle, unfold
from housingdesk.ui.textline import TextLine
from housingdesk.ui.theme import JOB_CARD_WIDTH, TITLE_PX
from housingdesk.view3d.palette import LIGHT, Palette

_TITLE_SIDES_PX = 52  # margins of the card, and padding and border of the field
_LEAST_TITLE_PX = 12
_LINE_X = 31.0
_TEXT_X = 50
_DOT_Y = 15.0


def station_classes() -> list[type[Station]]:
    """Return every station in this folder, in the order of the card."""
    found: list[type[Station]] = []
    for module in pkgutil.iter_modules(jobcard.__path__):
        loaded = importlib.import_module(f"{jobcard.__name__}.{module.name}")
        found += [
            value
            for value in vars(loaded).values()
            if isinstance(value, type) and issubclass(value, Station) and value.__module__ == loaded.__name__
        ]
    return sorted((s for s in found if s is not Station), key=lambda s: s.order)


class StationRow(QWidget):
    """One station on the card: dot, title, and either its summary or its sentences."""

    opened = Signal(object)

    def __init__(self, station: Station, *, last: bool) -> None:
        super().__init__()
        self.station = station
        self._last = last
        self._theme = LIGHT
        self._open = False
        self.head = QPushButton(station.title)
        self.head.setObjectName("stationHead")
        self.head.setCursor(Qt.CursorShape.PointingHandCursor)
        self.head.clicked.connect(lambda: self.opened.emit(self))
        self.summary = QLabel()
        self.summary.setObjectName("summary")
        self.summary.setWordWrap(True)
        may_be_narrow(self.summary)
        self.body = QFrame()
        self.body.setObjectName("stationBody")
        inner = QVBoxLayout(self.body)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.addWidget(station)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 10)
        column.setSpacing(0)
        head_holder, summary_holder, body_holder = (QWidget() for _ in range(3))
        for holder, widget, margins in (
            (head_holder, self.head, (_TEXT_X - 6, 2, 12, 0)),
            (summary_holder, self.summary, (_TEXT_X, 0, 20, 0)),
            (body_holder, self.body, (_TEXT_X - 10, 5, 14, 0)),
        ):
            row = QVBoxLayout(holder)
            row.setContentsMargins(*margins)
            row.addWidget(widget)
            column.addWidget(holder)
        self._holders = (summary_holder, body_holder)
        self.set_open(False)

    def set_theme(self, theme: Palette) -> None:
        """Change colours."""
        self._theme = theme
        self.update()

    @property
    def is_open(self) -> bool:
        """Whether its sentences are shown."""
        return self._open

    def set_open(self, opened: bool) -> None:
        """Expand or fold the station."""
        self._open = opened
        unfold(self._holders[0], not opened)
        unfold(self._holders[1], opened)
        self.head.setAccessibleDescription("open" if opened else "folded; press to open")
        self.update()

    def refresh(self) -> None:
        """Show the desk's state."""
        self.summary.setText(self.station.summary())
        self.station.refresh()
        self.update()

    @override
    def paintEvent(self, event: QPaintEvent, /) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        t = self._theme
        painter.setPen(QPen(QColor(t.line), 2))
        top = 0.0 if self.station.order > 10 else _DOT_Y
        painter.drawLine(
            QPointF(_LINE_X, top), QPointF(_LINE_X, _DOT_Y if self._last else float(self.height()))
        )
        if self._open:
            painter.setPen(QPen(QColor(t.lower), 3))
            painter.setBrush(QColor(t.card))
            radius = 6.0
        else:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(t.upper if self.station.is_done() else t.line))
            radius = 6.0
        painter.drawEllipse(QRectF(_LINE_X - radius, _DOT_Y - radius, 2 * radius, 2 * radius))


class TitleEdit(TextLine):
    """The housing's name, changed in place; a long one is written smaller."""

    def show_name(self, name: str) -> None:
        """Show the name, unless the user is typing another."""
        if self.isModified():
            return
        font = self.font()
        room = JOB_CARD_WIDTH - _TITLE_SIDES_PX
        size = TITLE_PX
        font.setPixelSize(size)
        while size > _LEAST_TITLE_PX and QFontMetrics(font).horizontalAdvance(name) > room:
            size -= 1
            font.setPixelSize(size)
        style = "" if size == TITLE_PX else f"font-size: {size}px;"
        if style != self.styleSheet():
            self.setStyleSheet(style)
        self.setToolTip(f"{name}\nThe housing's name; click to change it.")
        self.setText(name)
        self.setCursorPosition(0)

    @override
    def keyPressEvent(self, event: QKeyEvent, /) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.undo()
            self.clearFocus()
            return
        super().keyPressEvent(event)
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.clearFocus()


class JobCard(QWidget):
    """The whole card.  ``write_asked`` comes from the big button, ``station_opened`` when another is open."""

    write_asked = Signal()
    station_opened = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._faces = desk.faces  # picked on the bench when that was looked at last
        self.setObjectName("jobCard")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        self.setFixedWidth(JOB_CARD_WIDTH)
        self.title = TitleEdit()
        self.title.setObjectName("titleEdit")
        self.title.setMaxLength(80)
        self.title.setAccessibleName("Name of the housing")
        self.title.editingFinished.connect(self._rename)
        self.saved = QLabel()
        self.saved.setObjectName("faint")
        self.rows = [StationRow(make(desk), last=False) for make in station_classes()]
        self.rows[-1]._last = True
        self.stations = {row.station.title: row.station for row in self.rows}
        stack = Stack()
        for row in self.rows:
            row.opened.connect(self._toggle)
            stack.add(row)
        self._scroller = scrolled(stack)
        self._shield = Shield(self._scroller, stack, self)
        self.write = QPushButton("&Write the two halves…")
        self.write.setObjectName("main")
        self.write.setToolTip(
            "Builds both halves at full quality, proves them, and writes STL and 3MF files."
        )
        self.write.clicked.connect(self.write_asked)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 14, 1, 20)
        outer.setSpacing(0)
        for widget, left, below in ((self.title, 20, 0), (self.saved, 24, 12)):
            holder = QWidget()
            line = QVBoxLayout(holder)
            line.setContentsMargins(left, 0, 20, below)
            line.addWidget(widget)
            outer.addWidget(holder)
        outer.addWidget(self._scroller, 1)
        foot = QWidget()
        line = QVBoxLayout(foot)
        line.setContentsMargins(24, 10, 24, 0)
        line.addWidget(self.write)
        outer.addWidget(foot)
        self.open_station("Parting")

    def set_theme(self, theme: Palette) -> None:
        """Change colours."""
        for row in self.rows:
            row.set_theme(theme)

    def refresh(self) -> None:
        """Show the desk's state."""
        spec = self.desk.spec
        busy = "Writing…" if self.desk.writing else "Measuring first…" if self.desk.write_waits else ""
        allow(self.write, spec is not None and not busy, self)
        self.write.setText(busy or "&Write the two halves…")
        if spec is None:
            return
        self.title.show_name(spec.name)
        self.saved.setText(self.desk.saved_words)
        under = self._shield.under_mouse()
        for row in self.rows:
            row.refresh()
        if self.desk.faces != self._faces:  # not at every result: the user may look elsewhere meanwhile
            self._faces = self.desk.faces
            urgent = next((row.station.urgent() for row in self.rows if row.is_open), None)
            if urgent is not None:
                bring_into_view(self._scroller, urgent)
        if under is not None:
            settle()
            if self._shield.under_mouse() is not under:
                self._shield.rise()

    def open_station(self, title: str, *, focus: bool = False) -> None:
        """Open one station and fold the others."""
        for row in self.rows:
            opened = row.station.title == title
            row.set_open(opened)
            if opened and focus:
                row.head.setFocus(Qt.FocusReason.OtherFocusReason)
                row.station.focusNextChild()
        self.station_opened.emit()
        shown = next((row for row in self.rows if row._open), None)
        if shown is not None:
            bring_into_view(self._scroller, shown)

    @property
    def open_title(self) -> str:
        """Title of the open station, empty when all are folded."""
        return next((row.station.title for row in self.rows if row._open), "")

    def _toggle(self, row: StationRow) -> None:
        self.desk.stop_picking()
        self.open_station("" if row._open else row.station.title)

    def _rename(self) -> None:
        spec, name = self.desk.spec, self.title.text().strip()
        self.title.setModified(False)
        if spec is not None and name and name != spec.name:
            self.desk.apply(rename_housing(name))
            self.desk.end_drag()
        self.refresh()
