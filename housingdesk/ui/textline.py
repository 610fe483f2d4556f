"""A line of text on the job card."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QSize
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit
from typing_extensions import override


class TextLine(QLineEdit):
    """A line of text that has its own undo only while something unfinished is typed in it.

    Otherwise Undo and Redo are the window's: a line that merely has the keyboard must not swallow them.
    """

    @override
    def event(self, event: QEvent, /) -> bool:
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and not self.isModified()
            and (event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo))
        ):
            event.ignore()
            return True
        return super().event(event)


_USUAL_LETTERS = 17  # Qt's own hint is as wide as so many x
_LEAST_PX = 64
_CURSOR_PX = 4


class WordLine(TextLine):
    """A line of text in a sentence, as wide as what is written in it; the sentence wraps around it."""

    def __init__(self, text: str = "") -> None:
        super().__init__(text)
        self.setMinimumWidth(_LEAST_PX)
        self.textChanged.connect(lambda _: self.updateGeometry())

    @override
    def sizeHint(self) -> QSize:
        usual, letters = super().sizeHint(), self.fontMetrics()
        sides = usual.width() - _USUAL_LETTERS * letters.horizontalAdvance("x") + _CURSOR_PX
        wide = sides + letters.horizontalAdvance(self.text() or self.placeholderText())
        return QSize(max(wide, _LEAST_PX), usual.height())
