"""Edits of what a part is: its shapes from caliper readings, or another file in its place."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace
from pathlib import PurePath

import numpy as np

from housingdesk.errors import SpecError
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec.edits import Edit, changed, free_name, rename
from housingdesk.spec.following import zones_followed
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from housingdesk.spec.placing import Meshes
from housingdesk.spec.shapes import AnyShape, Block, Round, body
from housingdesk.spec.zones import ZoneSpec

MAX_NAME = 80  # characters, as PartSpec


def part_of_shapes(name: str, shapes: tuple[AnyShape, ...]) -> tuple[PartSpec, Mesh]:
    """Return a part made of shapes, and its mesh; SpecError where they leave nothing."""
    mesh = body(shapes)
    part = PartSpec(name=name, mesh_key=mesh.key, unit="mm", unit_origin="measured", shapes=shapes)
    return part, mesh


def fresh_shape(kind: type[AnyShape], box_mm: Floats, *, cut: bool = False) -> AnyShape:
    """Return a shape to begin with: on top of a part, or taken away from its top.

    Parameters
    ----------
    box_mm : (2, 3) the part's least and greatest corner, part frame.
    """
    low, high = np.asarray(box_mm, float)
    x, y = np.round((low + high)[:2] / 2, 2).tolist()
    top = round(float(high[2]), 2)
    if not cut:
        return kind(x_mm=x, y_mm=y, z_mm=top)
    long, wide, deep = np.maximum(np.round((high - low) / 3, 1), 0.1).tolist()
    if kind is Round:
        return Round(diameter_mm=min(long, wide), long_mm=deep, way="-z", x_mm=x, y_mm=y, z_mm=top, cut=True)
    return Block(
        long_mm=long, wide_mm=wide, high_mm=deep, x_mm=x, y_mm=y, z_mm=round(top - deep, 2), cut=True
    )


def set_shapes(part: str, shapes: tuple[AnyShape, ...], step: str = "") -> Edit:
    """Correct the readings of a part that was made of shapes; its zones follow the faces they lie on.

    Parameters
    ----------
    step : what is corrected; edits of one step, one after another, are undone as one.

    Raises
    ------
    SpecError : the shapes leave no part.
    """
    new, mesh = part_of_shapes(part, shapes)
    changes: dict[str, object] = {"mesh_key": mesh.key, "shapes": new.shapes}
    put = _replaced(f"Measure {part}", part, mesh, changes, f"shapes {part} {step}" if step else None)

    def change(spec: Spec, meshes: Meshes) -> Spec:
        before = next((p.shapes for p in spec.parts if p.name == part), ())
        zones = zones_followed(spec.fit.zones, part, before, shapes)
        return changed(put.change(spec, meshes), fit=changed(spec.fit, zones=zones))

    return replace(put, change=change)


def name_of(file_name: str) -> str:
    """Return what a part is called that came from a file, as long as nobody says otherwise."""
    return PurePath(file_name).stem.replace("_", " ").strip()[:MAX_NAME] or "Part"


def swap_part(part: str, other: PartSpec, mesh: Mesh) -> Edit:
    """Put another file in a part's place; its place, zones and features stay.

    Zones find their faces again by their words; the proof lists the ones it does not find.  A name that came
    from the old file, of the part and of the housing, follows the new one.
    """
    changes: dict[str, object] = {
        "mesh_key": mesh.key,
        "source_name": other.source_name,
        "unit": other.unit,
        "unit_origin": other.unit_origin,
        "scale": other.scale,
        "shapes": other.shapes,
    }
    put = _replaced(f"Put {other.source_name or other.name} in place of {part}", part, mesh, changes, None)

    def change(spec: Spec, meshes: Meshes) -> Spec:
        after = put.change(spec, meshes)
        old = next(p for p in spec.parts if p.name == part)
        if not old.source_name or part != name_of(old.source_name):
            return after
        name = free_name(other.name, {p.name for p in spec.parts if p.name != part})
        after = rename(part, name).change(after, meshes)
        return changed(after, name=name) if spec.name == part else after

    return replace(put, change=change)


def take_zones(
    gone: Container[str], proposed: tuple[ZoneSpec, ...], plane: PartingSpec | None = None
) -> Edit:
    """Put zones that the program proposes in place of some by name, and the plane where one is proposed."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        zones = [z for z in spec.fit.zones if z.name not in gone]
        for zone in proposed:
            zones.append(changed(zone, name=free_name(zone.name, {z.name for z in zones})))
        return changed(spec, fit=changed(spec.fit, zones=tuple(zones)), parting=plane or spec.parting)

    return Edit("Take the proposed zones", change)


def _replaced(label: str, part: str, mesh: Mesh, changes: dict[str, object], merge: str | None) -> Edit:
    def change(spec: Spec, meshes: Meshes) -> Spec:
        if all(p.name != part for p in spec.parts):
            raise SpecError(f"There is no part named {part}; choose one of the parts on the job card.")
        parts = tuple(changed(p, **changes) if p.name == part else p for p in spec.parts)
        return changed(spec, parts=parts)

    return Edit(label, change, merge, brings={mesh.key: mesh})
