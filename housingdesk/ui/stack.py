"""A column that scrolls, exactly as high as its wrapped text needs."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QScrollArea, QVBoxLayout, QWidget
from typing_extensions import override


class Stack(QWidget):
    """The column.

    Qt takes a layout's least height at its least width, where text wraps most, and would scroll too early;
    the height for the real width alone counts here.
    """

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(0)
        self.column.addStretch(1)

    @override
    def minimumSizeHint(self) -> QSize:
        return QSize(super().minimumSizeHint().width(), 0)

    def add(self, widget: QWidget) -> None:
        """Put a widget below the last one."""
        self.column.insertWidget(self.column.count() - 1, widget)


def unfold(widget: QWidget, shown: bool) -> None:
    """Show or hide something that may have changed while it was hidden.

    Qt keeps the sizes it once worked out for what lies inside a hidden widget, whatever changes there.
    """
    widget.setVisible(shown)
    if shown:
        for child in widget.findChildren(QWidget):
            child.updateGeometry()


def scrolled(stack: Stack) -> QScrollArea:
    """Return a frameless area that scrolls a stack up and down."""
    area = QScrollArea()
    area.setObjectName("card")
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(stack)
    return area
