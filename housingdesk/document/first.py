"""The complete first housing for a part, which the user then corrects."""

from __future__ import annotations

from housingdesk.build.results import LoadedPart, PlaneProposal
from housingdesk.geometry.inspect import inspect
from housingdesk.spec import placing
from housingdesk.spec.edits import changed
from housingdesk.spec.models import PartingSpec, PartSpec, PrinterSpec, Spec
from housingdesk.spec.part_edits import part_of_shapes
from housingdesk.spec.shapes import AnyShape
from housingdesk.spec.zones import ZoneSpec


def part_of(loaded: LoadedPart) -> PartSpec:
    """Return a part as read, lying as in its file."""
    return PartSpec(
        name=loaded.name,
        mesh_key=loaded.mesh.key,
        source_name=loaded.source_name,
        unit=loaded.unit,
        unit_origin=loaded.unit_origin,
        shapes=loaded.shapes,
    )


def measured(name: str, shapes: tuple[AnyShape, ...]) -> LoadedPart:
    """Return a part made from caliper readings as if it had been read from a file.

    Raises
    ------
    SpecError : the shapes leave no part.
    """
    part, mesh = part_of_shapes(name, shapes)
    return LoadedPart(part.name, "", mesh, part.unit, part.unit_origin, inspect(mesh), part.shapes)


def first_spec(
    loaded: LoadedPart,
    proposal: PlaneProposal | None = None,
    zones: tuple[ZoneSpec, ...] = (),
    printer: PrinterSpec | None = None,
) -> Spec:
    """Return a housing with the usual clearance and wall, parted as proposed, else at half height.

    Parameters
    ----------
    printer : the user's own, where it is known.

    Raises
    ------
    SpecError : the proposal names no pull direction, or a zone lies on another part.
    """
    part = part_of(loaded)
    middle_mm = placing.height_mm([part], {loaded.mesh.key: loaded.mesh}, "+z") / 2
    spec = Spec(name=loaded.name, parts=(part,), parting=PartingSpec(pull="+z", height_mm=middle_mm))
    spec = changed(spec, fit=changed(spec.fit, zones=zones), printer=printer or spec.printer)
    if proposal is None:
        return spec
    return changed(spec, parting=changed(spec.parting, pull=proposal.pull, height_mm=proposal.height_mm))
