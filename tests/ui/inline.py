"""A stand-in for the worker client: boxes made in this process, answered when the test lets them be.

The halves are a box around the parts' box with a box-shaped cavity, by trimesh; enough to fill every view.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh

from housingdesk.build.results import (
    BuildResult,
    CutPlane,
    FeatureFacts,
    HalfFacts,
    LoadedPart,
    MeshFacts,
    PartPatches,
    PassageFacts,
    PlaneProposal,
    Section,
)
from housingdesk.build.zoning import find_patch
from housingdesk.features.feature import Feature
from housingdesk.files.meshstore import MeshStore
from housingdesk.finding import Finding
from housingdesk.geometry.clearance_map import cavity_of, clearance_map
from housingdesk.geometry.frames import build_frame
from housingdesk.geometry.patches import find_patches, smooth_neighbours
from housingdesk.geometry.types import Floats, Mesh, Side, joined
from housingdesk.jobs.messages import (
    Answer,
    Build,
    Built,
    ClearanceMapped,
    Export,
    Exported,
    Failed,
    FindLandmarks,
    FindPatches,
    FindRelief,
    FindZones,
    Job,
    Landmarks,
    Loaded,
    LoadParts,
    MapClearance,
    PatchesFound,
    Progress,
    Propose,
    Proposed,
    ProposedFeature,
    ProposeFeature,
    ReliefFound,
    ZonesFound,
)
from housingdesk.proof.facts import PlayFacts, ZoneFacts, ZoneOdds
from housingdesk.spec.models import PartSpec, Spec
from housingdesk.spec.placing import part_to_assembly
from housingdesk.spec.zones import ZoneSpec


def box_mesh(low: Floats, high: Floats) -> trimesh.Trimesh:
    return trimesh.creation.box(bounds=[low, high])


def as_mesh(body: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(body.vertices), np.asarray(body.faces, np.int32))


def write_motor(folder: Path, block_mm: tuple[float, float, float]) -> Path:
    """Write a block 40 mm long with a shaft of 6 mm that stands 10 mm out of the middle of its right face."""
    block = trimesh.creation.box(extents=block_mm)
    shaft = trimesh.creation.cylinder(radius=3, segment=[[19.0, 0, 0], [30.0, 0, 0]], sections=48)
    path = folder / "motor.stl"
    trimesh.boolean.union([block, shaft], engine="manifold").export(path)
    return path


class InlineClient:
    """Answers at once, or keeps jobs while ``held`` until ``release`` is called.

    ``refuse`` maps a job class to the sentence it fails with; ``placed`` a feature's kind and the place
    clicked (None: none) to what is proposed there; ``said`` and ``made`` are told of features by name;
    ``zones`` are those of a first housing, ``passages`` its shafts' ways out, ``measured``, ``play`` and
    ``odds`` what its proof finds, ``relief`` what is cut for going in.
    """

    def __init__(
        self,
        store_folder: Path,
        on_answer: Callable[[int, Job, Answer], None],
        on_progress: Callable[[int, Progress], None],
    ) -> None:
        self.store = MeshStore(store_folder)
        self.on_answer, self.on_progress = on_answer, on_progress
        self.jobs: list[Job] = []
        self.kept: list[tuple[int, Job]] = []
        self.cancelled: list[int] = []
        self.held = False
        self.closed = False
        self.refuse: dict[type, str] = {}
        self.traceback = ""  # of what is refused, as of a bug
        self.placed: dict[tuple[str, tuple[float, float, float] | None], Feature] = {}
        self.zones: tuple[ZoneSpec, ...] = ()
        self.measured: tuple[ZoneFacts, ...] = ()
        self.play: PlayFacts | None = None
        self.passages: tuple[PassageFacts, ...] = ()
        self.odds: tuple[ZoneOdds, ...] = ()
        self.relief: dict[Side, Mesh] = {}
        self.said: dict[str, tuple[Finding, ...]] = {}
        self.made: dict[str, FeatureFacts] = {}

    def submit(self, job: Job) -> int:
        assert not self.closed
        self.jobs.append(job)
        generation = len(self.jobs)
        if self.held:
            self.kept.append((generation, job))
        else:
            self._answer(generation, job)
        return generation

    def cancel(self, generation: int) -> None:
        self.cancelled.append(generation)
        self.kept = [(g, j) for g, j in self.kept if g != generation]

    def close(self) -> None:
        self.closed = True

    def release(self) -> None:
        self.held = False
        kept, self.kept = self.kept, []
        for generation, job in kept:
            self._answer(generation, job)

    def _answer(self, generation: int, job: Job) -> None:
        sentence = self.refuse.get(type(job))
        refused = Failed(sentence, self.traceback) if sentence else None
        self.on_answer(generation, job, refused or self._made(generation, job))

    def _made(self, generation: int, job: Job) -> Answer:
        match job:
            case LoadParts(path):
                mesh = as_mesh(trimesh.load_mesh(path))
                self.store.put(mesh)
                facts = MeshFacts(
                    mesh.triangles, 4, 0, 0, 0, 2, 0, ("The surface has holes; they do no harm.",)
                )
                return Loaded((LoadedPart(path.stem, path.name, mesh, "mm", "guessed", facts),))
            case Propose(parts, find_zones=looked):
                zones = self.zones if looked else ()
                low, high = self._boxes(parts)
                height = float(high[2] - low[2])
                return Proposed(
                    (
                        PlaneProposal("+z", height / 2, 0.0, 800.0, "Nothing has to be cut there."),
                        PlaneProposal(
                            "+z", height / 4, 38.0, 600.0, "On the axis of the shaft.", ("It stands well.",)
                        ),
                        PlaneProposal("+x", 20.0, 410.0, 300.0, "Lifts off sideways."),
                    ),
                    zones,
                )
            case FindLandmarks(parts):
                low, high = self._boxes(parts)
                return Landmarks((float(high[2] - low[2]) * 0.8,))
            case MapClearance(spec, on):
                result = self._built(generation, spec, "final", None)
                halves = list(result.halves.values())
                if on == "part":
                    return ClearanceMapped(clearance_map(joined(result.parts), halves, 4.0))
                form = as_mesh(trimesh.creation.box(bounds=result.outer_mm))
                inner = cavity_of(halves, form, result.parting_z_mm)
                return ClearanceMapped(clearance_map(inner, list(result.parts), 4.0))
            case FindRelief(spec):
                return ReliefFound(self.relief)
            case FindPatches(parts):
                return PatchesFound({p.name: self._patches(p) for p in parts})
            case FindZones(parts, zones):
                found = {p.name: self._patches(p).patches for p in parts}
                faces = {
                    z.name: sum(find_patch(r, found[z.part]) is not None for r in z.patches) for z in zones
                }
                return ZonesFound(faces, tuple(z for z in self.zones if z.part in found))
            case ProposeFeature(_, kind, point_mm):
                return ProposedFeature(self.placed.get((kind, point_mm)))
            case Build(spec, quality, section, upto):
                return Built(self._built(generation, spec, quality, section, upto))
            case Export(_, folder):
                folder.mkdir(parents=True, exist_ok=True)
                files = tuple(folder / n for n in ("lower.stl", "upper.stl", "halves.3mf", "proof.json"))
                for file in files:
                    file.write_text("made by a test")
                return Exported(files)

    def _patches(self, part: PartSpec) -> PartPatches:
        mesh = self.store.get(part.mesh_key)
        found = find_patches(mesh.moved(np.diag([part.scale_mm] * 3 + [1.0])))
        return PartPatches(found, smooth_neighbours(mesh, found))

    def _placed(self, parts: tuple) -> list[Mesh]:
        return [self.store.get(p.mesh_key).moved(part_to_assembly(p)) for p in parts]

    def _boxes(self, parts: tuple) -> Floats:
        boxes = [m.bounds for m in self._placed(parts)]
        return np.array([np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)])

    def _built(
        self, generation: int, spec: Spec, quality: str, cut: CutPlane | None, upto: str = "play"
    ) -> BuildResult:
        placed = self._placed(spec.parts)
        frame = build_frame(placed, spec.parting.pull)
        parts = tuple(m.moved(frame) for m in placed)
        low = np.min([m.bounds[0] for m in parts], axis=0)
        high = np.max([m.bounds[1] for m in parts], axis=0)
        gap, wall, z = spec.fit.clearance_mm, spec.shell.wall_mm, spec.parting.height_mm
        outer = np.array([low - gap - wall, high + gap + wall])
        cavity = box_mesh(low - gap, high + gap)
        bodies = {
            "lower": box_mesh(outer[0], np.array([*outer[1][:2], z])).difference(cavity),
            "upper": box_mesh(np.array([*outer[0][:2], z]), outer[1]).difference(cavity),
        }
        halves: dict[Side, Mesh] = {side: as_mesh(body) for side, body in bodies.items()}  # type: ignore[misc]
        final = quality == "final" and upto != "halves"
        return BuildResult(
            generation=generation,
            quality=quality,  # type: ignore[arg-type]
            spec=spec,
            assembly_to_build=tuple(frame.ravel()),
            parting_z_mm=z,
            outer_mm=outer,
            parts=parts,
            halves=halves,
            facts={s: _facts(m, gap, wall, outer) for s, m in halves.items()} if final else None,
            findings=_findings(gap, wall, low, high) if final else (),
            section=_section(bodies, parts, cut) if cut else None,
            zone_faces=tuple(np.full(m.triangles, -1, np.int32) for m in parts),
            said=self.said,
            features=self.made,
            zones=self.measured if final else (),
            play=self.play if final else None,
            passages=self.passages,
            odds=self.odds if final else (),
        )


def _facts(mesh: Mesh, gap: float, wall: float, outer: Floats) -> HalfFacts:
    size = tuple(float(v) for v in mesh.size_mm)
    return HalfFacts(
        mesh.volume_mm3,
        mesh.triangles,
        size,
        gap,
        (0.0, 0.0, 0.0),
        gap,
        0.0,
        19.0,
        wall,
        wall,  # type: ignore[arg-type]
    )


def _findings(gap: float, wall: float, low: Floats, high: Floats) -> tuple[Finding, ...]:
    top = (float(high[0]), 0.0, float(high[2]))
    return (
        Finding("wall", "fail" if wall < 1.2 else "pass", f"Least wall {wall:.2f} mm.", "", top),
        Finding("gap-lower", "pass", f"Lower half: least gap {gap:.2f} mm."),
        Finding(
            "opening", "caution", "The shaft reaches out on the right.", "Make sure nothing catches.", top
        ),
    )


def _section(bodies: dict, parts: tuple[Mesh, ...], cut: CutPlane) -> Section:
    normal = np.cross(cut.right, cut.up)

    def lines(body: trimesh.Trimesh) -> tuple[Floats, ...]:
        path = body.section(plane_origin=cut.origin_mm, plane_normal=normal)
        if path is None:
            return ()
        axes = np.array([cut.right, cut.up])
        return tuple((np.asarray(p) - cut.origin_mm) @ axes.T for p in path.discrete)

    return Section(
        cut,
        {side: tuple(line[:-1] for line in lines(body)) for side, body in bodies.items()},
        tuple(line for m in parts for line in lines(trimesh.Trimesh(m.vertices, m.faces, process=False))),
    )
