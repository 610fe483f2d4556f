"""What the worker is asked for and what becomes of its answers: drafts, finals, planes, files."""

from __future__ import annotations

import logging
from collections.abc import Callable

from PySide6.QtCore import QTimer

from housingdesk.build.results import CutPlane, LoadedPart, Quality
from housingdesk.files.meshstore import MeshStore
from housingdesk.jobs.messages import (
    Answer,
    Build,
    Built,
    Export,
    Exported,
    Failed,
    FindLandmarks,
    FindPatches,
    FindZones,
    Job,
    Landmarks,
    Loaded,
    PatchesFound,
    Progress,
    Propose,
    Proposed,
    ProposedFeature,
    ProposeFeature,
    ZonesFound,
)
from housingdesk.ui.bridge import Bridge, ClientFactory
from housingdesk.ui.partdesk import PartDesk
from housingdesk.ui.waits import UNTOLD, Purpose, Wait

LOG = logging.getLogger("housingdesk.ui")
REST_MS = 250  # nothing has changed for this long: make it in full
_LOOK_MS = 200


class BuildDesk(PartDesk):
    """Hands jobs to the worker; the desk gives it ``_begin``."""

    def __init__(self, factory: ClientFactory, store: MeshStore) -> None:
        super().__init__()
        self._first_build = 0
        self._latest_build = 0
        self._cut: CutPlane | None = None
        self._rest = self._timer(REST_MS, self._make_final, single=True)
        self._look = self._timer(_LOOK_MS, self._look_at_waits)
        self._bridge = Bridge(store.folder, factory)
        self._bridge.answered.connect(self._answered)
        self._bridge.progressed.connect(self._progressed)

    def _begin(self, loaded: LoadedPart, proposed: Proposed) -> None:
        """Lay down the complete first housing for a part."""
        raise NotImplementedError

    def _timer(self, after_ms: int, call: Callable[[], object], *, single: bool = False) -> QTimer:
        timer = QTimer(self)
        timer.setInterval(after_ms)
        timer.setSingleShot(single)
        timer.timeout.connect(lambda: call())
        return timer

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
        if self._ask_anew():
            return  # with its answer
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
        if isinstance(answer, Failed) and answer.detail:
            LOG.error("%s", answer.detail)
        if isinstance(job, Build):
            self._take_build(generation, answer)
            self._ask_more(job, answer)
        elif wait is not None:
            if isinstance(answer, Failed) and wait.purpose not in UNTOLD | {"first plane", "readings"}:
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
        elif purpose == "readings":
            if not self._take_anew(job, answer):
                self._make_final()
        elif isinstance(job, FindZones) and isinstance(answer, ZonesFound):
            take = self._take_more_zones if purpose == "zones of more parts" else self._take_zones
            take(job, answer)
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
