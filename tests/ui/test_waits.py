"""What is told about long work."""

from __future__ import annotations

from pathlib import Path

from housingdesk.jobs.messages import Build, FindLandmarks, LoadParts, Progress
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from housingdesk.ui.waits import TELL_AFTER_S, Waits

SPEC = Spec(parts=(PartSpec(name="block", mesh_key="0" * 32),), parting=PartingSpec(height_mm=5.0))


def test_only_what_takes_long_is_told_and_the_oldest_first() -> None:
    now = [0.0]
    waits = Waits(clock=lambda: now[0])
    waits.add(1, LoadParts(Path("motor.stl")), "new part")
    assert waits.worth_telling() is None
    now[0] = TELL_AFTER_S
    waits.add(2, Build(SPEC, "final"), "build")
    assert waits.worth_telling() == Progress("Reading motor.stl")
    waits.tell(1, Progress("Sorting the points", 0.5))
    assert waits.worth_telling() == Progress("Sorting the points", 0.5)
    assert waits.take(1) is not None
    assert waits.worth_telling() is None
    now[0] = 3 * TELL_AFTER_S
    assert waits.worth_telling() == Progress("Making and measuring the halves")


def test_of_builds_only_the_newest_is_waited_for() -> None:
    waits = Waits(clock=lambda: 0.0)
    for generation, quality in ((1, "draft"), (2, "draft"), (3, "final")):
        waits.add(generation, Build(SPEC, quality), "build")
    assert waits.generations() == (3,)
    assert waits.take(1) is None
    assert waits.take(3) is not None
    assert not waits


def test_a_play_overtaken_by_another_build_is_not_waited_for_either() -> None:
    """It is a build, too, and the client answers none that a newer one has overtaken."""
    waits = Waits(clock=lambda: 0.0)
    waits.add(1, Build(SPEC, "final"), "play")
    waits.add(2, Build(SPEC, "draft", upto="halves"), "build")
    assert not waits.for_purpose("play")
    assert waits.generations() == (2,)


def test_progress_of_a_job_nobody_waits_for_is_not_told() -> None:
    waits = Waits(clock=lambda: 0.0)
    waits.tell(7, Progress("Late"))
    waits.add(7, LoadParts(Path("a.stl")), "new part")
    waits.clock = lambda: 10.0
    assert waits.worth_telling() == Progress("Reading a.stl")


def test_the_search_for_landmarks_is_not_told() -> None:
    waits = Waits(clock=lambda: 0.0)
    waits.add(1, FindLandmarks(SPEC.parts, "+z"), "landmarks")
    waits.clock = lambda: 10.0
    assert waits.worth_telling() is None
