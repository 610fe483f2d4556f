"""From the worker client's listener thread to the window's thread; the only place that knows both."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QObject, Qt, Signal, Slot

from housingdesk.jobs.client import WorkerClient
from housingdesk.jobs.messages import Answer, Job, Progress


class Client(Protocol):
    """What the window needs of the worker client."""

    def submit(self, job: Job) -> int:
        """Hand over a job and return its generation."""

    def cancel(self, generation: int) -> None:
        """Stop a job."""

    def close(self) -> None:
        """Stop everything."""


ClientFactory = Callable[[Path, Callable[[int, Job, Answer], None], Callable[[int, Progress], None]], Client]


class Bridge(QObject):
    """Submits jobs, and passes on what comes back as signals in the window's thread.

    ``answered(generation, job, answer)`` and ``progressed(generation, progress)``.
    """

    answered = Signal(int, object, object)
    progressed = Signal(int, object)
    _heard_answer = Signal(int, object, object)
    _heard_progress = Signal(int, object)

    def __init__(self, store_folder: Path, factory: ClientFactory = WorkerClient) -> None:
        super().__init__()
        queued = Qt.ConnectionType.QueuedConnection
        self._heard_answer.connect(self._pass_answer, queued)
        self._heard_progress.connect(self._pass_progress, queued)
        self._client = factory(store_folder, self._heard_answer.emit, self._heard_progress.emit)
        self._open = True

    def submit(self, job: Job) -> int:
        """Hand over a job and return its generation; later jobs have greater numbers."""
        return self._client.submit(job)

    def cancel(self, generation: int) -> None:
        """Stop a job; it is not answered any more."""
        self._client.cancel(generation)

    def close(self) -> None:
        """Stop the worker; nothing arrives afterwards."""
        if self._open:
            self._open = False
            self._client.close()

    @Slot(int, object, object)
    def _pass_answer(self, generation: int, job: object, answer: object) -> None:
        if self._open:
            self.answered.emit(generation, job, answer)

    @Slot(int, object)
    def _pass_progress(self, generation: int, progress: object) -> None:
        if self._open:
            self.progressed.emit(generation, progress)
