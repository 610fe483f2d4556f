"""What lies on the desk, as the views read it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from pathlib import Path

import numpy as np
from PySide6.QtCore import QObject, Signal

from housingdesk.build.results import BuildResult, PartPatches, PlaneProposal
from housingdesk.document.document import Document
from housingdesk.document.lying import lying_parts
from housingdesk.finding import Finding
from housingdesk.geometry.inspect import MeshFacts
from housingdesk.geometry.types import Mesh
from housingdesk.jobs.messages import Pose, Progress
from housingdesk.spec import placing
from housingdesk.spec.models import Spec
from housingdesk.ui.facepick import FacePick
from housingdesk.ui.waits import Waits


class DeskState(QObject):
    """Everything a view may show.

    ``changed`` comes when any of it may differ; ``opened`` when another housing lies on the desk;
    ``said(sentence)`` when the user has to be told something; ``add_part_asked``, ``measure_asked``,
    ``swap_asked(name of the part)`` and ``folder_asked`` when a station needs a dialog of the window;
    ``folder_shown`` when the folder of the written halves is to be opened.

    Attributes
    ----------
    proposals : parting planes, best first, once the user asked for them.
    mesh_facts : by mesh key, what was found in the files read in this session.
    picking_for : name of the part whose face is being chosen on the bench, or None.
    placing : kind of the feature whose place is being chosen on the bench, or None.
    faces : what is picked on the bench for a zone, or None.
    zone_picked : name of the zone whose faces are picked afresh; empty for a new one.
    pose, export_folder : how and where the halves are written.
    write_waits : the halves are to be written as soon as they are measured.
    exported : files written of the housing as it is now.
    last_folder : where dialogs begin.
    """

    changed = Signal()
    opened = Signal()
    said = Signal(str)
    add_part_asked = Signal()
    measure_asked = Signal()
    swap_asked = Signal(str)
    folder_asked = Signal()
    folder_shown = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._document: Document | None = None
        self._waits = Waits()
        self._proof: BuildResult | None = None
        self._height: tuple[object, float] = (None, 0.0)
        self._bare: tuple[object, tuple[Mesh, ...]] = (None, ())
        self._live: tuple[object, tuple[Mesh, ...]] = (None, ())
        self._landmarks: tuple[object, tuple[float, ...]] = (None, ())
        self._snaps: tuple[PlaneProposal, ...] = ()
        self.proposals: tuple[PlaneProposal, ...] = ()
        self.mesh_facts: dict[str, MeshFacts] = {}
        self.picking_for: str | None = None
        self.placing: str | None = None
        self.faces: FacePick | None = None
        self.zone_picked = ""
        self._patches: dict[Hashable, PartPatches] = {}
        self.pose: Pose = "print"
        self.export_folder: Path | None = None
        self._folders: dict[Path, Path] = {}  # of saved projects, where their halves went in this session
        self.write_waits = False
        self.exported: tuple[Path, ...] = ()
        self.last_folder = str(Path.home())

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

    def _keep_folder(self) -> None:
        """Keep for the session where the halves of a saved project go."""
        if self.path is not None and self.export_folder is not None:
            self._folders[self.path.resolve()] = self.export_folder

    def _take_kept_folder(self) -> None:
        """Begin with the folder this project had; another housing's would be overwritten."""
        self.export_folder = self._folders.get(self.path.resolve()) if self.path is not None else None

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
    def measuring(self) -> bool:
        """Whether the proof of what is wanted now is on its way."""
        return self.stale and not self.failure

    @property
    def measuring_play(self) -> bool:
        """Whether it will be known how far the part can move; that takes longer than the rest."""
        return self.measuring or self._waits.for_purpose("play")

    @property
    def fails(self) -> tuple[Finding, ...]:
        """What does not pass in the proof that is shown."""
        findings = self._proof.findings if self._proof else ()
        return tuple(f for f in findings if f.severity == "fail")

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
    def picking(self) -> bool:
        """Whether a click on the bench chooses something."""
        return self.picking_for is not None or self.placing is not None or self.faces is not None

    @property
    def placing_busy(self) -> bool:
        """Whether a feature's place is being looked for."""
        return self._waits.for_purpose("feature")

    @property
    def writing(self) -> bool:
        """Whether the halves are being written."""
        return self._waits.for_purpose("export")

    @property
    def saving(self) -> bool:
        """Whether the project is being written."""
        return False

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
        if self.saving:
            return "saving…"
        if self.path is None:
            return "not saved yet"
        return f"{self.path.name}, {'changed since it was saved' if self.modified else 'saved'}"

    @property
    def parts_height_mm(self) -> float:
        """How high the parts are along the pull."""
        spec = self.spec
        if spec is None:
            return 0.0
        key = self._lying
        if self._height[0] != key:
            self._height = (key, placing.height_mm(spec.parts, self.meshes, spec.parting.pull))
        return self._height[1]

    @property
    def bare_parts(self) -> tuple[Mesh, ...]:
        """The parts alone in the build frame, to be shown until there are halves; none when too fine."""
        spec = self.spec
        if spec is None:
            return ()
        if self._bare[0] != self._lying:
            self._bare = (self._lying, lying_parts(spec, self.meshes))
        return self._bare[1]

    @property
    def live_parts(self) -> tuple[Mesh, ...]:
        """The parts as they are wanted now, among halves that were made for them as they were.

        None where that is the same, where it cannot be shown at once, or where other parts lie there.
        """
        spec, result = self.spec, self.result
        if spec is None or result is None or spec.parting.pull != result.spec.parting.pull:
            return ()
        before = result.spec.parts
        if spec.parts == before or [p.name for p in spec.parts] != [p.name for p in before]:
            return ()
        key = (spec.parts, result.assembly_to_build)
        if self._live[0] != key:
            frame = np.reshape(result.assembly_to_build, (4, 4))
            self._live = (key, lying_parts(spec, self.meshes, frame))
        return self._live[1]

    @property
    def snap_heights_mm(self) -> tuple[float, ...]:
        """Heights at which the plane catches: the middle, flats and axes of the parts, and good planes."""
        spec = self.spec
        if spec is None:
            return ()
        good = {p.height_mm for p in (*self.proposals, *self._snaps) if p.pull == spec.parting.pull}
        key, landmarks = self._landmarks
        known = landmarks if key == self._lying else ()
        return tuple(sorted({self.parts_height_mm / 2, *good, *known}))

    @property
    def _lying(self) -> object:
        """How the parts lie to the pull: what every height of theirs depends on."""
        return (self.spec.parts, self.spec.parting.pull) if self.spec else None
