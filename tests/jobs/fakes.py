"""Handlers for worker processes under test.  They wait for files and never for a time."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np

from housingdesk.build.results import BuildResult
from housingdesk.errors import FileError
from housingdesk.geometry.types import Mesh
from housingdesk.jobs.messages import Answer, Build, Built, Failed, Job, LoadParts
from housingdesk.jobs.worker import Handler, Tell
from housingdesk.spec.models import Spec


def wait_for(path: Path) -> None:
    while not path.exists():
        time.sleep(0.005)


def obedient(store_folder: Path, tell: Tell) -> Handler:
    """Does what a job's name says, and answers with its process id (as a sentence, the plainest answer)."""
    tell("warming", None)

    def handle(job: Job, generation: int, tell: Tell) -> Answer:
        words = _words(job)
        (store_folder / f"began {' '.join(words)}").touch()
        match words:
            case ["gate", name]:
                tell(f"at {name}", 0.5)
                wait_for(store_folder / name)
            case ["exit", *_]:
                os._exit(3)
            case ["bug"]:
                raise ZeroDivisionError("a bug of ours")
            case ["mistake"]:
                raise FileError("No such part; choose another.")
            case ["memory"]:
                raise MemoryError
            case ["chatter"]:
                for step in range(10_000):
                    tell("counting", step / 10_000)
            case ["big"]:
                return Built(big_result(job, generation))
        return Failed(str(os.getpid()))

    return handle


def _words(job: Job) -> list[str]:
    if isinstance(job, LoadParts):
        return str(job.path).split()
    assert isinstance(job, Build)
    return job.spec.name.split()


def big_mesh() -> Mesh:
    """200,000 triangles, and as a second body an empty one."""
    rng = np.random.default_rng(7)
    return Mesh(rng.normal(size=(100_000, 3)), rng.integers(0, 100_000, (200_000, 3)))


def big_result(job: Job, generation: int) -> BuildResult:
    assert isinstance(job, Build)
    spec: Spec = job.spec
    empty = Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    return BuildResult(
        generation, job.quality, spec, (1.0,) * 16, 3.0, np.zeros((2, 3)), (empty,),
        {"lower": big_mesh(), "upper": empty}, None, (),
    )  # fmt: skip


def dying_at_start(store_folder: Path, tell: Tell) -> Handler:
    with (store_folder / "starts").open("a") as log:
        log.write("x")
    os._exit(4)


def dying_at_first_start(store_folder: Path, tell: Tell) -> Handler:
    """The first process does not come up, later ones do."""
    mark = store_folder / "tried"
    if not mark.exists():
        mark.touch()
        os._exit(4)
    return obedient(store_folder, tell)


def failing_to_start(store_folder: Path, tell: Tell) -> Handler:
    raise ImportError("no engine here")


def slow_to_warm(store_folder: Path, tell: Tell) -> Handler:
    tell("warming", None)
    wait_for(store_folder / "warm")
    return obedient(store_folder, tell)
