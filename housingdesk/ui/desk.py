"""The window's one controller: the document, the worker's answers, and what is being waited for.

Views read its properties and show them when ``changed`` comes; they ask it for edits and jobs and never
speak to each other.  One way round: intent -> ``Document.apply`` -> new spec -> job -> result -> views.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from housingdesk.build.results import BuildResult, CutPlane, LoadedPart, PlaneProposal, Quality
from housingdesk.document.autosave import Autosaver, Recovery, recovered
from housingdesk.document.document import Document
from housingdesk.document.first import first_spec, part_of
from housingdesk.document.recent import Recent
from housingdesk.errors import HousingError
from housingdesk.files.meshstore import MeshStore
from housingdesk.files.places import samples_dir, user_cache_dir, user_data_dir
from housingdesk.files.project import is_project
from housingdesk.geometry.inspect import MeshFacts
from housingdesk.geometry.types import Mesh
from housingdesk.jobs.client import WorkerClient
from housingdesk.jobs.messages import (
    Answer,
    Build,
    Built,
    Export,
    Exported,
    Failed,
    Job,
    Loaded,
    LoadParts,
    Pose,
    Progress,
    Propose,
    Proposed,
)
from housingdesk.spec import placing
from housingdesk.spec.edits import Edit, add_part
from housingdesk.spec.models import FitSpec, ShellSpec, Spec
from housingdesk.ui.background import Background
from housingdesk.ui.bridge import Bridge, ClientFactory
from housingdesk.ui.waits import Purpose, Waits

REST_MS = 250  # nothing has changed for this long: make it in full
AUTOSAVE_MS = 60_000
_LOOK_MS = 200
_MOST_RECENT = 5


class Desk(QObject):
    """The open housing and everything that is being done for it.

    ``changed`` comes when any property may differ; ``opened`` when another housing lies on the desk;
    ``said(sentence)`` when the user has to be told something.
    """

    changed = Signal()
    opened = Signal()
    said = Signal(str)
    add_part_asked = Signal()
    folder_asked = Signal()

    def __init__(
        self, factory: ClientFactory = WorkerClient, data: Path | None = None, cache: Path | None = None
    ) -> None:
        super().__init__()
        data = data or user_data_dir()
        store_folder = (cache or user_cache_dir()) / "meshes"
        self._store = MeshStore(store_folder)
        self._recent = Recent(data)
        self._autosaver = Autosaver(data)
        self._background = Background(self)
        self._document: Document | None = None
        self._waits = Waits()
        self._first_build = 0
        self._latest_build = 0
        self._cut: CutPlane | None = None
        self._proof: BuildResult | None = None
        self._height: tuple[object, float] = (None, 0.0)
        self._recovery: Recovery | None = None
        self._snaps: tuple[PlaneProposal, ...] = ()
        self.proposals: tuple[PlaneProposal, ...] = ()
        self.mesh_facts: dict[str, MeshFacts] = {}
        self.picking_for: str | None = None
        self.pose: Pose = "print"
        self.export_folder: Path | None = None
        self.exported: tuple[Path, ...] = ()
        self.last_folder = str(Path.home())
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

    # --- what views read ----------------------------------------------------------------------------

    @property
    def spec(self) -> Spec | None:
        """What is wanted; None while nothing is open."""
        return self._document.spec if self._document else None

    @property
    def meshes(self) -> Mapping[str, Mesh]:
        """The parts' meshes by key."""
        return self._document.meshes if self._document else {}

    @property
    def path(self) -> Path | None:
        """Where the project is saved."""
        return self._document.path if self._document else None

    @property
    def modified(self) -> bool:
        """Whether there is unsaved work."""
        return self._document is not None and self._document.modified

    @property
    def result(self) -> BuildResult | None:
        """The last good halves, draft or final."""
        return self._document.result if self._document else None

    @property
    def proof(self) -> BuildResult | None:
        """The last halves that were measured."""
        return self._proof

    @property
    def halves_stale(self) -> bool:
        """Whether the halves shown are of an older wish."""
        return self._document is not None and self._document.stale

    @property
    def stale(self) -> bool:
        """Whether the proof shown is of an older wish."""
        return self._proof is None or self._proof.spec != self.spec

    @property
    def failure(self) -> str:
        """Why the last wish could not be made; empty since one could."""
        return (self._document.last_failure or "") if self._document else ""

    @property
    def undo_label(self) -> str:
        """Step that undo takes back."""
        return (self._document.undo_label or "") if self._document else ""

    @property
    def redo_label(self) -> str:
        """Step that redo does again."""
        return (self._document.redo_label or "") if self._document else ""

    @property
    def proposing(self) -> bool:
        """Whether planes are being looked for on the user's wish."""
        return self._waits.for_purpose("planes")

    @property
    def writing(self) -> bool:
        """Whether the halves are being written."""
        return self._waits.for_purpose("export")

    @property
    def busy(self) -> bool:
        """Whether anything is under way."""
        return bool(self._waits)

    @property
    def progress(self) -> Progress | None:
        """What to tell about long work."""
        return self._waits.worth_telling()

    @property
    def title(self) -> str:
        """Title of the window."""
        return f"{self.spec.name}[*] – Housing Desk" if self.spec else "Housing Desk"

    @property
    def saved_words(self) -> str:
        """Where the project is saved, in a few words."""
        if self.path is None:
            return "not saved yet"
        return f"{self.path.name}, {'changed since it was saved' if self.modified else 'saved'}"

    @property
    def parts_height_mm(self) -> float:
        """How high the parts are along the pull."""
        spec = self.spec
        if spec is None:
            return 0.0
        key = (spec.parts, spec.parting.pull)
        if self._height[0] != key:
            self._height = (key, placing.height_mm(spec.parts, self.meshes, spec.parting.pull))
        return self._height[1]

    @property
    def snap_heights_mm(self) -> tuple[float, ...]:
        """Heights at which the plane catches: the middle, and good planes for this pull."""
        spec = self.spec
        if spec is None:
            return ()
        good = {p.height_mm for p in (*self.proposals, *self._snaps) if p.pull == spec.parting.pull}
        return tuple(sorted({self.parts_height_mm / 2, *good}))

    # --- opening and closing ------------------------------------------------------------------------

    def open_part(self, path: Path) -> None:
        """Start a housing around a part's file."""
        self.last_folder = str(path.parent)
        self._submit(LoadParts(path), "new part")

    def add_part(self, path: Path) -> None:
        """Add a part's file to the open housing."""
        self.last_folder = str(path.parent)
        self._submit(LoadParts(path), "more parts")

    def open_project(self, path: Path) -> None:
        """Open a project; one that came with the program is opened as a copy."""
        sample = samples_dir().resolve() in path.resolve().parents

        def read() -> Document:
            opened = Document.open(path)
            self._keep(opened)
            return Document(opened.spec, opened.meshes) if sample else opened

        def done(document: Document) -> None:
            if not sample:
                self.last_folder = str(path.parent)
                self._recent.add("projects", path)
            self._lay_down(document)

        self._background.do(read, done, self._refuse)

    def recover(self, recovery: Recovery) -> None:
        """Go on with what a crashed session left; its copy goes when the work is safe elsewhere."""

        def read() -> Document:
            document = recovered(recovery)
            self._keep(document)
            return document

        def done(document: Document) -> None:
            self._lay_down(document)
            self._recovery = recovery
            self.autosave()

        self._background.do(read, done, self._refuse)

    def drop_recovery(self, recovery: Recovery) -> None:
        """Throw away what a crashed session left."""
        self._autosaver.discard(recovery)

    def recoveries(self) -> list[tuple[str, Recovery]]:
        """Return what crashed sessions left, each with words about it."""
        found = self._autosaver.recoverable()
        return [(f"“{r.name}” was not saved, {r.saved_at:%d %b, %H:%M}", r) for r in found]

    def recent(self) -> list[Path]:
        """Return the projects and parts opened last."""
        return [*self._recent.projects, *self._recent.parts][:_MOST_RECENT]

    def samples(self) -> list[Path]:
        """Return the sample projects that came with the program."""
        folder = samples_dir()
        return sorted(p for p in folder.iterdir() if is_project(p)) if folder.is_dir() else []

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
        self._autosaver.close()

    def _keep(self, document: Document) -> None:
        for mesh in document.meshes.values():
            self._store.put(mesh)

    def _lay_down(self, document: Document) -> None:
        """Put a housing on the desk and have it made."""
        self._cancel_all()
        self._document = document
        self._forget_results()
        document.spec_changed.connect(self._spec_changed)
        document.state_changed.connect(self.changed.emit)
        self.opened.emit()
        self._make("draft")
        self._rest.start()
        self.changed.emit()

    def _forget_results(self) -> None:
        self._proof = self._cut = self._recovery = None
        self._first_build = self._latest_build + 1
        self._snaps = self.proposals = ()
        self.exported, self.picking_for = (), None

    # --- editing ------------------------------------------------------------------------------------

    def apply(self, edit: Edit) -> bool:
        """Change the spec; a refused edit is told in its sentence and returns False."""
        if self._document is None:
            return False
        try:
            self._document.apply(edit)
        except HousingError as error:
            self.said.emit(str(error))
            self.changed.emit()
            return False
        return True

    def begin_drag(self) -> None:
        """Begin one undo step, which lasts until ``end_drag``."""
        if self._document is not None:
            self._document.end_drag()

    def end_drag(self) -> None:
        """Close the undo step of a drag."""
        if self._document is not None:
            self._document.end_drag()

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
        self._rest.start()

    def start_picking(self, part: str) -> None:
        """Let a click on the bench choose the face to lay down."""
        self.picking_for = part
        self.changed.emit()

    def stop_picking(self) -> None:
        """Let a click be a click again."""
        if self.picking_for is not None:
            self.picking_for = None
            self.changed.emit()

    def set_pose(self, pose: Pose) -> None:
        """Choose how the halves are laid when they are written."""
        self.pose, self.exported = pose, ()
        self.changed.emit()

    def set_export_folder(self, folder: Path) -> None:
        """Choose where the halves are written."""
        self.export_folder, self.last_folder, self.exported = folder, str(folder), ()
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

    def write(self) -> None:
        """Write the halves into the chosen folder."""
        if self.spec is not None and self.export_folder is not None and not self.writing:
            self.exported = ()
            self._submit(Export(self.spec, self.export_folder, self.pose), "export")

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
        for generation in self._waits.generations():
            self._bridge.cancel(generation)
            self._waits.take(generation)

    def _make(self, quality: Quality) -> None:
        if self.spec is not None:
            self._latest_build = self._submit(Build(self.spec, quality, self._cut), "build")

    def _make_final(self) -> None:
        shown = self.result.section.plane if self.result and self.result.section else None
        if self.spec is not None and (
            self.stale or self.halves_stale or shown != self._cut or not self._is_final()
        ):
            self._make("final")

    def _is_final(self) -> bool:
        return self.result is not None and self.result.quality == "final"

    def _submit(self, job: Job, purpose: Purpose, loaded: LoadedPart | None = None) -> int:
        generation = self._bridge.submit(job)
        self._waits.add(generation, job, purpose, loaded)
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
        elif wait is not None:
            if isinstance(answer, Failed) and wait.purpose != "first plane":
                self.said.emit(answer.sentence)
            else:
                self._take(wait.purpose, job, answer, wait.loaded)
        self.changed.emit()

    def _take_build(self, generation: int, answer: Answer) -> None:
        document = self._document
        if document is None or generation < self._first_build:
            return
        if isinstance(answer, Built):
            if answer.result.quality == "final":
                self._proof = answer.result
            document.take_result(answer.result)
        elif isinstance(answer, Failed) and generation == self._latest_build:
            self._rest.stop()
            document.take_failure(answer.sentence)

    def _take(self, purpose: Purpose, job: Job, answer: Answer, loaded: LoadedPart | None) -> None:
        if isinstance(answer, Loaded):
            for part in answer.parts:
                self.mesh_facts[part.mesh.key] = part.facts
            if isinstance(job, LoadParts):
                self._recent.add("parts", job.path)
            if purpose == "new part":
                first = answer.parts[0]
                self._submit(Propose((part_of(first),), FitSpec(), ShellSpec()), "first plane", first)
            else:
                for part in answer.parts:
                    self.apply(add_part(part_of(part), part.mesh))
        elif purpose == "first plane" and loaded is not None:
            self._begin(loaded, answer.proposals if isinstance(answer, Proposed) else ())
        elif isinstance(answer, Proposed):
            self.proposals = answer.proposals
        elif isinstance(answer, Exported):
            self.exported = answer.files

    def _begin(self, loaded: LoadedPart, proposals: tuple[PlaneProposal, ...]) -> None:
        """Lay down the complete first housing for a part."""
        spec = first_spec(loaded, proposals[0] if proposals else None)
        self._lay_down(Document(spec, {loaded.mesh.key: loaded.mesh}))
        self._snaps = proposals
        if loaded.unit_origin == "guessed":
            self.said.emit(
                f"{loaded.source_name or loaded.name} does not say its unit; it was read as {loaded.unit}. "
                "Check the size at station Part."
            )

    # --- saving -------------------------------------------------------------------------------------

    def save(self, path: Path) -> bool:
        """Save the project; False and a sentence when it cannot be."""
        if self._document is None:
            return False
        try:
            self._document.save(path)
        except HousingError as error:
            self.said.emit(str(error))
            return False
        self.last_folder = str(path.parent)
        self._recent.add("projects", path)
        if self._recovery is not None:
            self._autosaver.discard(self._recovery)
            self._recovery = None
        self.changed.emit()
        return True

    def autosave(self) -> None:
        """Copy unsaved work to the user's data folder, off the window's thread."""
        if self._document is None:
            return
        now = self._document
        copy = Document(now.spec, now.meshes, now.path, saved=not now.modified)
        self._background.do(lambda: self._autosaver.save(copy), lambda _: None, self._refuse)

    def _refuse(self, error: HousingError) -> None:
        self.said.emit(str(error))
