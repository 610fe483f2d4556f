"""Edits of what a part is: its shapes from caliper readings, or another file in its place."""

from __future__ import annotations

from housingdesk.errors import SpecError
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import Edit, changed
from housingdesk.spec.models import PartSpec, Spec
from housingdesk.spec.placing import Meshes
from housingdesk.spec.shapes import AnyShape, body


def part_of_shapes(name: str, shapes: tuple[AnyShape, ...]) -> tuple[PartSpec, Mesh]:
    """Return a part made of shapes, and its mesh; SpecError where they leave nothing."""
    mesh = body(shapes)
    part = PartSpec(name=name, mesh_key=mesh.key, unit="mm", unit_origin="measured", shapes=shapes)
    return part, mesh


def set_shapes(part: str, shapes: tuple[AnyShape, ...]) -> Edit:
    """Correct the readings of a part that was made of shapes.

    Raises
    ------
    SpecError : the shapes leave no part.
    """
    new, mesh = part_of_shapes(part, shapes)
    return _replaced(
        f"Measure {part}", part, mesh, {"mesh_key": mesh.key, "shapes": new.shapes}, f"shapes {part}"
    )


def swap_part(part: str, other: PartSpec, mesh: Mesh) -> Edit:
    """Put another file in a part's place; its name, place, zones and features stay.

    Zones find their faces again by their words; the proof lists the ones it does not find.
    """
    changes = {
        "mesh_key": mesh.key,
        "source_name": other.source_name,
        "unit": other.unit,
        "unit_origin": other.unit_origin,
        "scale": other.scale,
        "shapes": other.shapes,
    }
    return _replaced(f"Put {other.source_name or other.name} in place of {part}", part, mesh, changes, None)


def _replaced(label: str, part: str, mesh: Mesh, changes: dict[str, object], merge: str | None) -> Edit:
    def change(spec: Spec, meshes: Meshes) -> Spec:
        if all(p.name != part for p in spec.parts):
            raise SpecError(f"There is no part named {part}; choose one of the parts on the job card.")
        parts = tuple(changed(p, **changes) if p.name == part else p for p in spec.parts)
        return changed(spec, parts=parts)

    return Edit(label, change, merge, brings={mesh.key: mesh})
