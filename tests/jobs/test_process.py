"""Ending a worker process, whoever else in the program waits for its end."""

from __future__ import annotations

import multiprocessing
from pathlib import Path
from typing import Any

import pytest

from housingdesk.jobs import process
from housingdesk.jobs.process import WorkerProcess
from tests.jobs import fakes


class Fake:
    """A process of ``multiprocessing``; one that another thread collects has no exit code."""

    def __init__(self, exitcode: int | None) -> None:
        self._end = exitcode
        self.exitcode: int | None = None
        self.did: list[str] = []

    def start(self) -> None:
        self.did.append("start")

    def kill(self) -> None:
        self.did.append("kill")

    def join(self) -> None:
        self.did.append("join")
        self.exitcode = self._end

    def close(self) -> None:
        if self.exitcode is None:
            raise ValueError("Cannot close a process while it is still running.")
        self.did.append("close")


class Context:
    """Starts one fake process."""

    Pipe = staticmethod(multiprocessing.Pipe)

    def __init__(self, fake: Fake) -> None:
        self.fake = fake

    def Process(self, **_: Any) -> Fake:  # noqa: N802  # the name it has in multiprocessing
        return self.fake


@pytest.mark.parametrize(
    ("exitcode", "did"), [(-9, ["start", "kill", "join", "close"]), (None, ["start", "kill", "join"])]
)
def test_a_process_that_another_thread_collects_is_left_to_it(
    exitcode: int | None, did: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake = Fake(exitcode)
    monkeypatch.setattr(process, "_CONTEXT", Context(fake))
    worker = WorkerProcess(fakes.obedient, tmp_path)
    worker.kill()
    assert fake.did == did
    assert worker.pipe.closed
