"""A choice that stands inside a sentence."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QComboBox
from typing_extensions import override


class ChoiceField(QComboBox):
    """A choice inside a sentence.

    ``chosen(key)`` comes only when the user chose, never when the program shows a value.

    Parameters
    ----------
    choices : pairs of key and words.
    reason : tooltip.
    """

    chosen = Signal(str)

    def __init__(self, choices: Iterable[tuple[str, str]], *, reason: str = "", name: str = "") -> None:
        super().__init__()
        for key, words in choices:
            self.addItem(words, key)
        self.setToolTip(reason)
        self.setAccessibleName(name)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.setFixedHeight(26)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.activated.connect(lambda index: self.chosen.emit(str(self.itemData(index))))

    @property
    def key(self) -> str:
        """The key now chosen."""
        return str(self.currentData())

    def show_key(self, key: str) -> None:
        """Show a choice from outside; says nothing to anybody."""
        index = self.findData(key)
        if index >= 0 and index != self.currentIndex():
            self.setCurrentIndex(index)

    @override
    def wheelEvent(self, event: QWheelEvent, /) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
