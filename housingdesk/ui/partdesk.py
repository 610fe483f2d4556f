"""How parts come onto the desk: from a file, from caliper readings, or in another part's place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from housingdesk.build.results import LoadedPart
from housingdesk.document.first import measured, part_of
from housingdesk.document.untouched import Untouched
from housingdesk.errors import HousingError
from housingdesk.geometry.frames import PullDirection
from housingdesk.jobs.messages import Answer, FindZones, Job, LoadParts, Propose, Proposed, ZonesFound
from housingdesk.spec.edits import Edit, add_part
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec
from housingdesk.spec.part_edits import swap_part, take_zones
from housingdesk.spec.shapes import AnyShape
from housingdesk.spec.zones import ZoneSpec
from housingdesk.ui.library import Library
from housingdesk.ui.mapdesk import MapDesk
from housingdesk.ui.waits import Wait

ALL_WAYS_UP_TO = 300_000  # triangles; of a finer part the first planes are looked for along the file's Z only


@dataclass(frozen=True, slots=True)
class Swapped:
    """What became of a part's zones when another file took its place.

    Attributes
    ----------
    parts : of the spec for which this holds.
    words : told to the user.
    lost : names of zones none of whose faces is there.
    offer : zones that the program sees on the new part, in place of lost ones of the user's.
    """

    parts: tuple[PartSpec, ...]
    part: str
    words: str
    lost: tuple[str, ...] = ()
    offer: tuple[ZoneSpec, ...] = ()


class PartDesk(MapDesk):
    """Reading and measuring parts; the desk gives it ``library`` and ``_refuse``."""

    library: Library

    def __init__(self) -> None:
        super().__init__()
        self._untouched = Untouched()
        self._readings_changed = False
        self._swapped: Swapped | None = None

    def _refuse(self, error: HousingError) -> None:
        """Tell what cannot be done."""
        raise NotImplementedError

    def open_part(self, path: Path) -> None:
        """Start a housing around a part's file."""
        self.last_folder = str(path.parent)
        self._submit(LoadParts(path), "new part")

    def add_part(self, path: Path) -> None:
        """Add a part's file to the open housing."""
        self.last_folder = str(path.parent)
        self._submit(LoadParts(path), "more parts")

    def swap_part(self, name: str, path: Path) -> None:
        """Put another file in a part's place."""
        self.last_folder = str(path.parent)
        self._submit(LoadParts(path), "swap", replaces=name)

    def measure_part(self, name: str, shapes: tuple[AnyShape, ...]) -> None:
        """Start a housing around a part made from caliper readings."""
        if (part := self._measured(name, shapes)) is not None:
            self._find_first(part)

    def add_measured(self, name: str, shapes: tuple[AnyShape, ...]) -> None:
        """Add a part made from caliper readings to the open housing."""
        if (part := self._measured(name, shapes)) is not None:
            self._add((part,))

    def _measured(self, name: str, shapes: tuple[AnyShape, ...]) -> LoadedPart | None:
        try:
            part = measured(name, shapes)
            self.library.keep(part.mesh)
        except HousingError as error:
            self._refuse(error)
            return None
        self.mesh_facts[part.mesh.key] = part.facts
        return part

    def _take_parts(self, wait: Wait, parts: tuple[LoadedPart, ...]) -> None:
        """Do with parts that were read what they were read for."""
        for part in parts:
            self.mesh_facts[part.mesh.key] = part.facts
        if isinstance(wait.job, LoadParts):
            self.library.remember("parts", wait.job.path)
        if wait.purpose == "new part":
            self._find_first(parts[0])
        elif wait.purpose == "swap":
            self._swap(wait.replaces, parts)
        else:
            self._add(parts)

    def _add(self, parts: tuple[LoadedPart, ...]) -> None:
        """Add parts to the open housing, and look for what turns on them, as on the first."""
        added = [self.spec.parts[-1] for p in parts if self.apply(add_part(part_of(p), p.mesh)) and self.spec]
        if added:
            self._submit(FindZones(tuple(added), ()), "zones of more parts")

    def _find_first(self, part: LoadedPart) -> None:
        """Look for planes and zones of the part that a housing begins with."""
        way: PullDirection | None = "+z" if part.mesh.triangles > ALL_WAYS_UP_TO else None
        self._submit(
            Propose((part_of(part),), FitSpec(), ShellSpec(), way, find_zones=True), "first plane", part
        )

    def _swap(self, name: str, parts: tuple[LoadedPart, ...]) -> None:
        new = parts[0]
        place = next((i for i, p in enumerate(self.spec.parts) if p.name == name), 0) if self.spec else 0
        if self.apply(swap_part(name, part_of(new), new.mesh)) and self.spec is not None:
            self._look_again(self.spec.parts[place].name)
            if len(parts) > 1:
                self.said.emit(f"{new.source_name} holds {len(parts)} parts; {new.name} was taken.")
            else:
                self._tell_unit(new)

    # --- what the program proposed, proposed anew ----------------------------------------------------

    def _ask_anew(self) -> bool:
        """Have plane and zones proposed for changed readings, as long as both are the program's own."""
        spec = self.spec
        changed, self._readings_changed = self._readings_changed, False
        if spec is None or not (
            changed and self._untouched.has_plane(spec) and self._untouched.has_zones(spec)
        ):
            return False
        self._submit(Propose(spec.parts, spec.fit, spec.shell, find_zones=True), "readings")
        return True

    def _take_anew(self, job: Job, answer: Answer) -> bool:
        """Take over such a proposal, as part of the step that asked for it; whether it changed anything."""
        spec = self.spec
        if (
            not (isinstance(job, Propose) and isinstance(answer, Proposed) and answer.proposals)
            or spec is None
        ):
            return False
        own = self._untouched.has_plane(spec) and self._untouched.has_zones(spec)
        if spec.parts != job.parts or not own:
            return False  # others than these are wanted by now
        best = answer.proposals[0]
        plane = PartingSpec(pull=best.pull, height_mm=best.height_mm)
        made = {p.name for p in spec.parts if p.shapes}
        gone = [z.name for z in spec.fit.zones if z.part in made]
        self._amend(take_zones(gone, tuple(z for z in answer.zones if z.part in made), plane))
        self._snaps = answer.proposals
        return self.spec != spec

    def _amend(self, edit: Edit) -> None:
        """Add to the user's last step what the program proposes; its zones are the program's then."""
        assert self._document is not None
        plane = self._untouched.has_plane(self._document.spec)
        self._document.amend(edit)
        self._untouched.begin(self._document.spec, plane=plane)

    # --- another file in a part's place --------------------------------------------------------------

    @property
    def swapped(self) -> Swapped | None:
        """What became of a part's zones when its file was swapped, until the parts change again."""
        found = self._swapped
        return (
            found if found is not None and self.spec is not None and self.spec.parts == found.parts else None
        )

    def take_offer(self) -> None:
        """Take the zones that the program sees on a swapped part in place of its own."""
        told = self.swapped
        if told is not None and self.apply(take_zones(told.lost, told.offer)):
            self._swapped = replace(told, offer=(), words="What turns on it has a zone now, see station Fit.")
            self.changed.emit()

    def _look_again(self, part: str) -> None:
        """Have the zones of a part looked for on its new file."""
        spec = self.spec
        if spec is None:
            return
        zones = tuple(z for z in spec.fit.zones if z.part == part)
        self._swapped = Swapped(spec.parts, part, "Looking for the faces of its zones…" if zones else "")
        self._submit(FindZones(tuple(p for p in spec.parts if p.name == part), zones), "zones")

    def _take_more_zones(self, job: FindZones, answer: ZonesFound) -> None:
        """Give parts that were added the zones the program sees, unless the zones are the user's by now."""
        spec = self.spec
        if spec is None or not answer.proposed or not self._untouched.has_zones(spec):
            return
        there = {(p.name, p.mesh_key, p.scale_mm) for p in spec.parts}  # wherever they were moved meanwhile
        if all((p.name, p.mesh_key, p.scale_mm) in there for p in job.parts):
            self._amend(take_zones((), answer.proposed))

    def _take_zones(self, job: FindZones, answer: ZonesFound) -> None:
        """Say which faces were found; lost zones of the program's own are proposed anew, others offered."""
        told, spec = self.swapped, self.spec
        if told is None or spec is None or job.parts[0].name != told.part:
            return
        words = [f"{z.name}: {answer.faces[z.name]} of {len(z.patches)}" for z in job.zones]
        said = (
            f"Faces found again on {job.parts[0].source_name or told.part}: {'; '.join(words)}."
            if words
            else ""
        )
        lost = tuple(z.name for z in job.zones if not answer.faces[z.name])
        offer: tuple[ZoneSpec, ...] = ()
        if self._untouched.has_zones(spec) and (lost or not job.zones):
            self._amend(take_zones([z.name for z in job.zones], answer.proposed))
            self._readings_changed = self.spec != spec  # the plane too, at rest, where it is the program's
            if lost or answer.proposed:
                taken = ", ".join(z.name for z in answer.proposed) or "none"
                said += f" In their place, what the program sees on it: {taken}."
        elif lost or not job.zones:
            offer = answer.proposed
            if lost:
                said += f" Pick those of {' and '.join(lost)} afresh at station Fit, or remove the zone."
        self._swapped = replace(
            told, words=said.strip() or "It has no zones to find again.", lost=lost, offer=offer
        )

    def _tell_unit(self, part: LoadedPart) -> None:
        if part.unit_origin == "guessed":
            self.said.emit(
                f"{part.source_name or part.name} does not say its unit; it was read as {part.unit}. "
                "Check the size at station Part."
            )
