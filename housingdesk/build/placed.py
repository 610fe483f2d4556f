"""The parts in the build frame."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from housingdesk.build.results import Quality
from housingdesk.geometry.frames import PullDirection, build_frame
from housingdesk.geometry.inspect import inspect
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec.models import PartSpec


@dataclass(frozen=True, eq=False)
class Placed:
    """The parts in the build frame.

    Attributes
    ----------
    to_build : (4, 4) assembly frame to build frame.
    names, parts : of each part, in the order of the spec.
    maps : for each part (4, 4), part frame (mm) to build frame.
    tris : (m, 3, 3) all triangles, mm.
    starts : first triangle of each part in ``tris``, and their end.
    notes : what is odd about the parts' files, in plain sentences.
    """

    to_build: Floats
    names: tuple[str, ...]
    parts: tuple[Mesh, ...]
    maps: tuple[Floats, ...]
    tris: Floats
    starts: tuple[int, ...]
    notes: tuple[str, ...]

    @property
    def bounds(self) -> Floats:
        """(2, 3) corners of the box around all triangles."""
        flat = self.tris.reshape(-1, 3)
        return np.array([flat.min(axis=0), flat.max(axis=0)])

    def rotation(self, part: int) -> Floats:
        """Return the (3, 3) rotation from a part's frame to the build frame."""
        return np.asarray(self.maps[part][:3, :3])

    def moved(self, part: int, point_mm: Floats) -> Floats:
        """Return a (3,) point of a part's frame in the build frame."""
        return np.asarray(self.maps[part][:3, :3] @ point_mm + self.maps[part][:3, 3])


def place(
    get_mesh: Callable[[str], Mesh], wish: tuple[tuple[PartSpec, ...], PullDirection], _quality: Quality
) -> Placed:
    """Scale, place and turn the parts into the build frame."""
    specs, pull = wish
    raw = [get_mesh(p.mesh_key) for p in specs]
    placements = [np.array(p.placement).reshape(4, 4) for p in specs]
    placed = [
        mesh.moved(m @ np.diag([p.scale_mm] * 3 + [1.0]))
        for p, m, mesh in zip(specs, placements, raw, strict=True)
    ]
    to_build = build_frame(placed, pull)
    moved = tuple(m.moved(to_build) for m in placed)
    notes = [
        f"{part.name}: {note}" if len(specs) > 1 else note
        for part, mesh in zip(specs, raw, strict=True)
        for note in inspect(mesh).notes
    ]
    counts = np.cumsum([0] + [m.triangles for m in moved])
    return Placed(
        to_build,
        tuple(p.name for p in specs),
        moved,
        tuple(to_build @ m for m in placements),
        np.vstack([m.vertices[m.faces] for m in moved]),
        tuple(counts.tolist()),
        tuple(notes),
    )
