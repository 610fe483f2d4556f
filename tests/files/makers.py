"""Files made for the tests by other means than the program's own writers."""

from __future__ import annotations

import struct
from pathlib import Path

import lib3mf
import numpy as np
import trimesh

from housingdesk.geometry.types import Mesh

BOX_MM = (40.0, 30.0, 20.0)


def box(extents: tuple[float, float, float] = BOX_MM) -> Mesh:
    made = trimesh.creation.box(extents)
    return Mesh(made.vertices, made.faces)


def exported(mesh: Mesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def stl(corners: np.ndarray, header: bytes = b"made by a test", count: int | None = None) -> bytes:
    """Binary STL written value by value; corners (m, 3, 3)."""
    rows = b"".join(
        struct.pack("<12fH", 0, 0, 0, *(float(x) for x in triangle.ravel()), 0) for triangle in corners
    )
    return header.ljust(80, b"\0") + struct.pack("<I", len(corners) if count is None else count) + rows


def box_corners(extents: tuple[float, float, float] = BOX_MM) -> np.ndarray:
    return np.asarray(trimesh.creation.box(extents).triangles)


def stl_text(corners: np.ndarray, name: str = "box") -> str:
    lines = [f"solid {name}"]
    for triangle in corners:
        lines += ["  facet normal 0 0 0", "    outer loop"]
        lines += [f"      vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in triangle]
        lines += ["    endloop", "  endfacet"]
    return "\n".join([*lines, f"endsolid {name}", ""])


def shift(x: float, y: float, z: float, turn: np.ndarray | None = None) -> lib3mf.Transform:
    """A 3MF transform: 4 rows of 3, row vectors (3MF Core Specification 1.4.0, 3.3)."""
    out = lib3mf.Transform()
    rows = np.vstack([np.eye(3) if turn is None else turn, [x, y, z]])
    for i in range(4):
        for j in range(3):
            out.Fields[i][j] = rows[i, j]
    return out


def mesh_object(model: lib3mf.Model, mesh: Mesh, name: str) -> lib3mf.MeshObject:
    body = model.AddMeshObject()
    body.SetName(name)
    positions = [
        lib3mf.Position((lib3mf.Position().Coordinates.__class__)(*map(float, v))) for v in mesh.vertices
    ]
    triangles = [lib3mf.Triangle((lib3mf.Triangle().Indices.__class__)(*map(int, f))) for f in mesh.faces]
    body.SetGeometry(positions, triangles)
    return body


def save_3mf(model: lib3mf.Model, path: Path) -> Path:
    model.QueryWriter("3mf").WriteToFile(str(path))
    return path
