"""Bodies for the bench's tests: a block with a shaft in a box of two halves, made by trimesh alone."""

from __future__ import annotations

import numpy as np
import trimesh

from housingdesk.geometry.types import Floats, Mesh, Side

PART_MM = np.array([[-20.0, -15, 0], [20, 15, 20]])
OUTER_MM = PART_MM + np.array([[-3.0, -3, -3], [3, 3, 3]])
Z_MM = 11.0


def mesh_of(body: trimesh.Trimesh) -> Mesh:
    return Mesh(body.vertices, body.faces)


def box(bounds: Floats) -> Mesh:
    return mesh_of(trimesh.creation.box(bounds=bounds))


def part() -> Mesh:
    block = trimesh.creation.box(bounds=PART_MM)
    shaft = trimesh.creation.cylinder(radius=3, segment=[[0, -30, 11], [0, 0, 11]], sections=32)
    return mesh_of(trimesh.util.concatenate([block, shaft]))


def halves(z_mm: float = Z_MM) -> dict[Side, Mesh]:
    """Two tubs: the outer box less the part's box grown by 1 mm, cut at z."""
    made: dict[Side, Mesh] = {}
    room = trimesh.creation.box(bounds=PART_MM + np.array([[-1.0, -1, -1], [1, 1, 1]]))
    cuts: tuple[tuple[Side, float, float], ...] = (("lower", -3, z_mm), ("upper", z_mm, 23))
    for side, low, high in cuts:
        bounds = OUTER_MM.copy()
        bounds[:, 2] = low, high
        made[side] = mesh_of(trimesh.boolean.difference([trimesh.creation.box(bounds=bounds), room]))
    return made
