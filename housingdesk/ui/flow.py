"""Running text with fields in it: words and widgets laid out line by line, as wide as there is room."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping

from PySide6.QtCore import QEvent, QPoint, QRect, QSize, Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLayout, QLayoutItem, QSizePolicy, QWidget
from typing_extensions import override

from housingdesk.ui.numberfield import NumberField

WORD_GAP = 5
LINE_GAP = 5
QWIDGETSIZE_MAX = (1 << 24) - 1  # Qt's own; PySide6 does not name it


class FlowLayout(QLayout):
    """Places its items left to right and wraps them like words of a text."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)

    @override
    def addItem(self, item: QLayoutItem, /) -> None:
        self._items.append(item)

    @override
    def count(self) -> int:
        return len(self._items)

    @override
    def itemAt(self, index: int, /) -> QLayoutItem | None:
        return self._items[index] if 0 <= index < len(self._items) else None

    @override
    def takeAt(self, index: int, /) -> QLayoutItem | None:
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    @override
    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    @override
    def hasHeightForWidth(self) -> bool:
        return True

    @override
    def heightForWidth(self, width: int, /) -> int:
        return self._place(QRect(0, 0, width, 0), dry=True)

    @override
    def setGeometry(self, rect: QRect, /) -> None:
        super().setGeometry(rect)
        self._place(rect, dry=False)

    @override
    def sizeHint(self) -> QSize:
        return self.minimumSize()

    @override
    def minimumSize(self) -> QSize:
        size = QSize()
        for item in self._items:
            size = size.expandedTo(item.minimumSize())
        return size

    def _place(self, rect: QRect, *, dry: bool) -> int:
        lines: list[list[tuple[QLayoutItem, QSize]]] = [[]]
        used = 0
        for item in self._items:
            if item.isEmpty():  # hidden widgets take no room
                continue
            size = item.sizeHint().boundedTo(QSize(rect.width(), QWIDGETSIZE_MAX))
            gap = WORD_GAP if lines[-1] else 0
            if lines[-1] and used + gap + size.width() > rect.width():
                lines.append([])
                used, gap = 0, 0
            lines[-1].append((item, size))
            used += gap + size.width()
        y = rect.y()
        for line in lines:
            height = max((size.height() for _, size in line), default=0)
            x = rect.x()
            for item, size in line:
                if not dry:
                    middle = y + (height - size.height()) // 2
                    item.setGeometry(QRect(QPoint(x, middle), size))
                x += size.width() + WORD_GAP
            y += height + LINE_GAP
        return max(0, y - LINE_GAP - rect.y())


class DragWord(QLabel):
    """The word before a number: its Alt key reaches the field, dragging it sideways changes the value."""

    def __init__(self, text: str, field: NumberField) -> None:
        super().__init__(text)
        self._field = field
        self.setBuddy(field.line_edit)
        self.setCursor(Qt.CursorShape.SizeHorCursor)
        self.setToolTip(field.toolTip())

    @override
    def mousePressEvent(self, event: QMouseEvent, /) -> None:
        self._field.grip_press(event)

    @override
    def mouseMoveEvent(self, event: QMouseEvent, /) -> None:
        self._field.grip_move(event)

    @override
    def mouseReleaseEvent(self, event: QMouseEvent, /) -> None:
        self._field.grip_release(event)


class CountedWord(QLabel):
    """A noun that follows a number: the one word for 1, the other for all else."""

    def __init__(self, one: str, many: str, number: NumberField) -> None:
        super().__init__()
        self._words = one, many
        number.written.connect(self._agree)
        self._agree(number.value)

    def _agree(self, value: float) -> None:
        self.setText(self._words[value != 1])


class Sentence(QWidget):
    """One sentence with fields in it, and below it what is wrong with a number just typed.

    Parameters
    ----------
    template : text with ``{name}`` where the widget of that name belongs; ``&`` marks the Alt key of
        the field that follows; ``hook|hooks`` is the one or the other by the number before it; a stretch
        in square brackets can be left out.
    fields : the widgets by name.
    """

    grew = Signal()

    def __init__(self, template: str, fields: Mapping[str, QWidget], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        layout = FlowLayout(self)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        tokens, stretch_of = _tokens(template)
        self._stretches: dict[int, tuple[list[str], list[QWidget]]] = {}  # their fields, and all in them
        named = [re.fullmatch(r"\{(\w+)\}([.,;:)]*)", token) for token in tokens]
        last: NumberField | None = None
        led = None  # a single letter, which stays on the line of the field that follows
        for index, (token, match) in enumerate(zip(tokens, named, strict=True)):
            if match:
                last = _number_of(fields[match[1]]) or last
                self._put(_with_mark(fields[match[1]], match[2], led), stretch_of[index], match[1])
                led = None
                continue
            if "|" in token and last is not None:
                one, many = token.split("|", 1)
                self._put(CountedWord(one, many, last), stretch_of[index])
                continue
            # A word with an Alt key belongs to the next field, wherever that is; others to one beside them.
            reach = named[index + 1 :] if "&" in token else named[index + 1 : index + 2]
            following = next((m for m in reach if m), None)
            word = _word(token, fields[following[1]] if following else None)
            beside = index + 1 < len(named) and named[index + 1] is not None
            if len(token) == 1 and beside:
                led = word
            else:
                self._put(word, stretch_of[index])
        for field in fields.values():
            for number in [field] if isinstance(field, NumberField) else field.findChildren(NumberField):
                number.complained.connect(self._complain)
        self._complaint = QLabel()
        self._complaint.setObjectName("complaint")
        self._complaint.setWordWrap(True)
        self._complaint.hide()
        layout.addWidget(self._complaint)

    def leave_out(self, barred: Container[str]) -> None:
        """Leave out the bracketed stretches that have a barred field in them, and show the others."""
        for names, widgets in self._stretches.values():
            shown = not any(name in barred for name in names)
            for widget in widgets:
                widget.setVisible(shown)

    def _put(self, widget: QWidget, stretch: int, name: str = "") -> None:
        layout = self.layout()
        assert layout is not None
        layout.addWidget(widget)
        if stretch:
            names, widgets = self._stretches.setdefault(stretch, ([], []))
            names.append(name)
            widgets.append(widget)

    @property
    def complaint(self) -> str:
        """The sentence now shown under the fields; empty when all is well."""
        return "" if self._complaint.isHidden() else self._complaint.text()

    def _complain(self, text: str) -> None:
        if text == self._complaint.text():
            return
        self._complaint.setText(text)
        if text:
            width = max(160, self.width())
            self._complaint.setFixedSize(width, self._complaint.heightForWidth(width))
        self._complaint.setVisible(bool(text))
        self.updateGeometry()
        self.grew.emit()

    @override
    def changeEvent(self, event: QEvent, /) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.updateGeometry()


def _tokens(template: str) -> tuple[list[str], list[int]]:
    """Return words and fields of a template, and of each in which bracketed stretch it is, 0 for none."""
    tokens, stretch_of, begun, stretch = [], [], 0, 0
    for token in re.findall(r"[\[\]]|\{\w+\}[.,;:)]*|[^\s{}\[\]]+", template):
        if token == "[":
            begun += 1
            stretch = begun
        elif token == "]":
            stretch = 0
        else:
            tokens.append(token)
            stretch_of.append(stretch)
    return tokens, stretch_of


def _number_of(field: QWidget) -> NumberField | None:
    return field if isinstance(field, NumberField) else field.findChild(NumberField)


def _word(token: str, field: QWidget | None) -> QLabel:
    if isinstance(field, NumberField):
        return DragWord(token, field)
    label = QLabel(token)
    if field is not None:
        label.setBuddy(field)
    return label


def _with_mark(widget: QWidget, mark: str, led: QLabel | None) -> QWidget:
    """Keep a full stop on the line of the field it follows, and a letter on that of the field it leads."""
    if not mark and led is None:
        return widget
    return _Holder(widget, mark, led)


class _Holder(QWidget):
    """A field with a punctuation mark right behind it, or a letter before it."""

    def __init__(self, widget: QWidget, mark: str, led: QLabel | None) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(1)
        if led is not None:
            row.addWidget(led)
            row.addSpacing(WORD_GAP - 1)
        row.addWidget(widget)
        if mark:
            row.addWidget(QLabel(mark))
