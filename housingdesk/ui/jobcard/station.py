"""What a station of the job card is, and helpers to write one.

A station is one file in this folder with a ``Station`` subclass; ``card.py`` finds it.  It reads the desk
in ``refresh`` and asks it for edits; it holds no truth of its own.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QHideEvent
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget
from typing_extensions import override

from housingdesk.spec.edits import Edit
from housingdesk.spec.models import Spec
from housingdesk.ui.desk import Desk
from housingdesk.ui.numberfield import NumberField


class Station(QWidget):
    """One station: a title, a one-line summary, and sentences with the numbers in them.

    Subclasses set ``title`` and ``order`` (place on the card, small first), build their sentences in
    ``build`` and show the desk's state in ``refresh``, which is called only while a housing is open.
    """

    title = ""
    order = 0

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(12, 10, 12, 12)
        self.column.setSpacing(8)
        self.build()

    @property
    def spec(self) -> Spec:
        """The spec now; only while a housing is open."""
        assert self.desk.spec is not None
        return self.desk.spec

    def build(self) -> None:
        """Make the widgets, once."""
        raise NotImplementedError

    def refresh(self) -> None:
        """Show the desk's state."""
        raise NotImplementedError

    def urgent(self) -> QWidget | None:
        """Return what has to stay in view after a step of the user's; None as a rule."""
        return None

    def summary(self) -> str:
        """Return the station in one short line."""
        raise NotImplementedError

    def is_done(self) -> bool:
        """Whether the dot is filled."""
        return True

    def drives(self, field: NumberField, edit: Callable[[float], Edit]) -> NumberField:
        """Let a field's value become an edit; its drags are one undo step."""
        field.began.connect(self.desk.begin_drag)
        field.changed.connect(lambda value: self.desk.apply(edit(value)))
        field.ended.connect(self.desk.end_drag)
        return field

    def add(self, widget: QWidget) -> None:
        """Put a widget below the last one."""
        self.column.addWidget(widget)


def note(words: str = "") -> QLabel:
    """Return a soft line of explanation that wraps."""
    label = QLabel(words)
    label.setObjectName("soft")
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    may_be_narrow(label)
    return label


def may_be_narrow(label: QLabel) -> None:
    """Let a wrapping label be narrower than its longest word, so that a long name widens no card."""
    policy = label.sizePolicy()
    policy.setHorizontalPolicy(QSizePolicy.Policy.Ignored)
    label.setSizePolicy(policy)


class ResultNote(QLabel):
    """A measured result with a place of its own: while it is measured anew the place stays, and says so.

    Until it is folded away the place becomes no smaller: what lies below would slide up under the mouse.

    Parameters
    ----------
    what : the result in a few words, without a figure.
    usual : as it mostly reads, so that it has its place before it is known; empty: as high as ``what``.
    """

    def __init__(self, what: str, usual: str = "") -> None:
        super().__init__()
        self._what = what
        self._usual = usual
        self.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.setObjectName("soft")
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        may_be_narrow(self)

    def show_result(self, words: str, *, measuring: bool) -> None:
        """Show the result, or that it is being measured; nothing where there is none to come."""
        if not self.isHidden():
            self._keep_place()
        if measuring and self._usual and self.minimumHeight() == 0:
            self.setText(self._usual)
            self._keep_place()
        self.setText(f"{self._what}: measuring…" if measuring else words)
        self.setVisible(measuring or bool(words))

    def _keep_place(self) -> None:
        if self.width() > 0 and self.text():
            self.setMinimumHeight(max(self.minimumHeight(), self.heightForWidth(self.width())))

    @override
    def hideEvent(self, event: QHideEvent, /) -> None:
        super().hideEvent(event)
        self.setMinimumHeight(0)


def show_note(label: QLabel, words: str) -> None:
    """Set a note's words; without words it takes no room."""
    label.setText(words)
    label.setVisible(bool(words))


def button(words: str, reason: str, pressed: Callable[[], object], *, link: bool = False) -> QPushButton:
    """Return a button with a reason as its tooltip."""
    made = QPushButton(words)
    made.setToolTip(reason)
    made.clicked.connect(lambda: pressed())
    if link:
        made.setObjectName("link")
        made.setCursor(Qt.CursorShape.PointingHandCursor)
    return made
