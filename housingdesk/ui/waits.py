"""What the window is waiting for, and what of it is worth telling."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from housingdesk.build.results import LoadedPart
from housingdesk.jobs.messages import (
    Build,
    Export,
    FindRelief,
    FindZones,
    Job,
    LoadParts,
    MapClearance,
    Progress,
    ProposeFeature,
)

TELL_AFTER_S = 0.5  # anything shorter needs no word

Purpose = Literal[
    "build",
    "new part",
    "more parts",
    "swap",
    "zones",
    "zones of more parts",
    "readings",
    "first plane",
    "planes",
    "export",
    "landmarks",
    "patches",
    "feature",
    "gaps",
    "play",
    "relief",
]
UNTOLD: frozenset[Purpose] = frozenset({"landmarks", "patches", "play"})  # nobody waits for these


@dataclass(frozen=True, slots=True)
class Wait:
    """One submitted job: why, since when, the part it belongs to, or the name of the one it is to replace."""

    job: Job
    purpose: Purpose
    since_s: float
    loaded: LoadedPart | None = None
    replaces: str = ""


@dataclass(slots=True)
class Waits:
    """Submitted jobs by generation.  Of builds only the newest is kept, as the client does."""

    clock: Callable[[], float] = time.monotonic
    _open: dict[int, Wait] = field(default_factory=dict)
    _told: dict[int, Progress] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self._open)

    def add(
        self,
        generation: int,
        job: Job,
        purpose: Purpose,
        loaded: LoadedPart | None = None,
        replaces: str = "",
    ) -> None:
        """Note a submitted job."""
        if isinstance(job, Build):
            for old in [g for g, w in self._open.items() if isinstance(w.job, Build)]:
                self.take(old)
        self._open[generation] = Wait(job, purpose, self.clock(), loaded, replaces)

    def take(self, generation: int) -> Wait | None:
        """Forget a job and return what it was for; None when nobody waits for it."""
        self._told.pop(generation, None)
        return self._open.pop(generation, None)

    def tell(self, generation: int, progress: Progress) -> None:
        """Note where a job stands."""
        if generation in self._open:
            self._told[generation] = progress

    def for_purpose(self, purpose: Purpose) -> bool:
        """Whether a job of this purpose is under way."""
        return any(w.purpose == purpose for w in self._open.values())

    def generations(self) -> tuple[int, ...]:
        """Return all jobs waited for."""
        return tuple(self._open)

    def worth_telling(self) -> Progress | None:
        """Return the progress of the job that has taken longest, if it takes long."""
        now = self.clock()
        told = [(g, w) for g, w in self._open.items() if w.purpose not in UNTOLD]
        old = [g for g, w in told if now - w.since_s >= TELL_AFTER_S]
        if not old:
            return None
        first = min(old)
        return self._told.get(first) or Progress(_phrase(self._open[first].job))


def _phrase(job: Job) -> str:
    if isinstance(job, LoadParts):
        return f"Reading {job.path.name}"
    if isinstance(job, FindZones):
        return "Looking for the faces of the zones" if job.zones else "Looking for what turns on the part"
    if isinstance(job, Build):
        return "Making the halves" if job.quality == "draft" else "Making and measuring the halves"
    if isinstance(job, ProposeFeature):
        return "Looking for a good place"
    if isinstance(job, MapClearance):
        return "Measuring the gap all over the part"
    if isinstance(job, FindRelief):
        return "Finding what is cut for going in"
    return "Writing the halves" if isinstance(job, Export) else "Looking for parting planes"
