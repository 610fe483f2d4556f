"""How long the builder takes to follow one change of a housing, step by step.

    python -m tests.bench.changes [PROJECT]      PROJECT: a project folder, vent_drive by default

Each row is one kind of change, made several times in a row as a hand would (a dragged plane, a dragged
feature, another clearance); it gives the median of elapsed and of processor seconds and the steps that took
longest.  ``x`` is the time beside ``a plane moved, bare part`` of the same run, since seconds depend on the
machine.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from housingdesk.build.pipeline import Builder
from housingdesk.build.results import Extent, Quality
from housingdesk.deliver.make import Wishes, open_housing
from housingdesk.files.places import samples_dir
from housingdesk.spec.edits import changed
from housingdesk.spec.models import Spec

STEPS = 7


@dataclass(frozen=True)
class Change:
    """One kind of change: its name, what is asked for, and the specs a hand would give one after another."""

    name: str
    quality: Quality
    specs: Callable[[Spec], Iterator[Spec]]
    upto: Extent = "proof"


def _plane(spec: Spec) -> Iterator[Spec]:
    for step in range(STEPS):
        height = spec.parting.height_mm + 0.17 * (step + 1)
        yield changed(spec, parting=changed(spec.parting, height_mm=height))


def _bare(spec: Spec) -> Iterator[Spec]:
    yield from _plane(changed(spec, features=()))


def _clearance(spec: Spec) -> Iterator[Spec]:
    for step in range(STEPS):
        room = spec.fit.clearance_mm - 0.03 * (step + 1)
        yield changed(spec, fit=changed(spec.fit, clearance_mm=room))


def _bare_clearance(spec: Spec) -> Iterator[Spec]:
    yield from _clearance(changed(spec, features=()))


def _zone(spec: Spec) -> Iterator[Spec]:
    for step in range(STEPS):
        zones = tuple(changed(z, clearance_mm=z.clearance_mm + 0.02 * (step + 1)) for z in spec.fit.zones)
        yield changed(spec, fit=changed(spec.fit, zones=zones))


def _bare_other_clearance(spec: Spec) -> Iterator[Spec]:
    """As ``_bare_clearance``, by other steps: what was built for that is not to be found again."""
    yield from _bare_clearance(
        changed(spec, fit=changed(spec.fit, clearance_mm=spec.fit.clearance_mm - 0.01))
    )


def _bare_zone(spec: Spec) -> Iterator[Spec]:
    yield from _zone(changed(spec, features=()))


def _feature(kind: str, field: str, by: float) -> Callable[[Spec], Iterator[Spec]]:
    def specs(spec: Spec) -> Iterator[Spec]:
        for step in range(STEPS):
            moved = tuple(
                changed(f, **{field: (getattr(f, field) or 0.0) + by * (step + 1)}) if f.kind == kind else f
                for f in spec.features
            )
            yield changed(spec, features=moved)

    return specs


CHANGES = (
    Change("a plane moved, bare part", "draft", _bare),
    Change("a plane moved, all features", "draft", _plane),
    Change("another clearance, bare part: draft", "draft", _bare_clearance),
    Change("another clearance, bare part: final and proof", "final", _bare_clearance),
    Change("another clearance, bare part: exact halves", "final", _bare_other_clearance, "halves"),
    Change("the shaft's clearance, bare part: exact halves", "final", _bare_zone, "halves"),
    Change("another clearance, all features: draft", "draft", _clearance),
    Change("another clearance, all features: final and proof", "final", _clearance),
    Change("the shaft's clearance, all features: draft", "draft", _zone),
    Change("a feature moved (wireway)", "draft", _feature("wireway", "across_mm", 0.3)),
    Change("a feature changed (ribs)", "draft", _feature("ribs", "length_mm", 0.2)),
    Change("a feature moved (label)", "draft", _feature("mark", "up_mm", 0.3)),
)


def measure(builder: Builder, spec: Spec, change: Change) -> tuple[float, float, dict[str, float]]:
    """Return the median of elapsed and processor seconds and of each step's seconds."""
    elapsed, processor, steps = [], [], []
    for wanted in change.specs(spec):
        begun, used = time.perf_counter(), time.process_time()
        result = builder.build(wanted, change.quality, upto=change.upto)
        elapsed.append(time.perf_counter() - begun)
        processor.append(time.process_time() - used)
        steps.append(result.seconds)
    names = {name for each in steps for name in each}
    each = {name: statistics.median(s.get(name, 0.0) for s in steps) for name in names}
    return statistics.median(elapsed), statistics.median(processor), each


def main() -> None:
    """Print the table."""
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else samples_dir() / "vent_drive"
    housing = open_housing(path, Wishes())
    builder = housing.builder
    for quality in ("draft", "final"):  # warm: what a user has had before the first change
        builder.build(housing.spec, quality, upto="proof")  # type: ignore[arg-type]
        builder.build(changed(housing.spec, features=()), quality, upto="proof")  # type: ignore[arg-type]
    print("| change | seconds | processor | x | longest steps |\n| --- | --- | --- | --- | --- |")
    first = None
    for change in CHANGES:
        elapsed, processor, steps = measure(builder, housing.spec, change)
        first = first or elapsed
        longest = sorted(steps.items(), key=lambda item: -item[1])[:5]
        words = ", ".join(f"{name} {s:.3f}" for name, s in longest)
        print(
            f"| {change.name} | {elapsed:.3f} | {processor:.3f} | {elapsed / first:.1f} | {words} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
