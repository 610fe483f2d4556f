"""A line of text on the job card."""

from __future__ import annotations

from PySide6.QtCore import QEvent
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
