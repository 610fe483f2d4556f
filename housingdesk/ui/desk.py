"""The window's one controller: the document, the worker's answers, and what is being waited for.

Views read its properties and show them when ``changed`` comes; they ask it for edits and jobs and never
speak to each other.  One way round: intent -> ``Document.apply`` -> new spec -> job -> result -> views.
"""

from __future__ import annotations

from pathlib import Path

from housingdesk.build.results import LoadedPart
from housingdesk.document.autosave import Recovery
from housingdesk.document.document import Document
from housingdesk.document.first import first_spec
from housingdesk.errors import HousingError
from housingdesk.files.meshstore import MeshStore
from housingdesk.files.places import user_cache_dir, user_data_dir
from housingdesk.jobs.client import WorkerClient
from housingdesk.jobs.messages import (
    Pose,
    Proposed,
)
from housingdesk.spec.edits import Edit
from housingdesk.spec.models import Spec
from housingdesk.ui.background import Background
from housingdesk.ui.bridge import ClientFactory
from housingdesk.ui.builddesk import BuildDesk
from housingdesk.ui.library import Library, is_sample
from housingdesk.ui.saving import Saving

AUTOSAVE_MS = 60_000


class Desk(BuildDesk):
    """The open housing and everything that is being done for it."""

    def __init__(
        self, factory: ClientFactory = WorkerClient, data: Path | None = None, cache: Path | None = None
    ) -> None:
        store = MeshStore((cache or user_cache_dir()) / "meshes")
        super().__init__(factory, store)
        self.library = Library(data or user_data_dir(), store)
        self._background = Background(self)
        self._saving = Saving(self._background, self._refuse)
        self._dragging = False
        self._recovery: Recovery | None = None
        self._minute = self._timer(AUTOSAVE_MS, self.autosave)
        self._minute.start()

    # --- opening and closing ------------------------------------------------------------------------

    def open_project(self, path: Path) -> None:
        """Open a project; one that came with the program is opened as a copy."""

        def done(document: Document) -> None:
            if not is_sample(path):
                self.last_folder = str(path.parent)
            self.library.remember("projects", path)
            self._lay_down(document)

        self._background.do(lambda: self.library.open(path), done, self._refuse)

    def recover(self, recovery: Recovery) -> None:
        """Go on with what a crashed session left; its copy goes when the work is safe elsewhere."""

        def done(document: Document) -> None:
            self._lay_down(document)
            self._recovery = recovery
            self.autosave()

        self._background.do(lambda: self.library.open_recovery(recovery), done, self._refuse)

    def close_project(self) -> None:
        """Back to nothing; unsaved work is gone, the caller has asked."""
        self._cancel_all()
        self._document = None
        self._forget_results()
        self.autosave()
        self.changed.emit()

    def close(self) -> None:
        """End the session: no process, thread or recovery copy is left."""
        for timer in (self._rest, self._look, self._minute):
            timer.stop()
        self._bridge.close()
        self._background.wait()
        self.library.autosaver.close()

    def _lay_down(self, document: Document) -> None:
        """Put a housing on the desk and have it made."""
        self._cancel_all()
        self._document = document
        self._forget_results()
        document.spec_changed.connect(self._spec_changed)
        document.state_changed.connect(self.changed.emit)
        self.opened.emit()
        self._make("draft")
        self._find_landmarks()
        self._rest.start()
        self.changed.emit()

    def _forget_results(self) -> None:
        self._proof = self._cut = self._recovery = None
        self._first_build = self._latest_build + 1
        self._dragging = False
        self._snaps = self.proposals = ()
        self.exported, self.pose = (), "print"
        self._take_kept_folder()
        self._untouched.forget()
        self._readings_changed = False
        self._swapped = None
        self.picking_for = self.placing = self.faces = None
        self.gaps_wanted = self.relief_wanted = False

    # --- editing ------------------------------------------------------------------------------------

    def apply(self, edit: Edit) -> bool:
        """Change the spec; a refused edit is told in its sentence and returns False."""
        if self._document is None:
            return False
        try:
            for mesh in edit.brings.values():
                self.library.keep(mesh)
            self._document.apply(edit)
        except HousingError as error:
            self.said.emit(str(error))
            self.changed.emit()
            return False
        return True

    @property
    def dragging(self) -> bool:
        """Whether something is being dragged or stepped."""
        return self._dragging

    def begin_drag(self) -> None:
        """Begin one undo step, which lasts until ``end_drag``; until then only drafts are made.

        A final that a moving control overtakes is stopped together with the worker and its caches, and
        the next draft would have to start from nothing.
        """
        self._dragging = True
        self._rest.stop()
        if self._document is not None:
            self._document.end_drag()

    def end_drag(self) -> None:
        """Close the undo step of a drag."""
        self._dragging = False
        if self._document is not None:
            self._document.end_drag()
            self._rest.start()

    def undo(self) -> None:
        """Take the last step back."""
        if self._document is not None:
            self._document.undo()

    def redo(self) -> None:
        """Do it again."""
        if self._document is not None:
            self._document.redo()

    def _spec_changed(self, old: Spec, new: Spec) -> None:
        if old.parts != new.parts:
            self.proposals = self._snaps = ()
            self._untouched.follow(old, new)
            same = len(old.parts) == len(new.parts)
            self._readings_changed |= same and any(
                a.shapes != b.shapes for a, b in zip(old.parts, new.parts, strict=True)
            )
        if old.printer != new.printer:  # whatever housing it was described in, it is the user's one
            self._background.do(lambda: self.library.printer.write(new.printer), lambda _: None, self._refuse)
        self.exported = ()
        if new.model_copy(update={"name": old.name}) != old:
            self._make("draft")
        if not self._dragging:
            self._rest.start()

    def set_pose(self, pose: Pose) -> None:
        """Choose how the halves are laid when they are written."""
        self.pose, self.exported = pose, ()
        self.changed.emit()

    def set_export_folder(self, folder: Path) -> None:
        """Choose where the halves are written."""
        self.export_folder, self.exported = folder, ()
        self._keep_folder()
        self.changed.emit()

    def _begin(self, loaded: LoadedPart, proposed: Proposed) -> None:
        """Lay down the complete first housing for a part."""
        planes = proposed.proposals
        best = planes[0] if planes else None
        spec = first_spec(loaded, best, proposed.zones, self.library.printer.read())
        # Readings that somebody typed are nowhere else; a file can be opened again.
        self._lay_down(Document(spec, {loaded.mesh.key: loaded.mesh}, saved=not loaded.shapes))
        self._untouched.begin(spec)
        self._snaps = planes
        self._tell_unit(loaded)

    # --- saving -------------------------------------------------------------------------------------

    def save(self, path: Path) -> bool:
        """Begin to save the project as it is now, off the window's thread; False when nothing is open.

        A save that cannot be done is told in its sentence, and the work stays unsaved.
        """
        document, recovery = self._document, self._recovery
        if document is None:
            return False

        def done() -> None:
            self.last_folder = str(path.parent)
            self.library.remember("projects", path)
            self._keep_folder()
            if recovery is not None:
                self.library.autosaver.discard(recovery)
                self._recovery = None
            self.changed.emit()

        self._saving.start(document, path, done)
        self.changed.emit()
        return True

    def finish_saving(self) -> bool:
        """Wait for a save under way; whether it went well."""
        return self._saving.finish()

    def autosave(self) -> None:
        """Copy unsaved work to the user's data folder, off the window's thread."""
        if self._document is None:
            return
        now = self._document
        copy = Document(now.spec, now.meshes, now.path, saved=not now.modified)
        self._background.do(lambda: self.library.autosaver.save(copy), lambda _: None, self._refuse)

    def _refuse(self, error: HousingError) -> None:
        self.said.emit(str(error))
        self.changed.emit()

    @property
    def saving(self) -> bool:
        """Whether the project is being written."""
        return self._saving.running
