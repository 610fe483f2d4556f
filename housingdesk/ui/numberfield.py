"""A number with its unit that stands inside a sentence."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPointF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit
from typing_extensions import override

from housingdesk.ui.lengths import read_number, write_number

PIXELS_PER_STEP = 6  # sideways way of the pointer for one step
_DRAG_FROM_PX = 5  # a pointer that moved less while pressed has clicked
HOW_TO = "Drag it sideways to change it, click to type."
_TEXT_KEYS = frozenset(  # with Ctrl: all, copy, paste, cut, undo, redo, word by word
    {
        Qt.Key.Key_A,
        Qt.Key.Key_C,
        Qt.Key.Key_V,
        Qt.Key.Key_X,
        Qt.Key.Key_Z,
        Qt.Key.Key_Y,
        Qt.Key.Key_Left,
        Qt.Key.Key_Right,
        Qt.Key.Key_Backspace,
        Qt.Key.Key_Delete,
    }
)
BURST_MS = 500  # arrow and wheel steps closer together than this are one undo step


class NumberField(QFrame):
    """A number with its unit: typed, stepped by arrows and wheel, or dragged sideways.

    It is dragged by its unit always, by its digits until they are clicked into: from then on the pointer
    picks digits to type over, as in any text.  A double click takes the whole number.

    ``changed(value)`` comes for each new value.  A drag, and a burst of arrow or wheel steps, is
    enclosed in ``began()`` and ``ended()`` so that it can be one undo step; a typed value is not.
    ``complained(sentence)`` comes when typed text cannot be used (empty sentence: all well again);
    the last good value stays.  ``written(value)`` comes with every value it shows, whoever gave it.

    Parameters
    ----------
    least, most : limits, both allowed.
    step : of arrows, wheel and drag; Page Up and Page Down take ten, Shift a tenth.
    unit : shown behind the number unless ``show_unit`` is off; ``mm`` also takes cm, m and inch when typed.
    reason : tooltip, why the number is what it is.
    """

    began = Signal()
    changed = Signal(float)
    ended = Signal()
    complained = Signal(str)
    written = Signal(float)

    def __init__(
        self,
        value: float = 0.0,
        *,
        least: float = 0.0,
        most: float = 1e4,
        step: float = 0.1,
        decimals: int = 2,
        unit: str = "mm",
        show_unit: bool = True,
        reason: str = "",
        name: str = "",
    ) -> None:
        super().__init__()
        self._least, self._most, self._step, self._decimals, self._unit = least, most, step, decimals, unit
        self._value = value
        self._grip_at: QPointF | None = None
        self._grip_value = value
        self._pressed_at: QPointF | None = None  # on the digits, which may become a drag
        self._clicked_into = self._all_taken = False
        self._in_burst = False
        self.setObjectName("field")
        self.setProperty("wrong", False)
        self._edit = QLineEdit()
        self._edit.setObjectName("fieldText")
        self._edit.setFrame(False)
        self._edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        self._edit.setAccessibleName(name)
        self._edit.installEventFilter(self)
        self._edit.textEdited.connect(self._check)
        self._grip = QLabel(unit)
        self._grip.setObjectName("fieldUnit")
        self._grip.setVisible(show_unit)
        self._grip.setCursor(Qt.CursorShape.SizeHorCursor)
        self._grip.installEventFilter(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(6, 0, 6, 0)
        row.setSpacing(3)
        row.addWidget(self._edit)
        row.addWidget(self._grip)
        self.setFocusProxy(self._edit)
        self.setToolTip(f"{reason}\n{HOW_TO}" if reason else HOW_TO)
        self.setFixedHeight(26)
        self._burst = QTimer(self)
        self._burst.setSingleShot(True)
        self._burst.setInterval(BURST_MS)
        self._burst.timeout.connect(self._end_burst)
        self._write()

    @property
    def value(self) -> float:
        """The last good value."""
        return self._value

    @property
    def line_edit(self) -> QLineEdit:
        """The text inside, for tests and accessibility."""
        return self._edit

    @property
    def grip(self) -> QLabel:
        """The unit, which is also the handle to drag."""
        return self._grip

    def set_limits(self, least: float, most: float) -> None:
        """Change what can be typed; the value itself stays."""
        self._least, self._most = least, most

    def show_value(self, value: float) -> None:
        """Show a value from outside; says nothing to anybody and leaves text being typed alone."""
        if value == self._value:
            return
        self._value = value
        if not (self._edit.hasFocus() and self._edit.isModified()):
            self._write()

    @override
    def sizeHint(self) -> QSize:
        widest = max(len(write_number(v, self._decimals)) for v in (self._value, min(self._most, 99.9), 10.0))
        digits = self.fontMetrics().horizontalAdvance("0" * (widest + 1))
        unit = 0 if self._grip.isHidden() else self._grip.sizeHint().width() + 3
        return QSize(digits + unit + 17, 26)

    @override
    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    # typing

    def _read(self, text: str) -> float:
        return read_number(text, self._unit, self._least, self._most, whole=self._decimals == 0)

    def _check(self, text: str) -> None:
        try:
            self._read(text)
        except ValueError as error:
            self._mark(str(error) if text.strip() else "")
        else:
            self._mark("")

    def _mark(self, complaint: str) -> None:
        wrong = bool(complaint)
        if self.property("wrong") != wrong:
            self.setProperty("wrong", wrong)
            self.style().unpolish(self)
            self.style().polish(self)
        self.complained.emit(complaint)

    def _take(self) -> bool:
        """Take the typed text over; False when it is no good."""
        if not self._edit.isModified():
            return True
        try:
            value = self._read(self._edit.text())
        except ValueError as error:
            self._mark(str(error))
            return False
        self._mark("")
        self._edit.setModified(False)
        self._set(value)
        self._write()
        return True

    def _set(self, value: float) -> None:
        value = min(self._most, max(self._least, value))
        if value != self._value:
            self._value = value
            self.changed.emit(value)

    def _write(self) -> None:
        self._edit.setText(write_number(self._value, self._decimals))
        self._edit.setModified(False)
        self.updateGeometry()
        self.written.emit(self._value)

    # steps and drags

    def _stepped(self, steps: float, start: float | None = None) -> None:
        base = self._value if start is None else start
        value = base + steps * self._step
        self._set(round(value, self._decimals + 1))
        self._write()

    def _step_in_burst(self, steps: float) -> None:
        self._take()
        if not self._in_burst:
            self._in_burst = True
            self.began.emit()
        self._stepped(steps)
        self._mark("")
        self._burst.start()

    def _end_burst(self) -> None:
        self._burst.stop()
        if self._in_burst:
            self._in_burst = False
            self.ended.emit()

    def grip_press(self, event: QMouseEvent) -> None:
        """Start a sideways drag; also used by the word before the field."""
        if event.button() != Qt.MouseButton.LeftButton or not self.isEnabled():
            return
        self._begin_grip(event.globalPosition())
        self._edit.setFocus(Qt.FocusReason.MouseFocusReason)

    def _begin_grip(self, at: QPointF) -> None:
        self._end_burst()
        self._take()
        self._grip_at, self._grip_value = at, self._value
        self.began.emit()

    def grip_move(self, event: QMouseEvent) -> None:
        """Follow a sideways drag."""
        if self._grip_at is None:
            return
        way = event.globalPosition().x() - self._grip_at.x()
        fine = 0.1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
        self._stepped(round(way / PIXELS_PER_STEP) * fine, self._grip_value)

    def grip_release(self, event: QMouseEvent) -> None:
        """End a sideways drag."""
        if self._grip_at is not None:
            self._grip_at = None
            self.ended.emit()

    # events of the text and of the unit

    @override
    def eventFilter(self, watched: QObject, event: QEvent, /) -> bool:
        if watched is self._grip and isinstance(event, QMouseEvent):
            return self._on_grip(event)
        if watched is self._edit:
            if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
                return self._leave_to_window(event)
            if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
                return self._on_key(event)
            if isinstance(event, QWheelEvent):
                return self._on_wheel(event)
            if isinstance(event, QMouseEvent):
                return self._on_digits(event)
            if isinstance(event, QFocusEvent):
                self._on_focus(event)
        return super().eventFilter(watched, event)

    def _leave_to_window(self, event: QKeyEvent) -> bool:
        """Let the window have the keys that mean nothing in a number: Undo, commands, letters of no unit."""
        text = event.text().lower()
        plain = event.modifiers() in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier)
        undo = event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo)
        # With Ctrl a line of text claims more keys than the usual ones, such as Ctrl+E for its end.
        command = event.modifiers() == Qt.KeyboardModifier.ControlModifier and event.key() not in _TEXT_KEYS
        letter = plain and text.isalpha() and text not in "mcinh"
        if command or letter or (undo and not self._edit.isModified()):
            event.ignore()
            return True
        return False

    def _on_grip(self, event: QMouseEvent) -> bool:
        if event.type() == QEvent.Type.MouseButtonPress:
            self.grip_press(event)
        elif event.type() == QEvent.Type.MouseMove:
            self.grip_move(event)
        elif event.type() == QEvent.Type.MouseButtonRelease:
            self.grip_release(event)
        return False

    def _on_digits(self, event: QMouseEvent) -> bool:
        """Tell a drag of the number from a click into it; a double click takes all of it."""
        kind = event.type()
        if kind == QEvent.Type.MouseButtonDblClick:
            self._edit.mouseDoubleClickEvent(event)  # takes a word, which ends at the decimal point
            self._edit.selectAll()
            self._all_taken = True
            return True
        if kind == QEvent.Type.MouseButtonPress and event.button() == Qt.MouseButton.LeftButton:
            typing = self._clicked_into or self._edit.isModified()
            self._pressed_at = None if typing else event.globalPosition()
        elif kind == QEvent.Type.MouseMove and self._all_taken:
            return True  # a hand that trembles before it lets go
        elif kind == QEvent.Type.MouseMove and self._grip_at is not None:
            self.grip_move(event)
            return True
        elif kind == QEvent.Type.MouseMove and self._pressed_at is not None:
            if abs(event.globalPosition().x() - self._pressed_at.x()) >= _DRAG_FROM_PX:
                self._begin_grip(event.globalPosition())
                self._edit.setCursor(Qt.CursorShape.SizeHorCursor)
            return True
        elif kind == QEvent.Type.MouseButtonRelease and event.button() == Qt.MouseButton.LeftButton:
            self._clicked_into = self._clicked_into or self._grip_at is None
            self._pressed_at, self._all_taken = None, False
            self._edit.setCursor(Qt.CursorShape.IBeamCursor)
            if self._grip_at is not None:
                self.grip_release(event)
                self._edit.selectAll()
                return True
        return False

    def _on_key(self, event: QKeyEvent) -> bool:
        steps = {
            Qt.Key.Key_Up: 1.0,
            Qt.Key.Key_Down: -1.0,
            Qt.Key.Key_PageUp: 10.0,
            Qt.Key.Key_PageDown: -10.0,
        }.get(Qt.Key(event.key()))
        if steps is not None:
            fine = 0.1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
            self._step_in_burst(steps * fine)
            return True
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._end_burst()
            if self._take():
                self._edit.selectAll()
            return True
        if event.key() == Qt.Key.Key_Escape and self._edit.isModified():
            self._write()
            self._mark("")
            return True
        return False

    def _on_wheel(self, event: QWheelEvent) -> bool:
        if not self._edit.hasFocus():  # a wheel that scrolls the card must not change numbers
            event.ignore()
            return True
        self._step_in_burst(event.angleDelta().y() / 120.0)
        return True

    def _on_focus(self, event: QFocusEvent) -> None:
        if event.type() == QEvent.Type.FocusIn:
            QTimer.singleShot(0, self._edit, self._edit.selectAll)
        elif event.type() == QEvent.Type.FocusOut:
            self._clicked_into = False
            self._end_burst()
            if not self._take():
                kept = f"{write_number(self._value, self._decimals)} {self._unit}".strip()
                said = self._edit.text().strip() or "nothing"
                self._write()
                self._mark(f"“{said}” cannot be used here; kept {kept}.")
        self.setProperty("focused", event.type() == QEvent.Type.FocusIn)
        self.style().unpolish(self)
        self.style().polish(self)
