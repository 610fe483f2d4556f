"""The real handler: the engine, imported in the worker process only."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np

from housingdesk.jobs.messages import (
    Answer,
    Build,
    Built,
    ClearanceMapped,
    Export,
    Exported,
    FindLandmarks,
    FindPatches,
    FindRelief,
    FindZones,
    Job,
    Landmarks,
    Loaded,
    LoadParts,
    MapClearance,
    MeasurePlay,
    PatchesFound,
    PlayMeasured,
    Propose,
    Proposed,
    ProposedFeature,
    ProposeFeature,
    ReliefFound,
    ZonesFound,
)
from housingdesk.jobs.worker import Handler, Tell

PREPARING = "Preparing the engine for the first time: this takes a minute or more and happens once ..."
_LONG_S = 1.5  # loading compiled code takes less, compiling it more
_TETRAHEDRON = (
    np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]),
    np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]], np.int32),
)

_BESIDE = np.array([[1.0, 0, 0, 2], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])


def make_handler(store_folder: Path, tell: Tell) -> Handler:
    """Import and warm the engine, and return what answers jobs."""
    late = threading.Timer(_LONG_S, tell, (PREPARING, None))
    late.daemon = True
    late.start()
    try:
        from housingdesk.build.pipeline import Builder
        from housingdesk.deliver.output import write_outputs
        from housingdesk.files.meshes import read_part
        from housingdesk.files.meshstore import MeshStore
        from housingdesk.geometry.offset import grow
        from housingdesk.geometry.patches import find_patches
        from housingdesk.geometry.play import play
        from housingdesk.geometry.types import Mesh
        from housingdesk.jobs.landmarks import landmark_heights

        grow(*_TETRAHEDRON, 0.5)
        body = Mesh(*_TETRAHEDRON)
        find_patches(body)
        play(body, [body.moved(_BESIDE)], (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    finally:
        late.cancel()
        late.join()

    store = MeshStore(store_folder)
    builder = Builder(store)

    def handle(job: Job, generation: int, tell: Tell) -> Answer:
        match job:
            case LoadParts(path, unit):
                part = read_part(path, unit, tell)
                store.put(part.mesh)
                return Loaded((part,))
            case Build(spec, quality, section, upto):
                return Built(builder.build(spec, quality, section, generation, tell, upto))
            case Propose(parts, fit, shell, pull, find_zones):
                zones = builder.propose_zones(parts) if find_zones else ()
                zoned = fit.model_copy(update={"zones": zones}) if zones else fit
                return Proposed(builder.propose(parts, zoned, shell, pull, tell), zones)
            case FindPatches(parts):
                return PatchesFound(builder.patches(parts))
            case FindZones(parts, zones):
                return ZonesFound(builder.faces_found(parts, zones), builder.propose_zones(parts))
            case ProposeFeature(spec, kind, point_mm, normal):
                return ProposedFeature(builder.propose_feature(spec, kind, point_mm, normal))
            case MapClearance(spec, on, quality):
                return ClearanceMapped(builder.clearance_map(spec, on, quality, tell))
            case FindRelief(spec, quality):
                return ReliefFound(builder.relief(spec, quality, tell))
            case MeasurePlay(spec):
                return PlayMeasured(builder.play(spec, tell))
            case FindLandmarks(parts, pull):
                return Landmarks(landmark_heights(store.get, parts, pull))
            case Export(spec, folder, pose, may_replace):
                result = builder.build(spec, "final", None, generation, tell)
                meshes = {part.mesh_key: store.get(part.mesh_key) for part in spec.parts}
                return Exported(write_outputs(folder, result, pose, meshes, replace=may_replace))

    return handle
