"""Work off the window's thread: reading and writing files, nothing that makes geometry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QRunnable, Qt, QThreadPool, Signal

from housingdesk.errors import HousingError


class Background(QObject):
    """Runs one thing after another in a thread and tells the result in the window's thread.

    ``delivered`` comes after each result was told.
    """

    delivered = Signal()
    _finished = Signal(object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(1)
        self._pending = 0
        self._finished.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

    @property
    def pending(self) -> int:
        """How many results are still to be told."""
        return self._pending

    def _deliver(self, call: Callable[[Any], object], value: object) -> None:
        self._pending -= 1
        try:
            call(value)
        finally:
            self.delivered.emit()

    def do(
        self,
        work: Callable[[], Any],
        done: Callable[[Any], object],
        refused: Callable[[HousingError], object],
    ) -> None:
        """Do some work; then call ``done`` with its value, or ``refused`` when it raised a HousingError.

        Any other exception is raised again in the window's thread, where the catcher of bugs is.
        """
        self._pending += 1
        self._pool.start(_Task(work, done, refused, self._finished.emit))

    def wait(self) -> None:
        """Wait until everything is done; what it tells still has to be delivered by the event loop."""
        self._pool.waitForDone()


class _Task(QRunnable):
    def __init__(
        self,
        work: Callable[[], Any],
        done: Callable[[Any], object],
        refused: Callable[[HousingError], object],
        tell: Callable[[Callable[[Any], object], object], None],
    ) -> None:
        super().__init__()
        self._work, self._done, self._refused, self._tell = work, done, refused, tell

    def run(self) -> None:
        """Work and tell."""
        try:
            value = self._work()
        except HousingError as error:
            self._tell(self._refused, error)
        except BaseException as error:
            self._tell(_raise_again, error)
        else:
            self._tell(self._done, value)


def _raise_again(error: BaseException) -> None:
    raise error
