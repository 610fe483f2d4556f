"""What runs in the worker process: one job after another, and every failure told as a value."""

from __future__ import annotations

import contextlib
import signal
import time
import traceback
from collections.abc import Callable
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TypeAlias, TypeVar

from housingdesk.errors import HousingError
from housingdesk.jobs import wire
from housingdesk.jobs.messages import Answer, Failed, Job, Progress

T = TypeVar("T")
Tell: TypeAlias = Callable[[str, "float | None"], None]
Handler: TypeAlias = Callable[[Job, int, Tell], Answer]
HandlerFactory: TypeAlias = Callable[[Path, Tell], Handler]
"""Called once in the new process with the mesh store's folder; warms up and returns the handler."""

READY = 0  # the "generation" of what a worker says about itself
_QUIET_S = 0.05  # a faster stream of progress nobody could read

BUG = (
    "Something went wrong inside Housing Desk; your work is safe. "
    "Try another value, and if it happens again, report it with the log (Help, About says where it lies)."
)
NO_MEMORY = (
    "This needs more memory than the computer has; close other programs or choose a coarser part file."
)


def serve(pipe: Connection, factory: HandlerFactory, store_folder: Path) -> None:
    """Answer jobs until the other side closes the pipe.

    Receives ``(generation, job)``.  Sends ``(READY, Progress)`` while warming up, ``(READY, None)`` once,
    then per job any number of ``(generation, Progress)`` and one ``(generation, Answer)``.
    """
    # Ctrl-C in a terminal reaches the whole process group; the window decides what ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(EOFError, OSError):  # the window is gone, and nobody is left to tell
        handler = _prepared(factory, store_folder, _teller(pipe, READY))
        wire.send(pipe, (READY, None))
        while True:
            generation, job = wire.receive(pipe)
            tell = _teller(pipe, generation)
            wire.send(pipe, (generation, _answer(partial(handler, job, generation, tell))))


def _prepared(factory: HandlerFactory, store_folder: Path, tell: Tell) -> Handler:
    """Return the handler, or one that tells with every job why there is none."""
    made = _answer(partial(factory, store_folder, tell))
    if isinstance(made, Failed):
        failure = made
        return lambda job, generation, tell: failure
    return made


def _answer(work: Callable[[], T]) -> T | Failed:
    """Run some work; one of the program's three catchers of bugs."""
    try:
        return work()
    except HousingError as error:
        return Failed(str(error))
    except MemoryError:
        return Failed(NO_MEMORY)
    except Exception:
        return Failed(BUG, traceback.format_exc())


def _teller(pipe: Connection, generation: int) -> Tell:
    """Return a function that sends progress: every new phrase, and shares not too often."""
    last_phrase, last_time = "", 0.0

    def tell(phrase: str, share: float | None = None) -> None:
        nonlocal last_phrase, last_time
        now = time.monotonic()
        if phrase != last_phrase or now - last_time >= _QUIET_S:
            last_phrase, last_time = phrase, now
            wire.send(pipe, (generation, Progress(phrase, share)))

    return tell
