"""Has the bodies on the stage dressed once they have stood still for a while."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Signal

from housingdesk.view3d.bodies import Dressing
from housingdesk.view3d.stage import Stage
from housingdesk.view3d.tailor import Tailor

DRESS_MS = 120  # a mesh has stood for this long: work out its edges


class Dresser(QObject):
    """Sees which bodies want a dressing and puts it on them.  ``dressed`` comes when one has been put on.

    Parameters
    ----------
    busy : whether the meshes are about to change again, so that dressing them would be in vain.
    """

    dressed = Signal()

    def __init__(self, stage: Stage, busy: Callable[[], bool], parent: QObject) -> None:
        super().__init__(parent)
        self._stage, self._busy = stage, busy
        self._tailor = Tailor(self)
        self._tailor.done.connect(self._put_on)
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(DRESS_MS)
        self._wait.timeout.connect(self._measure)

    def look(self) -> None:
        """See whether a body wants a dressing; the stage has been changed."""
        if any(body.wants_dressing() for body in self._stage.bodies.values()):
            self._wait.start()

    def stop(self) -> None:
        """Dress no more."""
        self._wait.stop()
        self._tailor.stop()

    def _measure(self) -> None:
        if self._busy():
            self._wait.start()
            return
        for body in self._stage.bodies.values():
            if body.wants_dressing():
                self._tailor.make(body.item.mesh, body.item.edges)

    def _put_on(self, dressing: Dressing) -> None:
        taken = [body.put_on(dressing) for body in self._stage.bodies.values()]
        if any(taken):
            self.dressed.emit()
