"""The order in which jobs wait: newest build wins, everything else keeps its turn."""

from __future__ import annotations

from dataclasses import dataclass

from housingdesk.jobs.messages import Build, Job


@dataclass(frozen=True, slots=True)
class Numbered:
    """A job and the number it was submitted under; later jobs have greater numbers."""

    generation: int
    job: Job

    @property
    def is_final(self) -> bool:
        """Whether it is a build that takes long enough to be worth stopping."""
        return isinstance(self.job, Build) and self.job.quality == "final"


class Waiting:
    """Jobs not yet begun.  At most one of them is a build.

    A newer build takes the waiting one's place in the line, not a new place at its end: so a drag neither
    starves an export nor is starved by it.
    """

    def __init__(self) -> None:
        self._line: list[Numbered] = []

    def __len__(self) -> int:
        return len(self._line)

    @property
    def first(self) -> Numbered | None:
        """Whose turn it is."""
        return self._line[0] if self._line else None

    @property
    def has_build(self) -> bool:
        """Whether a build waits, so that a running one is out of date."""
        return any(isinstance(n.job, Build) for n in self._line)

    def add(self, new: Numbered) -> None:
        """Let a job wait; a waiting build is replaced by a newer one."""
        if isinstance(new.job, Build):
            for place, waiting in enumerate(self._line):
                if isinstance(waiting.job, Build):
                    self._line[place] = new
                    return
        self._line.append(new)

    def take(self) -> Numbered:
        """Remove and return the first job."""
        return self._line.pop(0)

    def drop(self, generation: int) -> bool:
        """Remove a job by its number; False when it does not wait."""
        before = len(self._line)
        self._line = [n for n in self._line if n.generation != generation]
        return len(self._line) < before
