"""The open housing: its spec with undo, the parts' meshes, and the latest that was built of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import ClassVar, Self

from psygnal import Signal

from housingdesk.build.results import BuildResult
from housingdesk.document.history import History
from housingdesk.files.project import load_project, save_project
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import Edit
from housingdesk.spec.models import Spec


@dataclass(frozen=True, eq=False)
class Save:
    """A document as it was when its save began; what is changed meanwhile stays unsaved.

    Attributes
    ----------
    path : where it goes.
    meshes : every mesh that ``spec`` names.
    """

    path: Path
    spec: Spec
    meshes: Mapping[str, Mesh]

    def write(self) -> None:
        """Write it, in any thread.

        Raises
        ------
        FileError : it cannot be written; what was there before is whole.
        """
        save_project(self.path, self.spec, self.meshes)


class Document:
    """One housing.  Lives in one thread; results from elsewhere are handed in there.

    Parameters
    ----------
    spec : what is wanted now.
    meshes : every mesh that ``spec`` names, by content key, in file units.
    path : where it was opened from or saved to, or None.
    saved : False for work that is nowhere on disk as the user knows it (a recovered copy).

    Attributes
    ----------
    spec_changed : signal (old spec, new spec).
    result_changed : signal (BuildResult), after a build was taken in.
    state_changed : signal (), when labels, path, ``modified``, ``stale`` or ``last_failure`` may differ.
    """

    spec_changed: ClassVar[Signal] = Signal(Spec, Spec)
    result_changed: ClassVar[Signal] = Signal(BuildResult)
    state_changed: ClassVar[Signal] = Signal()

    def __init__(
        self, spec: Spec, meshes: Mapping[str, Mesh], path: Path | None = None, *, saved: bool = True
    ) -> None:
        self._history = History(spec)
        self._meshes = dict(meshes)
        self._path = path
        self._saved_spec = spec if saved else None
        self._result: BuildResult | None = None
        self._failure: str | None = None

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open a project folder or file.

        Raises
        ------
        FileError, SpecError : it cannot be opened; one plain sentence.
        """
        spec, meshes = load_project(path)
        return cls(spec, meshes, path)

    # --- what it is ---------------------------------------------------------------------------------

    @property
    def spec(self) -> Spec:
        """What is wanted now."""
        return self._history.spec

    @property
    def meshes(self) -> Mapping[str, Mesh]:
        """All meshes that the spec, or a step back or forth, names; by key, in file units; read-only."""
        return MappingProxyType(self._meshes)

    @property
    def path(self) -> Path | None:
        """Where it is saved, or None."""
        return self._path

    @property
    def modified(self) -> bool:
        """Whether the spec differs from the saved one; undoing back to it makes it unmodified again."""
        return self.spec != self._saved_spec

    # --- editing ------------------------------------------------------------------------------------

    def apply(self, edit: Edit) -> None:
        """Edit the spec.

        Raises
        ------
        SpecError : the edit breaks a limit; nothing has changed.
        """
        old = self.spec
        new = edit.apply(old, self._meshes)
        self._meshes.update(edit.brings)
        self._history.push(edit.label, new, edit.merge)
        self._tell(old)

    def amend(self, edit: Edit) -> None:
        """Edit the spec as part of the last step: what the program adds to what the user did.

        Raises
        ------
        SpecError : the edit breaks a limit; nothing has changed.
        """
        old = self.spec
        self._history.amend(edit.apply(old, self._meshes))
        self._tell(old)

    def end_drag(self) -> None:
        """Close an undo step that edits were merged into; harmless when there is none."""
        self._history.close()
        self.state_changed.emit()

    def undo(self) -> None:
        """Take back the last step, if there is one."""
        old = self.spec
        if self._history.undo():
            self._tell(old)

    def redo(self) -> None:
        """Do again what was last taken back, if anything."""
        old = self.spec
        if self._history.redo():
            self._tell(old)

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return self.undo_label is not None

    @property
    def can_redo(self) -> bool:
        """Whether there is a step to do again."""
        return self.redo_label is not None

    @property
    def undo_label(self) -> str | None:
        """The step that ``undo`` takes back, for the menu."""
        return self._history.undo_label

    @property
    def redo_label(self) -> str | None:
        """The step that ``redo`` does again, for the menu."""
        return self._history.redo_label

    def _tell(self, old: Spec) -> None:
        if self.spec != old:
            self.spec_changed.emit(old, self.spec)
        self.state_changed.emit()

    # --- saving -------------------------------------------------------------------------------------

    def save(self, path: Path | None = None) -> None:
        """Save to a path, or where it was saved before.

        Raises
        ------
        FileError : it cannot be written; what was there before is whole, and this stays modified.
        ValueError : no path is known.
        """
        target = path or self._path
        if target is None:
            raise ValueError("a document that was never saved needs a path")
        save = self.begin_save(target)
        save.write()
        self.end_save(save)

    def begin_save(self, path: Path) -> Save:
        """Return what is to be written; ``write`` it in any thread, then hand it to ``end_save`` here."""
        self._history.close()
        meshes = {part.mesh_key: self._meshes[part.mesh_key] for part in self.spec.parts}
        return Save(path, self.spec, meshes)

    def end_save(self, save: Save) -> None:
        """Note that a save was written."""
        self._path, self._saved_spec = save.path, save.spec
        self.state_changed.emit()

    # --- what was built -----------------------------------------------------------------------------

    @property
    def result(self) -> BuildResult | None:
        """The last good build; kept while a newer one is made or fails."""
        return self._result

    @property
    def stale(self) -> bool:
        """Whether the last good build is of another spec than this."""
        return self._result is not None and self._result.spec != self.spec

    @property
    def last_failure(self) -> str | None:
        """Why the latest build failed, in one sentence; None since one went well."""
        return self._failure

    def take_result(self, result: BuildResult) -> None:
        """Take in a build; one that is older than the last is ignored."""
        if self._result is not None and result.generation < self._result.generation:
            return
        self._result, self._failure = _sharing(result, self._result), None
        self.result_changed.emit(self._result)
        self.state_changed.emit()

    def take_failure(self, sentence: str) -> None:
        """Note that the latest build failed; the last good halves stay."""
        self._failure = sentence
        self.state_changed.emit()


def _sharing(new: BuildResult, old: BuildResult | None) -> BuildResult:
    """Keep the last result's copies of what has not changed, so that nobody works on them again.

    These are parts that have not moved, and halves of which only more is known now.
    """
    if old is None or (old.spec.parts, old.spec.parting.pull) != (new.spec.parts, new.spec.parting.pull):
        return new
    new = replace(new, parts=old.parts)
    if new.spec != old.spec or not new.quality == old.quality == "final":
        return new
    before, now = old.section, new.section
    same_cut = before is not None and now is not None and before.plane == now.plane
    return replace(new, halves=old.halves, plan=old.plan, section=before if same_cut else now)
