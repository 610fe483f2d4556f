"""The parts where they lie, known before anything is built."""

from __future__ import annotations

from collections.abc import Mapping

from housingdesk.geometry.frames import build_frame
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec.models import Spec
from housingdesk.spec.placing import part_to_assembly

SHOWN_AT_ONCE = 200_000  # triangles; moving more of them would keep the window waiting


def lying_parts(spec: Spec, meshes: Mapping[str, Mesh], to_build: Floats | None = None) -> tuple[Mesh, ...]:
    """Return the parts in the build frame, in the order of the spec, mm.

    None are returned of more than 200,000 triangles in all.

    Parameters
    ----------
    to_build : (4, 4) from the assembly frame, of halves that are shown; else the parts' own is taken.
    """
    raw = [meshes[part.mesh_key] for part in spec.parts]
    if sum(mesh.triangles for mesh in raw) > SHOWN_AT_ONCE:
        return ()
    placed = [mesh.moved(part_to_assembly(part)) for part, mesh in zip(spec.parts, raw, strict=True)]
    frame = build_frame(placed, spec.parting.pull) if to_build is None else to_build
    return tuple(mesh.moved(frame) for mesh in placed)
