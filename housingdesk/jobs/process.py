"""One worker process, seen from the window's side."""

from __future__ import annotations

import multiprocessing
from pathlib import Path
from typing import Any

from housingdesk.jobs import wire
from housingdesk.jobs.messages import Progress
from housingdesk.jobs.worker import HandlerFactory, serve

# Spawn and not fork: the window has threads, and a forked child would inherit their locks half-way.
_CONTEXT = multiprocessing.get_context("spawn")


class WorkerProcess:
    """A running worker; ``ready`` once it has said that it is warm, ``warming`` what it said until then.

    Raises
    ------
    OSError : the system starts no further process.
    """

    def __init__(self, factory: HandlerFactory, store_folder: Path) -> None:
        self.ready = False
        self.warming: Progress | None = None
        self.pipe, far_end = _CONTEXT.Pipe()
        # A daemon ends with the window, even when the window ends badly.
        self._process = _CONTEXT.Process(
            target=serve, args=(far_end, factory, store_folder), name="housingdesk-worker", daemon=True
        )
        try:
            self._process.start()
        except BaseException:
            self.pipe.close()
            raise
        finally:
            far_end.close()  # else its end would never be noticed

    def send(self, value: object) -> None:
        """Hand over a value; a worker that is gone is noticed when its pipe is read."""
        try:
            wire.send(self.pipe, value)
        except OSError:
            return

    def receive(self) -> Any:
        """Return what it said; raises ``EOFError`` or ``OSError`` when it is gone."""
        return wire.receive(self.pipe)

    def kill(self) -> None:
        """End it now, whatever it does (some milliseconds), and leave nothing of it behind."""
        self._process.kill()
        self._process.join()
        # When the application ends, it collects its processes too, from another thread.  Waiting for one that
        # is being collected there returns at once, though its end is not noted yet; that thread closes it.
        if self._process.exitcode is not None:
            self._process.close()
        self.pipe.close()
