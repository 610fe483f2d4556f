"""How parts come onto the desk: from a file, from caliper readings, or in another part's place."""

from __future__ import annotations

from pathlib import Path

from housingdesk.build.results import LoadedPart
from housingdesk.document.first import measured, part_of
from housingdesk.errors import HousingError
from housingdesk.geometry.frames import PullDirection
from housingdesk.jobs.messages import LoadParts, Propose
from housingdesk.spec.edits import add_part
from housingdesk.spec.models import FitSpec, ShellSpec
from housingdesk.spec.part_edits import swap_part
from housingdesk.spec.shapes import AnyShape
from housingdesk.ui.library import Library
from housingdesk.ui.mapdesk import MapDesk
from housingdesk.ui.waits import Wait

ALL_WAYS_UP_TO = 300_000  # triangles; of a finer part the first planes are looked for along the file's Z only


class PartDesk(MapDesk):
    """Reading and measuring parts; the desk gives it ``library`` and ``_refuse``."""

    library: Library

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
            self.apply(add_part(part_of(part), part.mesh))

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
            for part in parts:
                self.apply(add_part(part_of(part), part.mesh))

    def _find_first(self, part: LoadedPart) -> None:
        """Look for planes and zones of the part that a housing begins with."""
        way: PullDirection | None = "+z" if part.mesh.triangles > ALL_WAYS_UP_TO else None
        self._submit(
            Propose((part_of(part),), FitSpec(), ShellSpec(), way, find_zones=True), "first plane", part
        )

    def _swap(self, name: str, parts: tuple[LoadedPart, ...]) -> None:
        new = parts[0]
        if self.apply(swap_part(name, part_of(new), new.mesh)):
            if len(parts) > 1:
                self.said.emit(f"{new.source_name} holds {len(parts)} parts; {new.name} was taken.")
            else:
                self._tell_unit(new)

    def _tell_unit(self, part: LoadedPart) -> None:
        if part.unit_origin == "guessed":
            self.said.emit(
                f"{part.source_name or part.name} does not say its unit; it was read as {part.unit}. "
                "Check the size at station Part."
            )
