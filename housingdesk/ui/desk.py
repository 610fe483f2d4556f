"""The window's one controller: the document, the worker's answers, and what is being waited for.

Views read its properties and show them when ``changed`` comes; they ask it for edits and jobs and never
speak to each other.  One way round: intent -> ``Document.apply`` -> new spec -> job -> result -> views.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QTimer

from housingdesk.build.results import CutPlane, LoadedPart, Quality
from housingdesk.document.autosave import Recovery
from housingdesk.document.document import Document
from housingdesk.document.first import first_spec
from housingdesk.errors import HousingError
from housingdesk.files.meshstore import MeshStore
from housingdesk.files.places import user_cache_dir, user_data_dir
from housingdesk.jobs.client import WorkerClient
from housingdesk.jobs.messages import (
    Answer,
    Build,
    Built,
    Export,
    Exported,
    Failed,
    FindLandmarks,
    FindPatches,
    Job,
    Landmarks,
    Loaded,
    PatchesFound,
    Pose,
    Progress,
    Propose,
    Proposed,
    ProposedFeature,
    ProposeFeature,
)
from housingdesk.spec.edits import Edit
from housingdesk.spec.models import Spec
from housingdesk.ui.background import Background
from housingdesk.ui.bridge import Bridge, ClientFactory
from housingdesk.ui.library import Library, is_sample
from housingdesk.ui.partdesk import PartDesk
from housingdesk.ui.saving import Saving
from housingdesk.ui.waits import UNTOLD, Purpose, Wait

REST_MS = 250  # nothing has changed for this long: make it in full
AUTOSAVE_MS = 60_000
_LOOK_MS = 200


class Desk(PartDesk):
    """The open housing and everything that is being done for it."""

    def __init__(
        self, factory: ClientFactory = WorkerClient, data: Path | None = None, cache: Path | None = None
    ) -> None:
        super().__init__()
        store_folder = (cache or user_cache_dir()) / "meshes"
        self.library = Library(data or user_data_dir(), MeshStore(store_folder))
        self._background = Background(self)
        self._saving = Saving(self._background, self._refuse)
        self._first_build = 0
        self._latest_build = 0
        self._dragging = False
        self._cut: CutPlane | None = None
        self._recovery: Recovery | None = None
        self._rest = self._timer(REST_MS, self._make_final, single=True)
        self._look = self._timer(_LOOK_MS, self._look_at_waits)
        self._minute = self._timer(AUTOSAVE_MS, self.autosave)
        self._minute.start()
        self._bridge = Bridge(store_folder, factory)
        self._bridge.answered.connect(self._answered)
        self._bridge.progressed.connect(self._progressed)

    def _timer(self, after_ms: int, call: Callable[[], object], *, single: bool = False) -> QTimer:
        timer = QTimer(self)
        timer.setInterval(after_ms)
        timer.setSingleShot(single)
        timer.timeout.connect(lambda: call())
        return timer

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
        self.exported = ()
        self._take_kept_folder()
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
        self.exported = ()
        if new.name == old.name:
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

    # --- jobs ---------------------------------------------------------------------------------------

    def set_cut(self, cut: CutPlane) -> None:
        """Cut the section elsewhere."""
        if cut != self._cut:
            self._cut = cut
            if self.result is not None:
                self._make(self.result.quality if self.result.spec == self.spec else "draft")
                self._rest.start()

    def ask_proposals(self) -> None:
        """Rank parting planes for the user."""
        spec = self.spec
        if spec is not None and not self.proposing:
            self._submit(Propose(spec.parts, spec.fit, spec.shell), "planes")

    def write(self, *, replace: bool = False) -> None:
        """Write the halves into the chosen folder; ``replace`` lets them take the place of earlier ones."""
        if self.spec is not None and self.export_folder is not None and not self.writing:
            self.exported = ()
            self._submit(Export(self.spec, self.export_folder, self.pose, replace), "export")

    def cancel(self) -> None:
        """Stop everything under way; the last good halves stay."""
        building = self._waits.for_purpose("build")
        self._cancel_all()
        if building and self._document is not None and self.stale:
            self._document.take_failure(
                "Stopped; the halves shown are of an earlier wish. Change any number to go on."
            )
        self.changed.emit()

    def _cancel_all(self) -> None:
        self._rest.stop()
        if self._waits.for_purpose("landmarks"):
            self._landmarks = (None, ())  # asked again when there is rest
        for generation in self._waits.generations():
            self._bridge.cancel(generation)
            self._waits.take(generation)

    def _make(self, quality: Quality) -> None:
        if self.spec is not None:
            known = self.result is not None and self.result.spec == self.spec and self.result.play is not None
            job = Build(self.spec, quality, self._cut, "play" if known else "halves")
            self._latest_build = self._submit(job, "build")

    def _find_landmarks(self) -> None:
        """Ask where a dragged plane should catch, unless that is known or being looked for."""
        spec, lying = self.spec, self._lying
        if spec is not None and self._landmarks[0] != lying:
            self._landmarks = (lying, ())
            self._submit(FindLandmarks(spec.parts, spec.parting.pull), "landmarks")
        self._find_patches()

    def _make_final(self) -> None:
        self._find_landmarks()
        shown = self.result.section.plane if self.result and self.result.section else None
        if self.spec is not None and (
            self.stale or self.halves_stale or shown != self._cut or not self._is_final()
        ):
            self._make("final")

    def _is_final(self) -> bool:
        return self.result is not None and self.result.facts is not None

    def _submit(
        self, job: Job, purpose: Purpose, loaded: LoadedPart | None = None, replaces: str = ""
    ) -> int:
        generation = self._bridge.submit(job)
        self._waits.add(generation, job, purpose, loaded, replaces)
        self._look.start()
        if purpose != "build":
            self.changed.emit()
        return generation

    def _look_at_waits(self) -> None:
        if not self._waits:
            self._look.stop()
        self.changed.emit()

    def _progressed(self, generation: int, progress: Progress) -> None:
        if generation == 0:
            self.said.emit(f"{progress.phrase.rstrip(' .…')}.")
        self._waits.tell(generation, progress)

    def _answered(self, generation: int, job: Job, answer: Answer) -> None:
        wait = self._waits.take(generation)
        if isinstance(job, Build):
            self._take_build(generation, answer)
            self._ask_more(job, answer)
        elif wait is not None:
            if isinstance(answer, Failed) and wait.purpose not in UNTOLD | {"first plane"}:
                self.said.emit(answer.sentence)
                if wait.purpose in ("gaps", "relief"):  # or it would be asked for again with every change
                    self.gaps_wanted = self.relief_wanted = False
            else:
                self._take(wait, answer)
        self.changed.emit()

    def _take_build(self, generation: int, answer: Answer) -> None:
        document = self._document
        if document is None or generation < self._first_build:
            return
        if isinstance(answer, Built):
            if answer.result.facts is not None:
                self._proof = answer.result
            document.take_result(answer.result)
            if self._proof is answer.result:
                self._proof = document.result  # which shares the parts' copies
            self._measure_maps()
        elif isinstance(answer, Failed) and generation == self._latest_build:
            self._rest.stop()
            document.take_failure(answer.sentence)

    def _ask_more(self, job: Build, answer: Answer) -> None:
        """Have final halves proved once they are seen, and the play measured once the proof is on the sheet.

        What comes before is known to the worker by then.
        """
        if job.quality != "final" or not isinstance(answer, Built) or self.halves_stale:
            return
        if job.upto == "halves":
            self._latest_build = self._submit(Build(job.spec, "final", self._cut, "proof"), "build")
        elif job.upto == "proof":
            self._submit(Build(job.spec, "final", self._cut), "play")

    def _take(self, wait: Wait, answer: Answer) -> None:
        purpose, job, loaded = wait.purpose, wait.job, wait.loaded
        if isinstance(answer, Loaded):
            self._take_parts(wait, answer.parts)
        elif purpose == "first plane" and loaded is not None:
            self._begin(loaded, answer if isinstance(answer, Proposed) else Proposed(()))
        elif isinstance(answer, Proposed):
            self.proposals = answer.proposals
        elif isinstance(job, FindLandmarks) and isinstance(answer, Landmarks):
            if self._landmarks[0] == (job.parts, job.pull):
                self._landmarks = (self._landmarks[0], answer.heights_mm)
        elif isinstance(answer, Exported):
            self.exported = answer.files
            self.said.emit(f"The halves are written into {answer.files[0].parent}.")
        elif isinstance(job, ProposeFeature) and isinstance(answer, ProposedFeature):
            self._take_feature(job, answer.feature)
        elif isinstance(job, FindPatches) and isinstance(answer, PatchesFound):
            self._take_patches(job, answer)
        else:
            self._take_map(job, answer)

    def _begin(self, loaded: LoadedPart, proposed: Proposed) -> None:
        """Lay down the complete first housing for a part."""
        planes = proposed.proposals
        spec = first_spec(loaded, planes[0] if planes else None, proposed.zones)
        # Readings that somebody typed are nowhere else; a file can be opened again.
        self._lay_down(Document(spec, {loaded.mesh.key: loaded.mesh}, saved=not loaded.shapes))
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
