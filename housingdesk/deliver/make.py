"""The main job without a window: open a part or project, build, prove, write."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from housingdesk.build.pipeline import Builder
from housingdesk.build.results import BuildResult, LoadedPart
from housingdesk.deliver.output import write_outputs
from housingdesk.deliver.pose import Pose
from housingdesk.deliver.typed import length
from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.features.lip import Lip
from housingdesk.features.screw_words import screws_from_words
from housingdesk.files.meshes import read_part
from housingdesk.files.project import is_project, load_project
from housingdesk.geometry.frames import PullDirection, build_frame
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import changed
from housingdesk.spec.models import UNIT_MM, PartingSpec, PartSpec, Spec, Unit
from housingdesk.spec.zones import BODY, ZoneSpec


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the command line asks for; None leaves the project's value, or the program's proposal."""

    unit: Unit | None = None
    clearance_mm: float | None = None
    wall_mm: float | None = None
    pull: str | None = None
    parting: str | None = None
    zones: tuple[str, ...] = ()  # NAME=MM
    screws: str | None = None  # M3x4 and the like
    lip: bool = False


class _Held(dict[str, Mesh]):
    """Meshes by key, as the builder wants them."""

    def get(self, key: str) -> Mesh:  # type: ignore[override]  # a missing mesh is a bug here
        return self[key]


@dataclass(frozen=True)
class Housing:
    """An opened housing, ready to build; ``notes`` are lines to print first."""

    spec: Spec
    meshes: _Held
    builder: Builder
    notes: tuple[str, ...] = field(default=())


def open_housing(path: Path, wishes: Wishes | None = None) -> Housing:
    """Open a part's file or a project and settle what the wishes leave open.

    Raises
    ------
    FileError, PartError, SpecError : one sentence saying what is wrong and what to do.
    """
    wishes = wishes or Wishes()
    notes: list[str] = []
    why = ""
    if is_project(path):
        spec, meshes = load_project(path)
        held = _Held(meshes)
        builder = Builder(held)
        spec = _with_zone_rooms(_with_room(spec, wishes), wishes.zones)
        if wishes.pull is not None or wishes.parting is not None:
            spec, why = _parted(spec, builder, held, wishes)
    else:
        loaded = read_part(path, wishes.unit)
        held = _Held({loaded.mesh.key: loaded.mesh})
        builder = Builder(held)
        part = PartSpec(
            name=loaded.name,
            mesh_key=loaded.mesh.key,
            source_name=loaded.source_name,
            unit=loaded.unit,
            unit_origin=loaded.unit_origin,
        )
        notes.append(part_words(loaded))
        spec = Spec(name=loaded.name, parts=(part,), parting=PartingSpec(height_mm=1.0))
        spec = _with_room(spec, wishes)
        zones = builder.propose_zones(spec.parts, wishes.clearance_mm)
        spec = changed(spec, fit=changed(spec.fit, zones=zones))
        spec = _with_zone_rooms(spec, wishes.zones)
        notes += [f"{z.name.capitalize()}: {_zone_words(z)}" for z in spec.fit.zones]
        spec, why = _parted(spec, builder, held, wishes)
    height, way = spec.parting.height_mm, spec.parting.pull.removeprefix("+")
    notes.append(f"Parted {height:.2f} mm up, lifting along {way}.{why and f' {why}'}")
    return Housing(_with_joints(spec, wishes), held, builder, tuple(notes))


def part_words(part: LoadedPart) -> str:
    """Say how a part's file was read."""
    x, y, z = (part.mesh.size_mm * UNIT_MM[part.unit]).tolist()
    how = {
        "guessed": "a guess from its size; --unit settles it",
        "tagged": "as the file says",
        "given": "as asked",
    }
    return (
        f"{part.source_name}: {x:.2f} x {y:.2f} x {z:.2f} mm, read as {part.unit} "
        f"({how.get(part.unit_origin, part.unit_origin)})"
    )


def _zone_words(zone: ZoneSpec) -> str:
    """Say what a proposed zone is."""
    widest = max((p.size_mm for p in zone.patches if p.kind == "cylinder"), default=0.0)
    return (
        f"a round of {widest:.2f} mm that sticks out of {zone.part}, taken for a turning shaft; "
        f"{zone.clearance_mm:g} mm around it and a way out through the wall"
    )


def _with_zone_rooms(spec: Spec, wishes: tuple[str, ...]) -> Spec:
    """Give named zones their clearances; ``body`` means all that no zone names."""
    for wish in wishes:
        name, _, text = wish.rpartition("=")  # a name may have one of its own
        try:
            room = length(text)
        except ValueError:
            raise SpecError(f"--zone takes NAME=MM, for example shaft=0.5, not '{wish}'.") from None
        if name.casefold() == BODY:
            spec = changed(spec, fit=changed(spec.fit, clearance_mm=room))
            continue
        known = [z.name.casefold() for z in spec.fit.zones]  # no two differ by capitals alone
        if name.casefold() not in known:
            names = ", ".join([BODY, *(z.name for z in spec.fit.zones)])
            raise SpecError(f"There is no zone '{name}'; the zones are {names}.")
        at = known.index(name.casefold())
        zones = tuple(changed(z, clearance_mm=room) if i == at else z for i, z in enumerate(spec.fit.zones))
        spec = changed(spec, fit=changed(spec.fit, zones=zones))
    return spec


def _with_joints(spec: Spec, wishes: Wishes) -> Spec:
    """Return the spec with the screws and the lip asked for in place of those it has."""
    wanted: list[Feature] = []
    if wishes.screws is not None:
        wanted.append(screws_from_words(wishes.screws))
    if wishes.lip:
        wanted.append(Lip(name=Lip.TITLE))
    kept = [f for f in spec.features if f.kind not in {w.kind for w in wanted}]
    return changed(spec, features=(*kept, *wanted))


def _with_room(spec: Spec, wishes: Wishes) -> Spec:
    fit, shell = spec.fit, spec.shell
    if wishes.clearance_mm is not None:
        fit = changed(fit, clearance_mm=wishes.clearance_mm)
    if wishes.wall_mm is not None:
        shell = changed(shell, wall_mm=wishes.wall_mm)
    return changed(spec, fit=fit, shell=shell)


def _parted(spec: Spec, builder: Builder, meshes: _Held, wishes: Wishes) -> tuple[Spec, str]:
    """Return the spec with its plane, and why it is there."""
    pull: PullDirection | None = None
    if wishes.pull in ("x", "y", "z"):
        pull = f"+{wishes.pull}"  # type: ignore[assignment]  # one of the six by construction
    parting = wishes.parting
    if parting in (None, "auto"):
        if wishes.pull is None and parting is None and spec.parting.height_mm != 1.0:
            return spec, ""
        best = builder.propose(spec.parts, spec.fit, spec.shell, pull)[0]
        return changed(spec, parting=PartingSpec(pull=best.pull, height_mm=best.height_mm)), best.reason
    try:
        at = length(parting or "")
    except ValueError:
        at = math.nan
    if not math.isfinite(at):
        raise SpecError(f"--parting takes 'auto' or a height in mm, not '{parting}'.")
    way = pull or (spec.parting.pull if wishes.pull is None else None)
    if way is None:
        way = builder.propose(spec.parts, spec.fit, spec.shell, None)[0].pull
    assert way is not None
    low, high = _extent(spec, meshes, way)
    if not low < at < high:
        raise SpecError(
            f"The parting plane at {at:g} mm lies outside the part, which reaches from {low:.2f} to "
            f"{high:.2f} mm along {way[1]}; choose a height between."
        )
    why = "" if wishes.pull else f"--parting is along {way[1]} where --pull names no other way."
    return changed(spec, parting=PartingSpec(pull=way, height_mm=at - low)), why


def _extent(spec: Spec, meshes: _Held, pull: PullDirection) -> tuple[float, float]:
    """Return the parts' least and greatest coordinate along the pull, in the assembly frame."""
    placed = [
        meshes[p.mesh_key].moved(np.array(p.placement).reshape(4, 4) @ np.diag([p.scale_mm] * 3 + [1.0]))
        for p in spec.parts
    ]
    frame = build_frame(placed, pull)
    top = max(m.moved(frame).bounds[1, 2] for m in placed)
    low = float(-frame[2, 3])
    return low, low + float(top)


def prove_housing(housing: Housing) -> BuildResult:
    """Build at final quality and prove."""
    return housing.builder.build(housing.spec, "final")


def write_housing(housing: Housing, result: BuildResult, folder: Path, pose: Pose) -> tuple[Path, ...]:
    """Write the halves, the 3MF and the proof; all or nothing."""
    return write_outputs(folder, result, pose, housing.meshes)
