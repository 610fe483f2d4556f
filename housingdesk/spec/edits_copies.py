"""Copies of a feature: mirrored, or repeated in a row.

Features keep their places by a few names: ``x_mm``, ``y_mm``, a pair (x, y) in ``at_mm`` and pairs in
``places_mm``, ``points_mm`` or the words of ``points`` about the parts' middle; ``side``, ``sides`` or
``face`` with ``across_mm`` or ``along_mm`` along it (y on left and right, else x), and on floor and roof a
height that is y.  So any of them can be copied without a word about it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal

from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.features.mount_plate import read_points
from housingdesk.spec.edits import Edit, changed, free_name
from housingdesk.spec.models import Spec
from housingdesk.spec.placing import Meshes

Across = Literal["x", "y"]  # mirrored left and right, or front and back
_SWAPPED: dict[Across, dict[str, str]] = {
    "x": {"left": "right", "right": "left"},
    "y": {"front": "back", "back": "front"},
}
_ALONG: dict[str, Across] = {
    "left": "y", "right": "y", "left and right": "y", "front": "x", "back": "x", "front and back": "x",
    "floor": "x", "roof": "x",
}  # fmt: skip
_FLAT = ("floor", "roof")
_SIDES = ("side", "sides", "face")


def mirrored(feature: Feature, across: Across) -> Feature:
    """Return a feature on the other side of the parts' middle."""
    return _placed(feature, across, lambda v: -v, _SWAPPED[across])


def shifted(feature: Feature, step_mm: float) -> Feature:
    """Return a feature further along its side, or along x where it stands on none.

    Raises
    ------
    SpecError : it has no place of its own.
    """
    side = _side_of(feature)
    moved = _placed(feature, _ALONG[side] if side else "x", lambda v: v + step_mm, {})
    if moved == feature:
        raise SpecError(f"{feature.name} has no place of its own along the side; it cannot be repeated.")
    return moved


def _placed(feature: Feature, axis: Across, new: Callable[[float], float], sides: dict[str, str]) -> Feature:
    """Return a feature with all its coordinates along one axis changed, and its side exchanged."""
    have = dict(feature)
    out: dict[str, Any] = {}
    flat_mm = f"{axis}_mm"
    if flat_mm in have and have[flat_mm] is not None:
        out[flat_mm] = new(have[flat_mm])
    index = 0 if axis == "x" else 1

    def pair(point: Sequence[float]) -> tuple[float, ...]:
        return tuple(new(v) if i == index else v for i, v in enumerate(point))

    for name in ("places_mm", "points_mm"):
        if have.get(name):
            out[name] = tuple(pair(point) for point in have[name])
    if have.get("at_mm"):
        out["at_mm"] = pair(have["at_mm"])
    if have.get("points"):
        places = (pair(point.tolist()) for point in read_points(have["points"]))
        out["points"] = "; ".join(f"{x:g} {y:g}" for x, y in places)
    side = _side_of(feature)
    if side:
        for name in _SIDES:
            if name in have and have[name] in sides:
                out[name] = sides[have[name]]
        for name in ("across_mm", "along_mm"):
            if name in have and _ALONG[side] == axis:
                out[name] = new(have[name] or 0.0)  # left open it is in the middle
        for name in ("height_mm", "up_mm"):
            if side in _FLAT and axis == "y" and have.get(name) is not None:
                out[name] = new(have[name])
    return changed(feature, **out) if out else feature


def _side_of(feature: Feature) -> str:
    named = (getattr(feature, name, None) for name in _SIDES)
    return next((side for side in named if isinstance(side, str) and side in _ALONG), "")


def mirror_feature(name: str, across: Across) -> Edit:
    """Put a mirrored copy of a feature on the housing."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        old = _named(spec, name)
        new = mirrored(old, across)
        if _same_place(old, new):
            raise SpecError(f"{name} lies in the middle, where its mirror image is itself; move it first.")
        return _with(spec, new)

    return Edit(f"Mirror {name}", change)


def repeat_feature(name: str, count: int, step_mm: float) -> Edit:
    """Put ``count`` further copies of a feature in a row, each so much further along its side."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        old = _named(spec, name)
        for number in range(1, count + 1):
            spec = _with(spec, shifted(old, number * step_mm))
        return spec

    return Edit(f"Repeat {name}", change)


def _same_place(old: Feature, new: Feature) -> bool:
    """Whether two features lie alike; a place left open counts as the middle, and -0 as 0."""

    def flat(feature: Feature) -> dict[str, Any]:
        same: dict[str, Any] = {k: (v or 0.0) if k == "across_mm" else v for k, v in dict(feature).items()}
        if same.get("points"):
            same["points"] = sorted(tuple(point.tolist()) for point in read_points(same["points"]))
        return same

    return flat(old) == flat(new)


def _with(spec: Spec, feature: Feature) -> Spec:
    new = changed(feature, name=free_name(feature.name, {f.name for f in spec.features}))
    return changed(spec, features=(*spec.features, new))


def _named(spec: Spec, name: str) -> Feature:
    found = next((f for f in spec.features if f.name == name), None)
    if found is None:
        raise SpecError(f"There is no feature named {name}; choose one of those on the job card.")
    return found
