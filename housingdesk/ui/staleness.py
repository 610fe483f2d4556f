"""When halves that are out of date are shown so: not at once, or every short wait would flash."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal

PATIENCE_MS = 400  # out of date for less than this is not worth a change of colour


class Staleness(QObject):
    """Follows whether the halves are out of date, slowly on and at once off.

    ``worn`` comes when they have been so for long enough that ``shown`` becomes true.
    """

    worn = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._shown = False
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(PATIENCE_MS)
        self._timer.timeout.connect(self._wear)

    @property
    def shown(self) -> bool:
        """Whether views are to show the halves as out of date."""
        return self._shown

    @property
    def waiting(self) -> bool:
        """Whether they are out of date, but not yet for long."""
        return self._timer.isActive()

    def follow(self, stale: bool) -> None:
        """Take in whether the halves are out of date now."""
        if not stale:
            self._timer.stop()
            self._shown = False
        elif not self._shown and not self._timer.isActive():
            self._timer.start()

    def _wear(self) -> None:
        self._shown = True
        self.worn.emit()
