"""Saving off the window's thread, and waiting for it when there is no other way."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEventLoop

from housingdesk.document.document import Document, Save
from housingdesk.errors import HousingError
from housingdesk.ui.background import Background


class Saving:
    """Saves documents one after another in the background.

    Parameters
    ----------
    background : the thread that also reads and copies projects, so that nothing is read half-written.
    refused : told when a save could not be done; the document stays modified.
    """

    def __init__(self, background: Background, refused: Callable[[HousingError], object]) -> None:
        self._background = background
        self._refused = refused
        self._running: list[Save] = []
        self._well = True

    @property
    def running(self) -> bool:
        """Whether a save is under way."""
        return bool(self._running)

    def start(self, document: Document, path: Path, done: Callable[[], object]) -> None:
        """Save a document as it is now; ``done`` is called once it is on disk."""
        save = document.begin_save(path)
        self._running.append(save)

        def written(_: None) -> None:
            self._end(save, well=True)
            document.end_save(save)
            done()

        def refused(error: HousingError) -> None:
            self._end(save, well=False)
            self._refused(error)

        self._background.do(save.write, written, refused)

    def finish(self) -> bool:
        """Wait for what is under way; whether the last save went well.

        The window goes on drawing meanwhile, but takes neither mouse nor keys.
        """
        while self._running and self._background.pending:
            loop = QEventLoop()
            self._background.delivered.connect(loop.quit)
            loop.exec(QEventLoop.ProcessEventsFlag.ExcludeUserInputEvents)
            self._background.delivered.disconnect(loop.quit)
        if self._running:  # a bug ended it, which the catcher has told
            self._running.clear()
            self._well = False
        return self._well

    def _end(self, save: Save, *, well: bool) -> None:
        if save in self._running:
            self._running.remove(save)
        self._well = well
