"""Undo and redo over immutable values: a list of them, and where we are."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from housingdesk.spec.models import Spec

DEPTH = 500  # steps; a spec is a few hundred bytes, mostly shared with its neighbours


@dataclass(frozen=True, slots=True)
class Step:
    """What was done, and the spec on the other side of it."""

    label: str
    spec: Spec


class History:
    """Specs before and after the current one, with the labels of the steps between.

    Steps pushed with one ``merge`` key, one after another, are one step until it is closed.
    """

    def __init__(self, spec: Spec, depth: int = DEPTH) -> None:
        self.spec = spec
        self._past: deque[Step] = deque(maxlen=depth)
        self._future: list[Step] = []
        self._open_key: str | None = None

    @property
    def undo_label(self) -> str | None:
        """What ``undo`` would take back, or None."""
        return self._past[-1].label if self._past else None

    @property
    def redo_label(self) -> str | None:
        """What ``redo`` would do again, or None."""
        return self._future[-1].label if self._future else None

    def push(self, label: str, spec: Spec, merge: str | None = None) -> None:
        """Go to a new spec."""
        if merge is not None and merge == self._open_key:
            self._past[-1] = Step(label, self._past[-1].spec)
            self.spec = spec
            return
        self.close()
        if spec != self.spec:
            self._past.append(Step(label, self.spec))
            self._future.clear()
            self._open_key = merge
            self.spec = spec

    def amend(self, spec: Spec) -> None:
        """Let the last step have led to another spec."""
        self.spec = spec

    def close(self) -> None:
        """End a drag: the next push is a step of its own.  A drag back to its start leaves no step."""
        if self._open_key is not None and self._past[-1].spec == self.spec:
            self._past.pop()
        self._open_key = None

    def undo(self) -> bool:
        """Go one step back; False when there is none."""
        self.close()
        if not self._past:
            return False
        step = self._past.pop()
        self._future.append(Step(step.label, self.spec))
        self.spec = step.spec
        return True

    def redo(self) -> bool:
        """Go one step forward again; False when there is none."""
        self.close()
        if not self._future:
            return False
        step = self._future.pop()
        self._past.append(Step(step.label, self.spec))
        self.spec = step.spec
        return True
