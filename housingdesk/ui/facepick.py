"""Picking faces of a part: what is picked, and how a pick grows.  No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from housingdesk.build.results import PartPatches
from housingdesk.build.zoning import find_patch, reference
from housingdesk.geometry.patches import Patch, describe
from housingdesk.geometry.types import Ints
from housingdesk.spec.zones import ZoneSpec

_MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class FacePick:
    """Flats and rounds picked on one part.

    Attributes
    ----------
    part : name of the part; empty before the first click.
    chosen : indices into its patches.
    """

    part: str = ""
    chosen: frozenset[int] = frozenset()

    def clicked(self, part: str, number: int, *, adding: bool) -> FacePick:
        """Return the pick after a click on a patch; with ``adding`` it joins or leaves the others."""
        if not adding or part != self.part:
            return FacePick(part, frozenset({number}))
        return replace(self, chosen=self.chosen ^ {number})

    def grown(self, found: PartPatches) -> FacePick:
        """Return the pick with all that it runs into over smooth edges."""
        return replace(self, chosen=self.chosen.union(*(found.near[i] for i in self.chosen)))

    def shrunk(self, found: PartPatches) -> FacePick:
        """Return the pick without what runs into something outside it over a smooth edge; never empty."""
        kept = frozenset(i for i in self.chosen if self.chosen.issuperset(found.near[i]))
        return replace(self, chosen=kept) if kept else self

    def why_not_grown(self, found: PartPatches) -> str:
        """Say why nothing can be added over smooth edges; empty where something can."""
        return "" if self.grown(found) != self else "Nothing that is not picked is joined smoothly to this."

    def why_not_shrunk(self, found: PartPatches) -> str:
        """Say why nothing can be taken off at smooth edges; empty where something can."""
        if self.shrunk(found) != self:
            return ""
        if self.grown(found) == self:
            return "Nothing picked runs smoothly into what is not picked."
        return "All of it runs smoothly into what is not picked: nothing would be left."

    def patches(self, found: PartPatches) -> tuple[Patch, ...]:
        """Return what is picked, largest first."""
        return tuple(sorted((found.patches[i] for i in self.chosen), key=lambda p: -p.area_mm2))

    def faces(self, found: PartPatches) -> Ints:
        """(k,) int32 faces of the part's mesh that are picked."""
        none = [np.zeros(0, np.int32)]
        return np.concatenate([*none, *(found.patches[i].faces for i in sorted(self.chosen))])

    def words(self, found: PartPatches) -> str:
        """Say what is picked, largest first."""
        said = [describe(p) for p in self.patches(found)]
        more = len(said) - _MOST_NAMED
        return "; ".join(said[:_MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")

    def zone(self, found: PartPatches, clearance_mm: float) -> ZoneSpec:
        """Return a zone of what is picked, named after its faces."""
        patches = self.patches(found)
        return ZoneSpec(
            name=_name(patches),
            part=self.part,
            patches=tuple(reference(p) for p in patches),
            clearance_mm=clearance_mm,
        )


NOTHING = FacePick()


def pick_of(zone: ZoneSpec, found: PartPatches) -> FacePick:
    """Return the faces of a zone as a pick; faces that are no longer on the part are left out."""
    number = {id(p): i for i, p in enumerate(found.patches)}
    patches = (find_patch(ref, found.patches) for ref in zone.patches)
    return FacePick(zone.part, frozenset(number[id(p)] for p in patches if p is not None))


def number_at(found: PartPatches, face: int) -> int | None:
    """Return the index of the patch that a face of the mesh belongs to, or None."""
    for number, patch in enumerate(found.patches):
        at = int(np.searchsorted(patch.faces, face))
        if at < len(patch.faces) and patch.faces[at] == face:
            return number
    return None


def _name(patches: Sequence[Patch]) -> str:
    """Name a zone after the largest of its faces, by what tells it from others of its kind."""
    words = describe(max(patches, key=lambda p: p.area_mm2)).partition(",")[0]
    return f"round {words}" if words.startswith("Ø") else f"{words[:1].lower()}{words[1:]}"
