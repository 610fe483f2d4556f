"""The builder: requests in, results out.  One lives in the worker process, one in a command-line run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Protocol

import numpy as np

from housingdesk.build.graph import Graph, ProgressCall
from housingdesk.build.ground import enclosed, held_bounds
from housingdesk.build.halved import Halved
from housingdesk.build.nodes import nodes
from housingdesk.build.passages import Passage
from housingdesk.build.placed import Placed
from housingdesk.build.propose import best_first, rank
from housingdesk.build.results import (
    BuildResult,
    CutPlane,
    Extent,
    FeatureFacts,
    PartPatches,
    PassageFacts,
    PlaneProposal,
    Quality,
    Section,
)
from housingdesk.build.turning import propose_zones
from housingdesk.build.works import Works
from housingdesk.build.zoning import Zoned, find_patch
from housingdesk.features.feature import Feature
from housingdesk.features.forms.ground import Outside
from housingdesk.features.records import OpeningRecord
from housingdesk.features.registry import kind_of
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import worst_first
from housingdesk.geometry.clearance_map import ClearanceMap, MapOn, cavity_of, clearance_map
from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.patches import Patch, smooth_neighbours
from housingdesk.geometry.section import Loop, section
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side, joined
from housingdesk.proof.facts import PlayFacts, Proof, ZoneOdds
from housingdesk.proof.odds import RibOdds, ribs_told
from housingdesk.proof.odds import told as odds_told
from housingdesk.proof.ways import measure_way
from housingdesk.spec.edits import free_name
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from housingdesk.spec.zones import BODY, Point, ZoneSpec

LEVEL_SHAFT = 1e-3  # sine of the rise of an axis that a level plane can hold
ON_AXIS_MM = 0.01


class Meshes(Protocol):
    """Where meshes are had by key."""

    def get(self, key: str) -> Mesh:
        """Return the mesh, in file units."""


class Builder:
    """Builds housings; what was built before is kept by content."""

    def __init__(self, meshes: Meshes) -> None:
        self._meshes = meshes
        # With features on, every plane passes the solid kernel many times: quick only on few triangles.
        self._graph = Graph(nodes(meshes.get), much_work=lambda spec: any(f.on for f in spec.features))

    def build(
        self,
        spec: Spec,
        quality: Quality,
        section: CutPlane | None = None,
        generation: int = 0,
        progress: ProgressCall | None = None,
        upto: Extent = "play",
    ) -> BuildResult:
        """Make the halves, and for final quality prove them as far as is asked.

        Raises
        ------
        SpecError, PartError : a wish that no housing can fulfil.
        """
        seconds: dict[str, float] = {}
        get = self._graph.values(spec, quality, progress, seconds)
        placed: Placed = get("placed")
        found: Zoned = get("zones")
        halved: Halved = get("halves")
        works: Works = get("works")
        passages: tuple[Passage, ...] = get("passages")
        proof: Proof | None = get("proof") if quality == "final" and upto != "halves" else None
        play: PlayFacts | None = get("play") if quality == "final" and upto == "play" else None
        odds: tuple[ZoneOdds, ...] = () if proof is None else get("odds")
        told = tuple(
            _passage_facts(p, works, halved.halves if quality == "final" else None) for p in passages
        )
        bought = tuple(body.mesh() for w in works.made.values() for body in w.bought)
        ribs: tuple[RibOdds, ...] = () if proof is None else get("rib_odds")
        return BuildResult(
            generation=generation,
            quality=quality,
            spec=spec,
            assembly_to_build=tuple(placed.to_build.ravel().tolist()),
            parting_z_mm=spec.parting.height_mm,
            outer_mm=get("outer"),
            parts=placed.parts,
            halves=halved.halves,
            facts=None if proof is None else proof.halves,
            findings=worst_first(
                [
                    *(f for p in (proof, play) if p is not None for f in p.findings),
                    *(odds_told(o, spec.printer) for o in odds),
                    *ribs_told(ribs, spec.printer),
                ]
            ),
            zones=() if proof is None else proof.zones,
            play=play,
            odds=odds,
            section=None if section is None else _cut(section, placed, found, spec, halved, bought),
            plan=get("plan"),
            seconds=seconds,
            zone_faces=tuple(found.zone[a:b] for a, b in pairwise(placed.starts)),
            passages=told,
            features={
                name: FeatureFacts(
                    w.fasteners, _as_built(w, told), w.joints, w.contacts, w.seats, w.bill, w.handles
                )
                for name, w in works.made.items()
            }
            | {name: FeatureFacts(handles=handles) for name, handles in works.knobs.items()},
            said=works.said,
            bought=bought,
        )

    def play(self, spec: Spec, progress: ProgressCall | None = None) -> PlayFacts:
        """Measure how far the parts can move in the finished halves."""
        facts: PlayFacts = self._graph.value("play", spec, "final", progress)
        return facts

    def relief(self, spec: Spec, quality: Quality, progress: ProgressCall | None = None) -> dict[Side, Mesh]:
        """Return what is cut from each half only so that the part can go in, as closed bodies."""
        found: dict[Side, Mesh] = self._graph.value("relief", spec, quality, progress)
        return found

    def clearance_map(
        self, spec: Spec, on: MapOn, quality: Quality, progress: ProgressCall | None = None
    ) -> ClearanceMap:
        """Measure the gap at every place of the ghost or of the cavity, on the finished halves."""
        placed: Placed = self._graph.value("placed", spec, quality, progress)
        halved: Halved = self._graph.value("halves", spec, quality, progress)
        halves = [halved.halves[side] for side in SIDES]
        if on == "part":
            return clearance_map(joined(placed.parts), halves)
        outside: Outside = self._graph.value("form", spec, quality, progress)
        form = outside.whole(spec.parting.height_mm).mesh()
        return clearance_map(cavity_of(halves, form, spec.parting.height_mm), placed.parts)

    def propose_zones(
        self, parts: tuple[PartSpec, ...], clearance_mm: float | None = None
    ) -> tuple[ZoneSpec, ...]:
        """Return the zones that the program sees on the parts, named apart."""
        spec = Spec(parts=parts, parting=PartingSpec(height_mm=1.0))
        patches = self._graph.value("patches", spec, "draft")
        placed: Placed = self._graph.value("placed", spec, "draft")
        found: list[ZoneSpec] = []
        for number, name in enumerate(placed.names):
            inverse = np.linalg.inv(placed.maps[number])
            mesh = placed.parts[number].moved(inverse)
            for zone in propose_zones(name, patches[name], mesh.vertices[mesh.faces]):
                own = free_name(zone.name, {z.name for z in found})
                room = zone.clearance_mm if clearance_mm is None else clearance_mm
                found.append(zone.model_copy(update={"name": own, "clearance_mm": room}))
        return tuple(found)

    def faces_found(self, parts: tuple[PartSpec, ...], zones: tuple[ZoneSpec, ...]) -> dict[str, int]:
        """Return how many faces of each zone are on its part."""
        spec = Spec(parts=parts, parting=PartingSpec(height_mm=1.0))
        patches: dict[str, tuple[Patch, ...]] = self._graph.value("patches", spec, "draft")
        return {z.name: sum(find_patch(ref, patches[z.part]) is not None for ref in z.patches) for z in zones}

    def patches(self, parts: tuple[PartSpec, ...]) -> dict[str, PartPatches]:
        """Return flats and rounds of each part by name, part frame, mm, and which run into each other."""
        spec = Spec(parts=parts, parting=PartingSpec(height_mm=1.0))
        found: dict[str, tuple[Patch, ...]] = self._graph.value("patches", spec, "draft")
        return {
            part.name: PartPatches(
                found[part.name], smooth_neighbours(self._meshes.get(part.mesh_key), found[part.name])
            )
            for part in parts
        }

    def propose_feature(
        self, spec: Spec, kind: str, point_mm: Point | None = None, normal: Point | None = None
    ) -> Feature | None:
        """Return a feature of a kind as the program would place it, or at a clicked place of the outside.

        Parameters
        ----------
        point_mm, normal : (3,) build frame; both or neither.

        Returns
        -------
        None where it makes no sense there.

        Raises
        ------
        SpecError, PartError : there is no such kind, or the housing cannot be made without it either.
        """
        wanted = kind_of(kind)
        works: Works = self._graph.value("works", spec, "draft")
        site: Site = replace(self._graph.value("site", spec, "draft"), done=works.made)
        if point_mm is None or normal is None:
            return wanted.proposed(site)
        return wanted.at(np.array(point_mm, float), np.array(normal, float), site)

    def propose(
        self,
        parts: tuple[PartSpec, ...],
        fit: FitSpec,
        shell: ShellSpec,
        pull: PullDirection | None,
        progress: ProgressCall | None = None,
    ) -> tuple[PlaneProposal, ...]:
        """Rank parting planes, best first; without a pull direction, those of all three axes."""
        pulls: tuple[PullDirection, ...] = ("+z", "+y", "+x") if pull is None else (pull,)
        found: list[PlaneProposal] = []
        bulk = 0.0
        for way in pulls:
            spec = Spec(parts=parts, parting=PartingSpec(pull=way, height_mm=1.0), fit=fit, shell=shell)
            placed: Placed = self._graph.value("placed", spec, "draft", progress)
            costs = self._graph.value("profile", spec, "draft", progress)
            bulk = max(bulk, float(np.trapezoid(costs.section_mm2, costs.z_mm)))
            patches = self._graph.value("patches", spec, "draft", progress)
            zones: Zoned = self._graph.value("zones", spec, "draft", progress)
            shafts = [float(s.base_mm[2]) for s in zones.shafts if abs(s.axis[2]) < LEVEL_SHAFT]
            box = _housing_box(placed, zones, shell.wall_mm)
            upright = tuple(s for s in zones.shafts if s.is_upright)
            held = held_bounds(placed, zones)[:, 2]
            axes = _level_axes(placed, patches)
            found += rank(way, costs, axes, shafts, box, (float(held[0]), float(held[1])), upright)
        return best_first(found, bulk)


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return (x, y, z)


def _housing_box(placed: Placed, found: Zoned, wall_mm: float) -> Floats:
    """Return the (2, 3) corners of the least box about all that is enclosed, its room and walls, mm."""
    tris, reach = enclosed(placed, found, wall_mm)
    more = (reach + wall_mm)[:, None, None]
    return np.array([(tris - more).min(axis=(0, 1)), (tris + more).max(axis=(0, 1))])


def _level_axes(placed: Placed, patches: dict[str, tuple[Patch, ...]]) -> list[float]:
    """Return the heights of outside cylinders that lie level, largest area first."""
    heights: list[float] = []
    for number, name in enumerate(placed.names):
        for patch in (p.moved(placed.maps[number]) for p in patches[name]):
            full = patch.kind == "cylinder" and patch.side == "outside" and patch.turn > 0.6
            if full and abs(patch.axis[2]) < 1e-3 and patch.diameter_mm >= 1.0:
                heights.append(float(patch.centre_mm[2]))
    return heights


def _passage_facts(way: Passage, works: Works, halves: Mapping[Side, Mesh] | None) -> PassageFacts:
    """Return what is told of a way out: with a bearing in it, its mouth is at the end of its boss.

    Its diameter is measured on the halves, where these are given.
    """
    mouth, chamfer, wide = way.mouth_mm, (way.widest_mm - way.diameter_mm) / 2, way.diameter_mm
    for seat in (s for w in works.made.values() for s in w.seats if s.zone == way.zone):
        away = np.array(seat.ends_mm) - way.mouth_mm
        beside = float(np.linalg.norm(away - away @ way.axis * way.axis))
        if beside < ON_AXIS_MM and float(np.array(seat.axis) @ way.axis) > 0:
            mouth, chamfer, wide = (
                np.array(seat.ends_mm),
                seat.chamfer_mm,
                seat.mouth_mm - 2 * seat.chamfer_mm,
            )
    if halves is not None:
        measured = measure_way(halves.values(), mouth, way.axis, chamfer)
        wide = measured if np.isfinite(measured) else wide
    return PassageFacts(way.zone, _triple(way.axis), _triple(mouth), wide)


def _as_built(work: Work, passages: tuple[PassageFacts, ...]) -> tuple[OpeningRecord, ...]:
    """Return a feature's openings, those for shafts as wide as their ways out were measured."""
    wide = {p.centre_mm: p.diameter_mm for p in passages}
    return tuple(
        replace(o, size_mm=(wide[o.centre_mm],) * 2) if o.kind == "passage" and o.centre_mm in wide else o
        for o in work.openings
    )


def _cut(
    plane: CutPlane, placed: Placed, found: Zoned, spec: Spec, halved: Halved, bought: tuple[Mesh, ...]
) -> Section:
    """Cut halves, parts zone by zone, and what is bought by the section strip's plane."""

    def lines(mesh: Mesh) -> tuple[Loop, ...]:
        return section(mesh, plane.origin_mm, plane.right, plane.up)

    every = joined(placed.parts)
    zones = [
        (name, tuple(_ended(line) for line in lines(Mesh(every.vertices, every.faces[found.zone == number]))))
        for number, name in enumerate((BODY, *(z.name for z in spec.fit.zones)), start=-1)
    ]
    return Section(
        plane=plane,
        halves={side: tuple(c.points for c in lines(halved.halves[side])) for side in SIDES},
        parts=tuple(_ended(line) for part in placed.parts for line in lines(part)),
        bought=tuple(line.points for body in bought for line in lines(body)),
        zones=tuple((name, outlines) for name, outlines in zones if outlines),
    )


def _ended(line: Loop) -> np.ndarray:
    """Return a line's points; a closed one ends where it began, so that it can be told from an open one."""
    return np.vstack([line.points, line.points[:1]]) if line.closed else line.points
