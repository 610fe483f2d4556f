"""The client against real processes with fake work.  Time only guards against hanging."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from queue import Queue

import numpy as np
import psutil
import pytest

from housingdesk.build.results import Quality
from housingdesk.jobs.client import DIED, MAX_STARTS, WorkerClient
from housingdesk.jobs.messages import Answer, Build, Built, Failed, Job, LoadParts, Progress
from housingdesk.jobs.worker import BUG, NO_MEMORY, HandlerFactory
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from tests.jobs import fakes

GUARD_S = 60.0


def build(name: str, quality: Quality = "draft") -> Build:
    spec = Spec(name=name, parts=(PartSpec(name="p", mesh_key="k"),), parting=PartingSpec(height_mm=1))
    return Build(spec, quality)


def load(name: str) -> LoadParts:
    return LoadParts(Path(name))


class Desk:
    """A client with what it said, in order."""

    def __init__(self, folder: Path, handler: HandlerFactory, patience_s: float) -> None:
        self.folder = folder
        self.answers: Queue[tuple[int, Answer]] = Queue()
        self.progress: Queue[tuple[int, Progress]] = Queue()
        self.jobs: dict[int, Job] = {}
        self.client = WorkerClient(
            folder, self._answered, lambda g, p: self.progress.put((g, p)),
            handler=handler, patience_s=patience_s,
        )  # fmt: skip

    def _answered(self, generation: int, job: Job, answer: Answer) -> None:
        self.jobs[generation] = job
        self.answers.put((generation, answer))

    def next(self) -> tuple[int, Answer]:
        return self.answers.get(timeout=GUARD_S)

    def next_pid(self, generation: int) -> int:
        """The process that answered this job, which must be the next one answered."""
        number, answer = self.next()
        assert number == generation
        assert isinstance(answer, Failed)
        return int(answer.sentence)

    def submit(self, job: Job) -> int:
        return self.client.submit(job)

    def open(self, gate: str) -> None:
        (self.folder / gate).touch()

    def began(self, name: str) -> None:
        """Wait until the worker has begun a job."""
        until(lambda: (self.folder / f"began {name}").exists())

    def has_begun(self, name: str) -> bool:
        return (self.folder / f"began {name}").exists()


def until(happened: Callable[[], bool]) -> None:
    end = time.monotonic() + GUARD_S
    while not happened():
        assert time.monotonic() < end, "it never happened"
        time.sleep(0.005)


def workers() -> list[int]:
    """Process ids of the living workers."""
    found = []
    for child in psutil.Process().children():
        with suppress(psutil.NoSuchProcess):  # also a zombie: it is about to be buried
            if "spawn_main" in " ".join(child.cmdline()):
                found.append(child.pid)
    return found


@contextmanager
def desk(folder: Path, handler: HandlerFactory = fakes.obedient, patience_s: float = 0.0) -> Iterator[Desk]:
    made = Desk(folder, handler, patience_s)
    try:
        yield made
    finally:
        made.client.close()
    assert made.answers.empty(), f"answers nobody expected: {list(made.answers.queue)}"


def test_jobs_are_numbered_and_answered_by_one_process(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        first, second = d.submit(load("a")), d.submit(build("b", "final"))
        assert 0 < first < second
        pid = d.next_pid(first)
        assert d.next_pid(second) == pid != os.getpid()
        assert d.jobs == {first: load("a"), second: build("b", "final")}


def test_of_waiting_builds_only_the_newest_is_done(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        running = d.submit(build("gate go"))
        d.began("gate go")
        for i in range(20):
            newest = d.submit(build(f"b{i}"))
        d.open("go")
        pid = d.next_pid(running)  # a draft that runs is finished and shown
        assert d.next_pid(newest) == pid
        assert not any(d.has_begun(f"b{i}") for i in range(19))


def test_other_jobs_are_never_dropped_and_keep_their_turn(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        numbers = [d.submit(load("gate go"))]
        d.began("gate go")
        numbers.append(d.submit(load("a")))
        d.submit(build("old"))
        numbers.append(d.submit(load("b")))
        newest = d.submit(build("new"))  # takes the place of the old one, before b
        numbers.append(d.submit(load("c")))
        d.open("go")
        answered = [d.next()[0] for _ in range(5)]
        assert answered == [numbers[0], numbers[1], newest, numbers[2], numbers[3]]
        assert not d.has_begun("old")


def test_a_stale_final_is_killed_and_the_spare_goes_on(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        first_pid = d.next_pid(d.submit(load("a")))
        d.submit(build("gate never", "final"))
        d.began("gate never")
        newer = d.submit(build("newer"))
        second_pid = d.next_pid(newer)  # and the killed one is not answered at all
        assert second_pid != first_pid
        assert not psutil.pid_exists(first_pid)
        d.submit(build("gate nevermore", "final"))  # the new spare is there for the next time
        d.began("gate nevermore")
        assert d.next_pid(d.submit(build("newest"))) not in (first_pid, second_pid)


def test_a_final_within_its_patience_is_finished(tmp_path: Path) -> None:
    with desk(tmp_path, patience_s=GUARD_S) as d:
        final = d.submit(build("gate go", "final"))
        d.began("gate go")
        newer = d.submit(build("newer"))
        until(lambda: len(workers()) == 2)  # a spare stands by, and is not used
        d.open("go")
        assert d.next_pid(final) == d.next_pid(newer)


def test_a_final_is_not_stale_because_other_jobs_wait(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        final = d.submit(build("gate go", "final"))
        d.began("gate go")
        other = d.submit(load("a"))
        until(lambda: len(workers()) == 2)
        d.open("go")
        assert d.next_pid(final) == d.next_pid(other)


@pytest.mark.parametrize("job", [build("gate never"), build("gate never", "final"), load("gate never")])
def test_cancelling_a_running_job_stops_it(tmp_path: Path, job: Job) -> None:
    with desk(tmp_path) as d:
        first_pid = d.next_pid(d.submit(load("a")))
        cancelled = d.submit(job)
        d.began("gate never")
        d.client.cancel(cancelled)
        assert d.next_pid(d.submit(load("b"))) != first_pid
        assert not psutil.pid_exists(first_pid)


def test_cancelling_a_waiting_or_finished_job_disturbs_nothing(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        running = d.submit(load("gate go"))
        d.began("gate go")
        d.client.cancel(d.submit(load("never wanted")))
        d.client.cancel(d.submit(build("nor this")))
        d.client.cancel(12345)
        d.open("go")
        pid = d.next_pid(running)
        d.client.cancel(running)
        assert d.next_pid(d.submit(load("a"))) == pid
        assert not d.has_begun("never wanted")
        assert not d.has_begun("nor this")


def test_a_worker_that_dies_is_answered_once_and_replaced(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        pid = d.next_pid(d.submit(load("a")))
        dying, waiting = d.submit(load("exit")), d.submit(load("b"))
        assert d.next() == (dying, Failed(DIED))
        other = d.next_pid(waiting)
        assert other != pid
        for _ in range(3):  # as often as it happens
            dying = d.submit(build("exit"))
            assert d.next() == (dying, Failed(DIED))
        assert d.next_pid(d.submit(load("c"))) not in (pid, other)


def test_idle_workers_that_die_are_replaced_unseen(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        d.next_pid(d.submit(load("a")))
        until(lambda: len(workers()) == 2)
        old = set(workers())
        for pid in old:
            os.kill(pid, signal.SIGKILL)
        until(lambda: len(new := set(workers())) == 2 and not new & old)
        assert d.next_pid(d.submit(load("b"))) not in old


def test_failures_inside_a_job_are_sentences_and_the_process_lives(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        pid = d.next_pid(d.submit(load("a")))
        d.submit(load("mistake"))
        assert d.next()[1] == Failed("No such part; choose another.")
        d.submit(load("memory"))
        assert d.next()[1] == Failed(NO_MEMORY)
        d.submit(load("bug"))
        answer = d.next()[1]
        assert isinstance(answer, Failed)
        assert answer.sentence == BUG
        assert "ZeroDivisionError: a bug of ours" in answer.detail
        assert "Traceback" not in answer.sentence
        assert d.next_pid(d.submit(load("b"))) == pid


def test_an_engine_that_cannot_be_imported_says_so_with_every_job(tmp_path: Path) -> None:
    with desk(tmp_path, fakes.failing_to_start) as d:
        for job in (load("a"), build("b")):
            number = d.submit(job)
            answered, answer = d.next()
            assert answered == number
            assert isinstance(answer, Failed)
            assert answer.sentence == BUG
            assert "no engine here" in answer.detail


def test_an_engine_that_dies_at_start_answers_every_job_and_is_not_restarted_for_ever(tmp_path: Path) -> None:
    with desk(tmp_path, fakes.dying_at_start) as d:
        numbers = [d.submit(load(name)) for name in ("a", "b", "c")]
        assert [d.next() for _ in numbers] == [(n, Failed(DIED)) for n in numbers]
        until(lambda: not workers())
    assert len((tmp_path / "starts").read_text()) <= len(numbers) + MAX_STARTS


def test_an_engine_that_comes_up_at_the_second_try_works(tmp_path: Path) -> None:
    with desk(tmp_path, fakes.dying_at_first_start) as d:
        until(lambda: (tmp_path / "tried").exists() and not workers())
        d.next_pid(d.submit(load("a")))


def test_while_the_engine_warms_up_jobs_wait_by_the_same_rules(tmp_path: Path) -> None:
    with desk(tmp_path, fakes.slow_to_warm) as d:
        assert d.progress.get(timeout=GUARD_S)[1] == Progress("warming")
        d.submit(build("old"))
        newest, unwanted, other = d.submit(build("new")), d.submit(load("unwanted")), d.submit(load("other"))
        d.client.cancel(unwanted)
        assert len(workers()) == 1  # the spare waits until the first is warm
        d.open("warm")
        assert d.next_pid(newest) == d.next_pid(other)
        assert not d.has_begun("old")
        assert not d.has_begun("unwanted")


def test_a_job_that_comes_while_the_engine_warms_up_is_told_what_it_waits_for(tmp_path: Path) -> None:
    with desk(tmp_path, fakes.slow_to_warm) as d:
        assert d.progress.get(timeout=GUARD_S) == (0, Progress("warming"))
        first, second = d.submit(load("first")), d.submit(load("second"))
        assert d.progress.get(timeout=GUARD_S) == (first, Progress("warming"))
        d.client.cancel(first)
        assert d.progress.get(timeout=GUARD_S) == (second, Progress("warming"))
        d.open("warm")
        d.next_pid(second)


def test_progress_names_its_job_and_cannot_flood(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        gated = d.submit(load("gate go"))
        seen = []
        while not seen or seen[-1] != (gated, Progress("at go", 0.5)):
            seen.append(d.progress.get(timeout=GUARD_S))
        # Said before anybody waited, or while the first job did.
        assert [
            s for s in seen[:-1] if s not in [(0, Progress("warming")), (gated, Progress("warming"))]
        ] == []
        d.open("go")
        d.next_pid(gated)
        d.next_pid(d.submit(load("chatter")))
        assert 1 <= d.progress.qsize() < 1000


def test_a_large_answer_arrives_whole_and_read_only(tmp_path: Path) -> None:
    with desk(tmp_path) as d:
        number = d.submit(build("big", "final"))
        answered, answer = d.next()
        assert answered == number
        assert isinstance(answer, Built)
        assert answer.result.generation == number
        assert answer.result.spec == build("big").spec
        lower, wanted = answer.result.halves["lower"], fakes.big_mesh()
        np.testing.assert_array_equal(lower.vertices, wanted.vertices)
        np.testing.assert_array_equal(lower.faces, wanted.faces)
        assert lower.key == wanted.key
        assert answer.result.halves["upper"].triangles == 0
        assert not lower.vertices.flags.writeable


def test_closing_in_the_middle_of_everything_leaves_nothing(tmp_path: Path) -> None:
    d = Desk(tmp_path, fakes.obedient, 0.0)
    d.next_pid(d.submit(load("a")))
    d.submit(build("gate never", "final"))
    d.began("gate never")
    d.submit(load("b"))
    d.client.close()
    d.client.close()
    assert workers() == []
    assert d.answers.empty()
    with pytest.raises(RuntimeError):
        d.submit(load("c"))
    d.client.cancel(1)


def test_closing_at_once_leaves_nothing(tmp_path: Path) -> None:
    for _ in range(3):
        with desk(tmp_path):
            pass
        assert workers() == []


def test_closing_from_a_callback_is_allowed(tmp_path: Path) -> None:
    clients: list[WorkerClient] = []
    client = WorkerClient(
        tmp_path, lambda *_: clients[0].close(), lambda *_: None, handler=fakes.obedient
    )  # fmt: skip
    clients.append(client)
    client.submit(load("a"))
    until(lambda: workers() == [] and not client._thread.is_alive())


def test_a_window_that_is_killed_takes_its_workers_along(tmp_path: Path) -> None:
    script = (
        "import sys, time; from pathlib import Path\n"
        "from housingdesk.jobs.client import WorkerClient; from housingdesk.jobs.messages import LoadParts\n"
        "from tests.jobs import fakes\n"
        "def said(generation, job, answer): print(answer.sentence, flush=True)\n"
        "if __name__ == '__main__':\n"
        "    c = WorkerClient(Path(sys.argv[1]), said, lambda *a: None, handler=fakes.obedient)\n"
        "    c.submit(LoadParts(Path('a'))); time.sleep(1000)\n"
    )
    file = tmp_path / "window.py"
    file.write_text(script)
    root = str(Path(__file__).resolve().parents[2])
    window = subprocess.Popen(
        [sys.executable, str(file), str(tmp_path)],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": root},
    )  # fmt: skip
    with window:
        assert window.stdout is not None
        pid = int(window.stdout.readline())
        family = [p.pid for p in psutil.Process(window.pid).children(recursive=True)]
        assert pid in family
        window.kill()
    until(lambda: not any(psutil.pid_exists(p) for p in family))
