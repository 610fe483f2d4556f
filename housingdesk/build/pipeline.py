"""The builder: requests in, results out.  One lives in the worker process, one in a command-line run."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from housingdesk.build.graph import Graph, ProgressCall
from housingdesk.build.nodes import Halved, Placed, nodes
from housingdesk.build.propose import best_first, rank
from housingdesk.build.results import BuildResult, CutPlane, PlaneProposal, Quality, Section
from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.section import Loop, section
from housingdesk.geometry.types import SIDES, Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec

MAX_PATCH_TRIANGLES = 150_000  # beyond this, looking for axes would keep the user waiting


class Meshes(Protocol):
    """Where meshes are had by key."""

    def get(self, key: str) -> Mesh:
        """Return the mesh, in file units."""


class Builder:
    """Builds housings; what was built before is kept by content."""

    def __init__(self, meshes: Meshes) -> None:
        self._graph = Graph(nodes(meshes.get))

    def build(
        self,
        spec: Spec,
        quality: Quality,
        section: CutPlane | None = None,
        generation: int = 0,
        progress: ProgressCall | None = None,
    ) -> BuildResult:
        """Make the halves, and for final quality prove them.

        Raises
        ------
        SpecError, PartError : a wish that no housing can fulfil.
        """
        seconds: dict[str, float] = {}

        def get(name: str) -> object:
            return self._graph.value(name, spec, quality, progress, seconds)

        placed, halved, outer = get("placed"), get("halves"), get("outer")
        assert isinstance(placed, Placed) and isinstance(halved, Halved) and isinstance(outer, np.ndarray)
        facts, findings = None, ()
        if quality == "final":
            facts, findings = get("proof")  # type: ignore[misc]  # a pair, see nodes._proof
        return BuildResult(
            generation=generation,
            quality=quality,
            spec=spec,
            assembly_to_build=tuple(placed.to_build.ravel().tolist()),
            parting_z_mm=spec.parting.height_mm,
            outer_mm=outer,
            parts=placed.parts,
            halves=halved.halves,
            facts=facts,
            findings=findings,
            section=None if section is None else _cut(section, placed, halved),
            seconds=seconds,
        )

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
            found += rank(way, placed, costs, _level_axes(placed))
        return best_first(found, bulk)


def _level_axes(placed: Placed) -> list[float]:
    """Return the heights of outside cylinders that lie level, largest area first."""
    heights: list[float] = []
    for mesh in placed.parts:
        if mesh.triangles > MAX_PATCH_TRIANGLES:
            continue
        for patch in find_patches(mesh):
            full = patch.kind == "cylinder" and patch.side == "outside" and patch.turn > 0.6
            if full and abs(patch.axis[2]) < 1e-3 and patch.diameter_mm >= 1.0:
                heights.append(float(patch.centre_mm[2]))
    return heights


def _cut(plane: CutPlane, placed: Placed, halved: Halved) -> Section:
    """Cut halves and parts by the section strip's plane."""

    def lines(mesh: Mesh) -> tuple[Loop, ...]:
        return section(mesh, plane.origin_mm, plane.right, plane.up)

    return Section(
        plane=plane,
        halves={side: tuple(c.points for c in lines(halved.halves[side])) for side in SIDES},
        parts=tuple(_ended(line) for part in placed.parts for line in lines(part)),
    )


def _ended(line: Loop) -> np.ndarray:
    """Return a line's points; a closed one ends where it began, so that it can be told from an open one."""
    return np.vstack([line.points, line.points[:1]]) if line.closed else line.points
