"""Leaves the bench a usable share of a small window."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QSplitter, QWidget
from typing_extensions import override

from housingdesk.ui.proofsheet import ProofSheet

NARROW_PX = 1180  # below this job card and proof sheet together would leave less to the bench than they take
LOW_PX = 780
STRIP_PX, LOW_STRIP_PX = 250, 180


class Room(QObject):
    """Folds the proof sheet in a narrow window and lowers the section strip in a low one.

    Only when the window becomes so or is no longer: what the user unfolds or drags stays until then.
    """

    def __init__(self, window: QWidget, proof: ProofSheet, splitter: QSplitter) -> None:
        super().__init__(window)
        self._proof, self._splitter = proof, splitter
        self._narrow = self._low = False
        window.installEventFilter(self)

    @override
    def eventFilter(self, watched: QObject, event: QEvent, /) -> bool:
        if event.type() == QEvent.Type.Resize and isinstance(watched, QWidget):
            self._fit(watched.width() < NARROW_PX, watched.height() < LOW_PX)
        return super().eventFilter(watched, event)

    def _fit(self, narrow: bool, low: bool) -> None:
        if narrow != self._narrow:
            self._narrow = narrow
            self._proof.set_folded(narrow)
        if low != self._low:
            self._low = low
            strip = LOW_STRIP_PX if low else STRIP_PX
            whole = max(sum(self._splitter.sizes()), 2 * strip)
            self._splitter.setSizes([whole - strip, strip])
