"""What a click on the bench means: a face to lay down, the place of a feature, or faces for a zone."""

from __future__ import annotations

from collections.abc import Hashable

from housingdesk.build.results import LoadedPart, PartPatches
from housingdesk.features.feature import Feature
from housingdesk.features.registry import kind_of, plain
from housingdesk.geometry.patches import describe
from housingdesk.jobs.messages import FindPatches, Job, PatchesFound, ProposeFeature
from housingdesk.spec.edits import Edit
from housingdesk.spec.edits_features import add_feature, add_zone, change_zone
from housingdesk.spec.models import PartSpec
from housingdesk.ui.deskstate import DeskState
from housingdesk.ui.facepick import NOTHING, FacePick, number_at
from housingdesk.ui.waits import Purpose
from housingdesk.view3d.scene import Spot


class PickDesk(DeskState):
    """Picking and placing; the desk gives it ``apply`` and ``_submit``.

    These raise, and are not abstract: Qt's classes have a metaclass of their own that does not look.
    """

    def apply(self, edit: Edit) -> bool:
        """Change the spec; whether that could be done."""
        raise NotImplementedError

    def _submit(
        self, job: Job, purpose: Purpose, loaded: LoadedPart | None = None, replaces: str = ""
    ) -> int:
        """Hand a job to the worker, and remember what it was for; its number."""
        raise NotImplementedError

    # --- one thing at a time is picked ---------------------------------------------------------------

    def start_picking(self, part: str) -> None:
        """Let a click on the bench choose the face to lay down."""
        self._pick(picking_for=part)

    def start_placing(self, kind: str) -> None:
        """Let a click on the bench choose the place of a new feature."""
        self._pick(placing=kind)

    def start_faces(self, pick: FacePick | None = None, zone: str = "") -> None:
        """Let clicks on the bench pick faces for a new zone, or those of an existing one afresh."""
        self._pick(faces=pick or NOTHING, zone=zone)
        self._find_patches()

    def stop_picking(self) -> None:
        """Let a click be a click again."""
        if self.picking:
            self._pick()

    def _pick(
        self,
        picking_for: str | None = None,
        placing: str | None = None,
        faces: FacePick | None = None,
        zone: str = "",
    ) -> None:
        self.picking_for, self.placing, self.faces, self.zone_picked = picking_for, placing, faces, zone
        self.changed.emit()

    def _repick(self, faces: FacePick) -> None:
        self.faces = faces
        self.changed.emit()

    # --- features -----------------------------------------------------------------------------------

    def place_feature(self, kind: str, spot: Spot | None = None) -> None:
        """Put a feature on the housing where the user clicked, else where the program would."""
        self.stop_picking()
        if self.spec is not None:
            at = (spot.point_mm, spot.normal) if spot else (None, None)
            self._submit(ProposeFeature(self.spec, kind, *at), "feature")

    def _take_feature(self, job: ProposeFeature, proposed: Feature | None) -> None:
        """Put a feature on as proposed; without a proposal as it is by itself, but not where clicked."""
        kind = kind_of(job.kind)
        if proposed is None and job.point_mm is None:
            proposed = plain(kind)
        if proposed is None:
            self.said.emit(f"{kind.TITLE} cannot go there; click another place.")
        else:
            self.apply(add_feature(proposed))

    # --- faces of zones -----------------------------------------------------------------------------

    def patches_of(self, part: str) -> PartPatches | None:
        """Return flats and rounds of a part of the housing, or None while they are being looked for."""
        found = next((p for p in self.spec.parts if p.name == part), None) if self.spec else None
        return self._patches.get(_form_of(found)) if found else None

    def words_at(self, spot: Spot | None) -> str:
        """Say what of a part is at a place of the bench; empty where nothing is known."""
        at = self._patch_at(spot)
        return describe(at[1].patches[at[2]]) if at else ""

    def faces_at(self, spot: Spot | None) -> FacePick:
        """Return what a click at a place of the bench would pick."""
        at = self._patch_at(spot)
        return NOTHING.clicked(at[0], at[2], adding=False) if at else NOTHING

    def click_face(self, spot: Spot, *, adding: bool) -> None:
        """Pick the flat or round that was clicked."""
        if self.faces is None:
            return
        at = self._patch_at(spot)
        if at is None:
            waits = spot.item.startswith("part-") and self._waits.for_purpose("patches")
            self.said.emit(
                "The faces of the part are still being read; click again in a moment."
                if waits
                else "There is no flat or round; click one of those that light up."
            )
            return
        self._repick(self.faces.clicked(at[0], at[2], adding=adding))

    def grow_faces(self, *, less: bool = False) -> None:
        """Let the pick spread over smooth edges, or draw back from them."""
        found = self.patches_of(self.faces.part) if self.faces else None
        if self.faces is not None and found is not None:
            why = self.faces.why_not_shrunk(found) if less else self.faces.why_not_grown(found)
            if why and self.faces.chosen:
                self.said.emit(why)
                return
            self._repick(self.faces.shrunk(found) if less else self.faces.grown(found))

    def make_zone(self) -> None:
        """Name what is picked as a zone, or give it to the zone whose faces were picked afresh."""
        found = self.patches_of(self.faces.part) if self.faces else None
        if self.spec is None or self.faces is None or found is None or not self.faces.chosen:
            return
        zone, known = self.faces.zone(found, self.spec.fit.clearance_mm), self.zone_picked
        self._pick()
        if known:
            self.apply(change_zone(known, part=zone.part, patches=zone.patches))
        else:
            self.apply(add_zone(zone))

    def _patch_at(self, spot: Spot | None) -> tuple[str, PartPatches, int] | None:
        if spot is None or self.result is None or not spot.item.startswith("part-"):
            return None
        part = self.result.spec.parts[int(spot.item.removeprefix("part-"))].name
        found = self.patches_of(part)
        number = number_at(found, spot.face) if found else None
        return None if found is None or number is None else (part, found, number)

    def _find_patches(self) -> None:
        """Have the parts' faces read, unless they are known or being read."""
        if self.spec is None or self._waits.for_purpose("patches"):
            return
        if any(_form_of(p) not in self._patches for p in self.spec.parts):
            self._submit(FindPatches(self.spec.parts), "patches")

    def _take_patches(self, job: FindPatches, answer: PatchesFound) -> None:
        self._patches |= {_form_of(p): answer.by_part[p.name] for p in job.parts}


def _form_of(part: PartSpec) -> Hashable:
    """Return what decides a part's faces in its own frame."""
    return part.mesh_key, part.scale_mm
