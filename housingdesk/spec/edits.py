"""What a user can do to a spec: each edit is a small frozen value, spec in, spec out.

An edit has a label for the undo menu.  Edits of one drag share a ``merge`` key and become one undo step.
Whatever changes how high the parts are along the pull keeps the parting plane at the same share of that
height, so that it never ends up outside the parts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike
from pydantic import ValidationError

from housingdesk.errors import SpecError
from housingdesk.geometry.frames import PullDirection, rotation_about, rotation_to
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec import placing
from housingdesk.spec.limits import sentence_of
from housingdesk.spec.models import UNIT_MM, HousingSide, Model, PartSpec, Spec, Unit
from housingdesk.spec.placing import Meshes

M = TypeVar("M", bound=Model)

READING_MM = 0.1  # how far a careful caliper reading may be off (common practice, no source)


@dataclass(frozen=True, slots=True)
class Edit:
    """One thing the user does.

    Attributes
    ----------
    label : what it is called in the undo menu.
    change : the spec after it; gets the meshes by key, for what depends on the parts' size.
    merge : edits with the same key, one after another, are one undo step until the drag ends.
    brings : meshes by key that the new spec needs and the document may not have yet.
    """

    label: str
    change: Callable[[Spec, Meshes], Spec]
    merge: str | None = None
    brings: Mapping[str, Mesh] = field(default_factory=dict)

    def apply(self, spec: Spec, meshes: Meshes) -> Spec:
        """Return the edited spec.

        Parameters
        ----------
        meshes : the parts' meshes by content key, in file units.

        Raises
        ------
        SpecError
            The edit breaks a limit, or puts the parting plane outside the parts.
        """
        meshes = {**meshes, **self.brings}
        after = self.change(spec, meshes)
        if after.parts != spec.parts and after.parting == spec.parting:
            after = _with_plane_kept(spec, after, meshes)
        if after.parts != spec.parts or after.parting != spec.parting:
            _check_plane(after, meshes)
        return after


def changed(model: M, **changes: Any) -> M:
    """Return a model with some fields changed, checked again.

    Raises
    ------
    SpecError
        A limit is broken; the message is one plain sentence.
    """
    try:
        return type(model)(**{**dict(model), **changes})
    except ValidationError as error:
        raise SpecError(sentence_of(error, type(model))) from error


# --- parting, fit, shell ----------------------------------------------------------------------------


def set_parting_height(height_mm: float) -> Edit:
    """Move the parting plane to a height above the parts' lowest point, along the pull."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, parting=changed(spec.parting, height_mm=height_mm))

    return Edit(f"Parting plane at {height_mm:.4g} mm", change, "parting height")


def set_pull(direction: PullDirection, height_mm: float | None = None) -> Edit:
    """Lift the upper half off in another direction; without a height the plane keeps its share of it."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        turned = changed(spec, parting=changed(spec.parting, pull=direction))
        if height_mm is None:
            return _with_plane_kept(spec, turned, meshes)
        return changed(turned, parting=changed(turned.parting, height_mm=height_mm))

    return Edit("Lift off another way", change)


def set_clearance(clearance_mm: float) -> Edit:
    """Leave this gap between part and cavity wall, a side."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, fit=changed(spec.fit, clearance_mm=clearance_mm))

    return Edit(f"Clearance {clearance_mm:.4g} mm", change, "clearance")


def set_seal(seal_mm: float) -> Edit:
    """Keep plastic out of gaps of the part that are narrower than this."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, fit=changed(spec.fit, seal_mm=seal_mm))

    return Edit(f"Gaps under {seal_mm:.4g} mm stay empty", change, "seal")


def set_wall(wall_mm: float) -> Edit:
    """Keep at least this much material between cavity and outside."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, wall_mm=wall_mm))

    return Edit(f"Wall {wall_mm:.4g} mm", change, "wall")


def set_side(side: HousingSide, reach_mm: float | None) -> Edit:
    """Fix how far the outside lies beyond the parts on one side; None lets wall and clearance decide."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        return changed(spec, shell=changed(spec.shell, **{f"{side}_mm": reach_mm}))

    said = "free" if reach_mm is None else f"at {reach_mm:.4g} mm"
    return Edit(f"{side.capitalize()} side {said}", change, f"side {side}")


# --- parts ------------------------------------------------------------------------------------------


def set_unit(part: str, unit: Unit) -> Edit:
    """Say what one unit of a part's file is.

    The part grows about its own origin, so that parts drawn together stay together when both change.
    """
    return _part_edit(
        f"{part} is in {unit}", part, lambda p, _: changed(p, unit=unit, unit_origin="given", scale=1.0)
    )


def set_scale_by_measure(part: str, measured_mm: float, file_length: float) -> Edit:
    """Settle a part's unit by one dimension measured with calipers.

    Parameters
    ----------
    measured_mm : the reading, mm.
    file_length : the same dimension in file units.
    """

    def change(p: PartSpec, meshes: Meshes) -> PartSpec:
        if not (np.isfinite([measured_mm, file_length]).all() and measured_mm > 0 and file_length > 0):
            raise SpecError("A measured dimension must be more than 0 mm; measure the part again.")
        unit = _nearest_unit(measured_mm / file_length)
        nominal_mm = file_length * UNIT_MM[unit]
        # A reading that agrees with a plain unit settles the unit; its error is not the part's size.
        agrees = abs(measured_mm - nominal_mm) <= READING_MM
        scale = 1.0 if agrees else measured_mm / nominal_mm
        return changed(p, unit=unit, scale=scale, unit_origin="measured")

    return _part_edit(f"{part} measures {measured_mm:.4g} mm", part, change)


def place(part: str, matrix: ArrayLike, *, merge: str | None = None) -> Edit:
    """Put a part at a (4, 4) rigid map from part frame to assembly frame."""
    return _part_edit(
        f"Move {part}",
        part,
        lambda p, _: changed(p, placement=placing.as_matrix(matrix)),
        merge or f"place {part}",
    )


def turn(part: str, axis: ArrayLike, degrees: float) -> Edit:
    """Turn a part about its own middle, right-handed about a (3,) axis of the assembly frame."""

    def change(p: PartSpec, meshes: Meshes) -> PartSpec:
        direction = _direction(axis)
        return _moved(p, placing.turned_about(rotation_about(direction, degrees), _middle(p, meshes)))

    return _part_edit(f"Turn {part} by {degrees:.4g}°", part, change)


def lay_flat(part: str, normal: ArrayLike) -> Edit:
    """Turn a part until a face with this outward (3,) normal (assembly frame) faces down, against the pull.

    The part's middle stays where it was across the pull, and its lowest point at the same level.
    """

    def change(spec: Spec, meshes: Meshes) -> Spec:
        p = _part(spec, part)
        up = placing.pull_axis(spec.parting.pull)
        rotation = rotation_to(_direction(normal), -up)
        turned = _moved(p, placing.turned_about(rotation, _middle(p, meshes)))
        rise = _level(p, spec, meshes) - _level(turned, spec, meshes)
        return _with_part(spec, part, _moved(turned, placing.moved_by(up * rise)))

    return Edit(f"Lay {part} flat", change)


def centre(part: str) -> Edit:
    """Put a part's middle over the middle of the others, across the pull; alone, over the origin."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        p = _part(spec, part)
        up = placing.pull_axis(spec.parting.pull)
        others = [q for q in spec.parts if q.name != part]
        target = placing.box_mm(others, meshes).mean(axis=0) if others else np.zeros(3)
        way = target - _middle(p, meshes)
        return _with_part(spec, part, _moved(p, placing.moved_by(way - up * (way @ up))))

    return Edit(f"Centre {part}", change)


def add_part(part: PartSpec, mesh: Mesh) -> Edit:
    """Add a part; a name that is taken gets a number."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        name = free_name(part.name, {p.name for p in spec.parts})
        return changed(spec, parts=(*spec.parts, changed(part, name=name, mesh_key=mesh.key)))

    return Edit(f"Add {part.name}", change, brings={mesh.key: mesh})


def remove_part(part: str) -> Edit:
    """Take a part out of the housing."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        _part(spec, part)
        left = tuple(p for p in spec.parts if p.name != part)
        if not left:
            raise SpecError("A housing needs at least one part; add another before removing this one.")
        zones = tuple(z for z in spec.fit.zones if z.part != part)
        return changed(spec, parts=left, fit=changed(spec.fit, zones=zones))

    return Edit(f"Remove {part}", change)


def rename(part: str, name: str) -> Edit:
    """Give a part another name; its zones go with it."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        new = changed(_part(spec, part), name=name.strip())
        zones = tuple(changed(z, part=new.name) if z.part == part else z for z in spec.fit.zones)
        parts = tuple(new if p.name == part else p for p in spec.parts)
        return changed(spec, parts=parts, fit=changed(spec.fit, zones=zones))

    return Edit(f"Rename {part}", change)


def rename_housing(name: str) -> Edit:
    """Give the housing another name."""
    return Edit("Rename the housing", lambda spec, _: changed(spec, name=name.strip()), "housing name")


def free_name(wanted: str, taken: set[str]) -> str:
    """Return a name nobody has: as wanted, else with the next free number."""
    name, number = wanted, 2
    while name in taken:
        tail = f" {number}"
        name, number = wanted[: 80 - len(tail)] + tail, number + 1
    return name


# --- helpers ----------------------------------------------------------------------------------------


def _part_edit(
    label: str, part: str, change: Callable[[PartSpec, Meshes], PartSpec], merge: str | None = None
) -> Edit:
    """Make an edit that changes one part only."""
    return Edit(label, lambda spec, meshes: _with_part(spec, part, change(_part(spec, part), meshes)), merge)


def _part(spec: Spec, name: str) -> PartSpec:
    found = next((p for p in spec.parts if p.name == name), None)
    if found is None:
        raise SpecError(f"There is no part named {name}; choose one of the parts on the job card.")
    return found


def _with_part(spec: Spec, name: str, part: PartSpec) -> Spec:
    return changed(spec, parts=tuple(part if p.name == name else p for p in spec.parts))


def _moved(part: PartSpec, by: Floats) -> PartSpec:
    return changed(part, placement=placing.as_matrix(by @ np.reshape(part.placement, (4, 4))))


def _middle(part: PartSpec, meshes: Meshes) -> Floats:
    """Return the (3,) middle of a placed part's box, assembly frame."""
    return np.asarray(placing.box_mm([part], meshes).mean(axis=0))


def _level(part: PartSpec, spec: Spec, meshes: Meshes) -> float:
    """Return where a part's lowest point is along the pull, mm."""
    return float(placing.box_mm([part], meshes, spec.parting.pull)[0, 2])


def _direction(vector: ArrayLike) -> Floats:
    v = np.asarray(vector, float).reshape(3)
    if not np.isfinite(v).all() or np.linalg.norm(v) < 1e-12:
        raise SpecError("A direction must have a length; choose an axis or a flat face of the part.")
    return v


def _nearest_unit(scale_mm: float) -> Unit:
    units: list[Unit] = list(UNIT_MM)
    return min(units, key=lambda unit: abs(np.log(scale_mm / UNIT_MM[unit])))


def _with_plane_kept(before: Spec, after: Spec, meshes: Meshes) -> Spec:
    """Keep the parting plane at the same share of the parts' height."""
    old = placing.height_mm(before.parts, meshes, before.parting.pull)
    new = placing.height_mm(after.parts, meshes, after.parting.pull)
    if old <= 0 or new <= 0 or old == new:
        return after
    height = before.parting.height_mm / old * new
    return changed(after, parting=changed(after.parting, height_mm=height))


def _check_plane(spec: Spec, meshes: Meshes) -> None:
    """Refuse a parting plane outside the parts."""
    top = placing.height_mm(spec.parts, meshes, spec.parting.pull)
    if not 0 < spec.parting.height_mm < top:
        raise SpecError(
            f"The parting plane must lie inside the parts: more than 0 and less than {top:.4g} mm "
            "above their lowest point."
        )
