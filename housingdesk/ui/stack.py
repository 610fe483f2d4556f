"""A column that scrolls, exactly as high as its wrapped text needs."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication, QEvent, QPoint, QSize, Qt
from PySide6.QtWidgets import QBoxLayout, QScrollArea, QVBoxLayout, QWidget
from typing_extensions import override

_LEVELS = 16  # of widgets around one another, from a word to the window, and some to spare


class Stack(QWidget):
    """The column.

    Qt takes a layout's least height at its least width, where text wraps most, and would scroll too early;
    the height for the real width alone counts here.  Nothing in it makes it wider than what shows it: one
    long word would cut off every line.
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
        return QSize(0, 0)

    def add(self, widget: QWidget) -> None:
        """Put a widget below the last one."""
        self.column.insertWidget(self.column.count() - 1, widget)
        widget.show()  # now; Qt would do it later, after drawing the column without it


def unfold(widget: QWidget, shown: bool) -> None:
    """Show or hide something that may have changed while it was hidden.

    Qt keeps the sizes it once worked out for what lies inside a hidden widget, whatever changes there.
    """
    widget.setVisible(shown)
    if shown:
        for child in widget.findChildren(QWidget):
            child.updateGeometry()


def settle() -> None:
    """Lay out at once all that has changed.

    Qt does it one widget around another at a time and draws in between: lines would be seen squeezed.
    """
    for _ in range(_LEVELS):  # what one asks of the next may lie behind in the queue
        QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest)


def relist(column: QBoxLayout, wanted: Sequence[QWidget], heir: QWidget) -> None:
    """Let a column hold these widgets in this order; those that were in it and are not wanted go for good.

    ``takeAt`` would leave the old layout item to Python.  While that lives, the item of a widget put in again
    is not the widget's own: Qt never finds its height by width out of date, and squeezes what it shows later.
    Nor may Python ask for an item (``itemAt``): Qt deletes it unasked, and Python would free it once more.
    """
    parent, direct = column.parentWidget(), Qt.FindChildOption.FindDirectChildrenOnly
    around = parent.findChildren(QWidget, options=direct) if parent is not None else []
    for old in (w for w in around if column.indexOf(w) >= 0):
        column.removeWidget(old)  # deletes the item at once
        if old not in wanted:
            take_out(old, heir)
    for widget in wanted:
        column.addWidget(widget)


def take_out(widget: QWidget, heir: QWidget) -> None:
    """Take a widget away for good; if the keyboard was in it, ``heir`` gets that."""
    hand_on(widget, heir)
    widget.setParent(None)
    widget.deleteLater()


def hand_on(widget: QWidget, heir: QWidget) -> None:
    """Give the keyboard to ``heir`` if it is in a widget that is about to go, to hide or to rest.

    Qt would give it to the next in line, which may be a text at the other end of the window, and would
    scroll there.
    """
    focused = widget.window().focusWidget()
    if focused is not None and (focused is widget or widget.isAncestorOf(focused)):
        heir.setFocus(Qt.FocusReason.OtherFocusReason)


def allow(widget: QWidget, on: bool, heir: QWidget) -> None:
    """Let a widget be used, or rest; ``heir`` gets the keyboard if it was in one that is to rest."""
    if not on:
        hand_on(widget, heir)
    widget.setEnabled(on)


def show_if(widget: QWidget, shown: bool, heir: QWidget) -> None:
    """Show or hide a widget; ``heir`` gets the keyboard if it was in one that is hidden."""
    if not shown:
        hand_on(widget, heir)
    widget.setVisible(shown)


def keep_room(widget: QWidget, *, on: bool = True) -> None:
    """Let a widget keep its room when it is hidden, so that nothing slides into it."""
    policy = widget.sizePolicy()
    policy.setRetainSizeWhenHidden(on)
    widget.setSizePolicy(policy)


def bring_into_view(area: QScrollArea, widget: QWidget) -> None:
    """Scroll as little as shows a widget of the area's stack; its top comes first."""
    settle()
    bar, room = area.verticalScrollBar(), area.viewport().height()
    top = widget.mapTo(area.viewport(), QPoint(0, 0)).y() + bar.value()
    lowest = max(top + widget.height() - room, 0)
    bar.setValue(min(max(bar.value(), lowest), top))


def scrolled(stack: Stack) -> QScrollArea:
    """Return a frameless area that scrolls a stack up and down."""
    area = QScrollArea()
    area.setObjectName("card")
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(stack)
    return area
