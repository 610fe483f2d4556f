"""The window's side of the worker: submit jobs, get answers, whatever happens to the process.

Rules
-----
- One job runs at a time.  Of builds only the newest waits; other jobs are never dropped and keep their turn.
- Every job is answered once, except a build that a newer one replaced and a job that was cancelled: these
  are never answered.
- A running draft is left to finish; a running final that is out of date is stopped after ``patience_s``,
  by killing its process and going on with the warm spare (there is no other way to stop a solid operation).
  Its caches die with it, therefore the patience.
- Builds run one after another in the order of their numbers, so an answer is never older than the last one.
- A process that dies by itself answers its job with ``Failed``, and the spare goes on.
"""

from __future__ import annotations

import itertools
import threading
import time
from collections import deque
from collections.abc import Callable
from multiprocessing.connection import Pipe, wait
from pathlib import Path
from types import TracebackType
from typing import Self

from housingdesk.jobs.engine import make_handler
from housingdesk.jobs.messages import Answer, Failed, Job, Progress
from housingdesk.jobs.process import WorkerProcess
from housingdesk.jobs.waiting import Numbered, Waiting
from housingdesk.jobs.worker import READY, HandlerFactory

DIED = (
    "The engine stopped and was started again; your work is safe. "
    "Try again, and if it stops again, choose a larger clearance or a coarser part file."
)
NOT_STARTED = "The engine cannot be started: the computer takes no further program; close some and try again."

MAX_STARTS = 3


class WorkerClient:
    """A warm worker process, a warm spare, and the thread that listens to them.

    Parameters
    ----------
    store_folder : folder of the mesh store that both sides use.
    on_answer, on_progress : called **from the client's own thread**, one at a time, and must not raise; a
        window passes them on as queued signals.  Progress has the job's generation, or 0 while the engine
        prepares itself and nobody waits.
    handler : factory called in the worker process; importable by name.
    patience_s : how long a final that is out of date may go on.
    """

    def __init__(
        self,
        store_folder: Path,
        on_answer: Callable[[int, Job, Answer], None],
        on_progress: Callable[[int, Progress], None],
        *,
        handler: HandlerFactory = make_handler,
        patience_s: float = 3.0,
    ) -> None:
        self._store_folder = store_folder
        self._on_answer = on_answer
        self._on_progress = on_progress
        self._factory = handler
        self._patience_s = patience_s

        # Shared between threads, under the lock: orders from outside, and whether the thread was woken.
        self._lock = threading.Lock()
        self._numbers = itertools.count(1)
        self._orders: deque[Numbered | int] = deque()  # a job to do, or the number of one to cancel
        self._closing = False
        self._woken = False
        self._ear, self._bell = Pipe(duplex=False)

        # Only the client's own thread touches these.
        self._waiting = Waiting()
        self._running: Numbered | None = None
        self._told_warming = READY  # the last job that was told what keeps it waiting
        self._stale_since: float | None = None
        self._active: WorkerProcess | None = None
        self._spare: WorkerProcess | None = None
        self._failed_starts = 0  # in a row; from MAX_STARTS on, a process is started only for a job

        self._thread = threading.Thread(target=self._run, name="housingdesk-jobs", daemon=True)
        self._thread.start()

    # --- called from any thread ---------------------------------------------------------------------

    def submit(self, job: Job) -> int:
        """Hand over a job and return its generation at once; later jobs have greater numbers.

        Raises
        ------
        RuntimeError : the client is closed.
        """
        with self._lock:
            if self._closing:
                raise RuntimeError("the client is closed")
            generation = next(self._numbers)
            self._order(Numbered(generation, job))
        return generation

    def cancel(self, generation: int) -> None:
        """Stop a job, waiting or running; it is not answered unless its answer is already under way."""
        with self._lock:
            if not self._closing:
                self._order(generation)

    def close(self) -> None:
        """Stop everything; no process, thread or callback is left.  May be called twice."""
        with self._lock:
            if not self._closing:
                self._closing = True
                self._wake()
        if threading.current_thread() is not self._thread:
            self._thread.join()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _order(self, order: Numbered | int) -> None:
        self._orders.append(order)
        self._wake()

    def _wake(self) -> None:
        if not self._woken:
            self._woken = True
            self._bell.send_bytes(b"!")

    # --- the client's own thread --------------------------------------------------------------------

    def _run(self) -> None:
        try:
            while self._take_orders():
                self._stop_stale()
                self._keep_active()
                self._begin_next()
                self._keep_spare()
                self._listen()
        finally:
            for process in (self._active, self._spare):
                if process is not None:
                    process.kill()
            with self._lock:  # also when a callback raised: nobody may wait for answers that never come
                self._closing = True
                self._ear.close()
                self._bell.close()

    def _take_orders(self) -> bool:
        """Take over what was ordered since; False when the client closes."""
        with self._lock:
            orders, closing = list(self._orders), self._closing
            self._orders.clear()
        for order in orders:
            if isinstance(order, Numbered):
                self._waiting.add(order)
            elif not self._waiting.drop(order) and self._running and self._running.generation == order:
                self._replace_active()
        return not closing

    def _stop_stale(self) -> None:
        """Stop a final that has been out of date for too long, if a warm spare can go on at once."""
        if not (self._running and self._running.is_final and self._waiting.has_build):
            self._stale_since = None
            return
        now = time.monotonic()
        if self._stale_since is None:
            self._stale_since = now
        patient = now - self._stale_since < self._patience_s
        if not patient and self._spare is not None and self._spare.ready:
            self._replace_active()

    def _replace_active(self) -> None:
        """Kill the active process with its job, and go on with the spare."""
        if self._active is not None:
            self._active.kill()
        self._active, self._spare = self._spare, None
        self._running = self._stale_since = None

    def _keep_active(self) -> None:
        if self._active is None and (self._waiting or self._failed_starts < MAX_STARTS):
            self._active = self._start()
            if self._active is None and self._waiting and self._failed_starts >= MAX_STARTS:
                self._deliver(self._waiting.take(), Failed(NOT_STARTED))

    def _keep_spare(self) -> None:
        """Keep a spare, but only once the first is warm: both would compile the same at once."""
        if self._active and self._active.ready and self._spare is None and self._failed_starts < MAX_STARTS:
            self._spare = self._start()

    def _start(self) -> WorkerProcess | None:
        try:
            return WorkerProcess(self._factory, self._store_folder)
        except OSError:
            self._failed_starts += 1
            return None

    def _begin_next(self) -> None:
        if self._running is not None or self._active is None or not self._waiting:
            return
        if not self._active.ready:
            self._tell_warming(self._active)
        else:
            self._running = self._waiting.take()
            self._active.send((self._running.generation, self._running.job))

    def _tell_warming(self, process: WorkerProcess) -> None:
        """Tell the job that is next, whenever it came, that the engine still prepares itself."""
        first = self._waiting.first
        if process.warming is not None and first is not None and first.generation != self._told_warming:
            self._told_warming = first.generation
            self._on_progress(first.generation, process.warming)

    def _listen(self) -> None:
        """Wait for orders, messages or the end of patience; orders go first, so that a cancel is kept."""
        processes = {p.pipe: p for p in (self._active, self._spare) if p is not None}
        heard = wait([self._ear, *processes], self._timeout_s())
        if self._ear in heard:
            with self._lock:
                self._ear.recv_bytes()
                self._woken = False
            return
        for pipe, process in processes.items():
            if pipe in heard and process in (self._active, self._spare):
                self._hear(process)

    def _timeout_s(self) -> float | None:
        if self._active is None and (self._waiting or self._failed_starts < MAX_STARTS):
            return 0.0  # a start failed and is tried again, or the next job is told so
        if self._stale_since is None or self._spare is None or not self._spare.ready:
            return None
        return max(0.0, self._stale_since + self._patience_s - time.monotonic())

    def _hear(self, process: WorkerProcess) -> None:
        """Take one message of a process, or its end."""
        try:
            generation, value = process.receive()
        except (EOFError, OSError):
            self._bury(process)
            return
        if generation == READY and value is None:
            process.ready, self._failed_starts = True, 0
        elif generation == READY and isinstance(value, Progress):
            process.warming, self._told_warming = value, READY
            if process is self._active and not self._waiting:
                self._on_progress(READY, value)  # a spare prepares itself unseen
        elif isinstance(value, Progress) and process is self._active and self._running is not None:
            self._on_progress(self._running.generation, value)
        elif self._running is not None and self._running.generation == generation:
            done, self._running = self._running, None
            self._deliver(done, value)

    def _bury(self, process: WorkerProcess) -> None:
        """Go on after a process has ended by itself; its job, if any, is answered once."""
        if not process.ready:
            self._failed_starts += 1
        if process is self._spare:
            process.kill()
            self._spare = None
            return
        victim = self._running
        if victim is None and self._waiting and self._failed_starts >= MAX_STARTS:
            victim = self._waiting.take()  # it waited for a start, and there is no hope
        self._replace_active()
        if victim is not None:
            self._deliver(victim, Failed(DIED))

    def _deliver(self, done: Numbered, answer: Answer) -> None:
        self._on_answer(done.generation, done.job, answer)
