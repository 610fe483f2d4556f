"""Meshes out: STL, 3MF and PLY."""

from __future__ import annotations

import ctypes
import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import lib3mf
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from housingdesk.files.atomic import replacing
from housingdesk.files.readers.stl import FACET
from housingdesk.files.readers.threemf import library
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.geometry.weld import welded

# Decimals in a 3MF file: 1e-6 mm is finer than the step of single precision at 10 mm and above.
_3MF_DECIMALS = 6
NOTHING_MM3 = 1e-6  # rounding to single precision moves a corner by some 4e-6 mm, a sliver's volume by less


def in_single_precision(mesh: Mesh) -> Mesh:
    """Return the mesh as STL and 3MF can hold it, closed where it was closed.

    Coordinates are rounded to float32 and equal points joined.  A triangle that loses a side that way is
    left out: its two other sides now lie on each other, so its neighbours meet there.  Two triangles on
    the same points with opposite turns enclose nothing and are left out together, for the same reason.
    Flat triangles with three different corners stay: without them their neighbours would no longer meet.
    A sliver that rounding has cut off all round, and that encloses nothing, is left out: it is no body.
    """
    mesh = welded(Mesh(mesh.vertices.astype(np.float32).astype(np.float64), mesh.faces))
    faces = mesh.faces[(mesh.faces != np.roll(mesh.faces, 1, axis=1)).all(axis=1)]
    faces = faces[_not_cancelled(faces)]
    return welded(Mesh(mesh.vertices, faces[_of_bodies(mesh.vertices, faces)]))


def _of_bodies(
    vertices: Floats, faces: np.ndarray[Any, np.dtype[np.int32]]
) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Return (m,) False for triangles of pieces, joined by sides, that enclose nothing.

    The volume of each is by the divergence theorem.
    """
    sides = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1).astype(np.int64)
    order = np.argsort(sides[:, 0] * len(vertices) + sides[:, 1], kind="stable")
    same = np.flatnonzero((sides[order[1:]] == sides[order[:-1]]).all(axis=1))
    one, other = order[same] // 3, order[same + 1] // 3
    graph = coo_array((np.ones(len(one)), (one, other)), shape=(len(faces),) * 2)
    count, piece = connected_components(graph, directed=False)
    if count <= 1:
        return np.ones(len(faces), bool)
    a, b, c = (vertices[faces[:, i]] - vertices.mean(axis=0) for i in range(3))
    volume = np.bincount(piece, weights=np.einsum("ij,ij->i", a, np.cross(b, c)) / 6)
    return np.asarray(np.abs(volume)[piece] > NOTHING_MM3)


def _not_cancelled(faces: np.ndarray[Any, np.dtype[np.int32]]) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Return (m,) False for pairs of triangles that have the same corners and opposite turns."""
    low = np.argmin(faces, axis=1)
    turned = np.take_along_axis(faces, (low[:, None] + np.arange(3)) % 3, axis=1)
    positive = turned[:, 1] < turned[:, 2]
    _, group = np.unique(np.sort(faces, axis=1), axis=0, return_inverse=True)
    group = group.ravel()
    keep = np.ones(len(faces), bool)
    counts = np.bincount(group)
    for crowd in np.flatnonzero(counts > 1):  # none in most meshes
        members = np.flatnonzero(group == crowd)
        up, down = members[positive[members]], members[~positive[members]]
        pairs = min(len(up), len(down))
        keep[up[:pairs]] = keep[down[:pairs]] = False
    return keep


def stl_bytes(mesh: Mesh, name: str) -> bytes:
    """Return a binary STL file; the header names the piece and never begins with "solid"."""
    mesh = in_single_precision(mesh)
    header = f"Housing Desk: {name}, mm".encode("ascii", "replace")[:80].ljust(80)
    facets = np.zeros(mesh.triangles, FACET)
    facets["corners"] = mesh.vertices[mesh.faces]
    corners = mesh.vertices[mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    facets["normal"] = np.divide(normals, length, out=np.zeros_like(normals), where=length > 0)
    return header + mesh.triangles.to_bytes(4, "little") + facets.tobytes()


def ply_bytes(mesh: Mesh) -> bytes:
    """Return a binary PLY file that holds the mesh exactly: same numbers, same order."""
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment Housing Desk\n"
        f"element vertex {len(mesh.vertices)}\n"
        "property double x\nproperty double y\nproperty double z\n"
        f"element face {mesh.triangles}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.zeros(mesh.triangles, [("n", "u1"), ("corners", "<i4", 3)])
    faces["n"] = 3
    faces["corners"] = mesh.faces
    return header.encode() + mesh.vertices.astype("<f8").tobytes() + faces.tobytes()


def write_stl(path: Path, mesh: Mesh, name: str) -> int:
    """Write a binary STL file, and return how many triangles it has.

    Raises
    ------
    FileError : it cannot be written; what was there before stays.
    """
    data = stl_bytes(mesh, name)
    with replacing(path) as stream:
        stream.write(data)
    return int.from_bytes(data[80:84], "little")


def write_ply(path: Path, mesh: Mesh) -> None:
    """Write a binary PLY file in double precision.

    Raises
    ------
    FileError : it cannot be written; what was there before stays.
    """
    with replacing(path) as stream:
        stream.write(ply_bytes(mesh))


def write_3mf(path: Path, meshes: Mapping[str, Mesh]) -> None:
    """Write several named bodies into one 3MF file in millimetres, each placed once as it lies.

    Raises
    ------
    FileError : it cannot be written.
    """
    model = library().CreateModel()
    model.SetUnit(lib3mf.ModelUnit.MilliMeter)
    still = _transform(np.eye(4))
    for name, mesh in meshes.items():
        body = model.AddMeshObject()
        body.SetName(name)
        single = in_single_precision(mesh)
        body.SetGeometry(
            _structs(lib3mf.Position, single.vertices.astype(np.float32)),
            _structs(lib3mf.Triangle, single.faces.astype(np.uint32)),
        )
        model.AddBuildItem(body, still)
    writer = model.QueryWriter("3mf")
    writer.SetDecimalPrecision(_3MF_DECIMALS)
    data = _written(writer)
    with replacing(path) as stream:
        stream.write(data)


def _written(writer: Any) -> bytes:
    """Return the file that a 3MF writer makes, without letting it near the disk.

    Where the disk is full the library ends the whole process; and its own way of returning bytes makes
    a Python number of each.
    """
    out = io.BytesIO()

    def write(address: int, size: int, user: int) -> None:
        out.write(ctypes.string_at(address, size))

    def seek(position: int, user: int) -> None:
        out.seek(position)

    writer.WriteToCallback(lib3mf.WriteCallback(write), lib3mf.SeekCallback(seek), 0)
    return out.getvalue()


def _structs(kind: Any, rows: np.ndarray[Any, Any]) -> Any:
    """Return (n, 3) numbers as an array of C structs of three."""
    block = (kind * len(rows))()
    ctypes.memmove(block, np.ascontiguousarray(rows).ctypes.data, rows.nbytes)
    return block


def _transform(matrix: np.ndarray[Any, Any]) -> Any:
    """Return a 3MF transform, which stores the transpose."""
    out = lib3mf.Transform()
    for row in range(4):
        for column in range(3):
            out.Fields[row][column] = float(matrix[column, row])
    return out
