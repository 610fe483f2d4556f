"""Edits of zones and features: added, changed, dragged, copied, removed."""

from __future__ import annotations

from typing import Any

from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.spec.edits import Edit, changed, free_name
from housingdesk.spec.models import Spec
from housingdesk.spec.placing import Meshes
from housingdesk.spec.zones import BODY, PatchRef, ZoneSpec


def add_zone(zone: ZoneSpec) -> Edit:
    """Name a region of a part; a name that is taken gets a number.  Its faces leave other zones."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        name = free_name(zone.name, {z.name for z in spec.fit.zones} | {BODY})
        taken = {(zone.part, p) for p in zone.patches}
        return _with_zones(spec, (*_less(spec.fit.zones, taken), changed(zone, name=name)))

    return Edit(f"Zone {zone.name}", change)


def change_zone(name: str, /, **changes: Any) -> Edit:
    """Change fields of a zone; faces it gets leave other zones."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        if all(z.name != name for z in spec.fit.zones):
            raise SpecError(f"There is no zone named {name}; choose one of the zones on the job card.")
        new = {z.name: changed(z, **changes) for z in spec.fit.zones if z.name == name}[name]
        taken = {(new.part, p) for p in new.patches} if "patches" in changes else set()
        others = {z.name: z for z in _less(tuple(z for z in spec.fit.zones if z.name != name), taken)}
        order = (new if z.name == name else others.get(z.name) for z in spec.fit.zones)
        return _with_zones(spec, tuple(z for z in order if z is not None))

    return Edit(f"Change zone {name}", change, f"zone {name} {' '.join(changes)}")


def remove_zone(name: str) -> Edit:
    """Give a zone's faces back to the body."""
    return Edit(
        f"Remove zone {name}",
        lambda spec, _: _with_zones(spec, tuple(z for z in spec.fit.zones if z.name != name)),
    )


def _with_zones(spec: Spec, zones: tuple[ZoneSpec, ...]) -> Spec:
    return changed(spec, fit=changed(spec.fit, zones=zones))


def _less(zones: tuple[ZoneSpec, ...], taken: set[tuple[str, PatchRef]]) -> tuple[ZoneSpec, ...]:
    """Return zones without faces that another takes over; one that keeps none goes."""
    left = ((z, tuple(p for p in z.patches if (z.part, p) not in taken)) for z in zones)
    return tuple(z if kept == z.patches else changed(z, patches=kept) for z, kept in left if kept)


def add_feature(feature: Feature) -> Edit:
    """Put a feature on the housing; a name that is taken gets a number."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        title = feature.TITLE[:1].upper() + feature.TITLE[1:]
        name = free_name(feature.name or title, {f.name for f in spec.features})
        return changed(spec, features=(*spec.features, changed(feature, name=name)))

    return Edit(f"Add {(feature.name or feature.TITLE).lower()}", change)


def change_feature(name: str, /, **changes: Any) -> Edit:
    """Change fields of a feature."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        new = changed(_feature(spec, name), **changes)
        return changed(spec, features=tuple(new if f.name == name else f for f in spec.features))

    return Edit(f"Change {name}", change, f"feature {name} {' '.join(changes)}")


def drag_feature(moved: Feature, handle: int) -> Edit:
    """Put a feature where one of its knobs has been dragged."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        _feature(spec, moved.name)
        new = changed(moved)
        return changed(spec, features=tuple(new if f.name == moved.name else f for f in spec.features))

    return Edit(f"Move {moved.name}", change, f"feature {moved.name} by knob {handle}")


def remove_feature(name: str) -> Edit:
    """Take a feature off the housing."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        _feature(spec, name)
        return changed(spec, features=tuple(f for f in spec.features if f.name != name))

    return Edit(f"Remove {name}", change)


def copy_feature(name: str) -> Edit:
    """Put a second feature like this one on the housing."""

    def change(spec: Spec, meshes: Meshes) -> Spec:
        old = _feature(spec, name)
        new = changed(old, name=free_name(name, {f.name for f in spec.features}))
        return changed(spec, features=(*spec.features, new))

    return Edit(f"Copy {name}", change)


def _feature(spec: Spec, name: str) -> Feature:
    found = next((f for f in spec.features if f.name == name), None)
    if found is None:
        raise SpecError(f"There is no feature named {name}; choose one of those on the job card.")
    return found
