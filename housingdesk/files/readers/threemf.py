"""3MF (3MF Core Specification 1.4.0) through lib3mf: units, build items, components, transforms."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import lib3mf
import numpy as np

from housingdesk.errors import FileError
from housingdesk.files.readers.base import MAX_TRIANGLES, RawPart, Reader, check_count, not_a
from housingdesk.files.zips import open_zip
from housingdesk.geometry.types import Floats, Mesh, joined
from housingdesk.spec.models import Unit

_UNITS: dict[int, tuple[Unit, float]] = {
    # The program's unit and a factor; micron and foot are told in the nearest one of ours.
    int(lib3mf.ModelUnit.MicroMeter): ("mm", 0.001),
    int(lib3mf.ModelUnit.MilliMeter): ("mm", 1.0),
    int(lib3mf.ModelUnit.CentiMeter): ("cm", 1.0),
    int(lib3mf.ModelUnit.Inch): ("inch", 1.0),
    int(lib3mf.ModelUnit.Foot): ("inch", 12.0),
    int(lib3mf.ModelUnit.Meter): ("m", 1.0),
}
_MAX_PLACED = 10_000  # components can nest so that a small file means billions of bodies
_MAX_DEPTH = 64


@cache
def library() -> Any:
    """Return the 3MF library, loaded once."""
    return lib3mf.get_wrapper()


def read(path: Path, data: bytes) -> RawPart:
    """Read all build items of a 3MF file as one mesh."""
    del data  # lib3mf's Python binding copies bytes one by one; it reads the file itself
    with open_zip(path):
        pass  # refuses archives that could do harm before the library unpacks them
    try:
        model = library().CreateModel()
        model.QueryReader("3mf").ReadFromFile(str(path))
        unit, factor = _UNITS[int(model.GetUnit())]
        meshes = list(_placed(path, model))
    except lib3mf.ELib3MFException as error:
        raise not_a("a 3MF file", path) from error
    check_count(path, sum(m.triangles for m in meshes))
    return RawPart(joined(meshes).moved(np.diag([factor] * 3 + [1.0])), unit)


def _placed(path: Path, model: Any) -> Iterator[Mesh]:
    """Yield every mesh that the build uses, where the build puts it."""
    known: dict[int, Mesh] = {}
    placed = triangles = 0
    items = model.GetBuildItems()
    stack: list[tuple[Any, Floats, int]] = []
    while items.MoveNext():
        item = items.GetCurrent()
        stack.append((item.GetObjectResource(), _matrix(item.GetObjectTransform()), 0))
    while stack:
        body, to_build, depth = stack.pop()
        placed += 1
        if placed > _MAX_PLACED or depth > _MAX_DEPTH or triangles > MAX_TRIANGLES:
            raise FileError(f"{path.name} repeats its bodies too often to be one part; save it with fewer.")
        if body.IsMeshObject():
            number = body.GetUniqueResourceID()
            if number not in known:
                known[number] = _mesh(body)
            triangles += known[number].triangles
            yield known[number].moved(to_build)
        elif body.IsComponentsObject():
            for i in range(body.GetComponentCount()):
                part = body.GetComponent(i)
                stack.append((part.GetObjectResource(), to_build @ _matrix(part.GetTransform()), depth + 1))


def _matrix(transform: Any) -> Floats:
    """Return the (4, 4) map for column vectors; 3MF stores the transpose, rows of row vectors."""
    out = np.eye(4)
    out[:3, :] = np.ctypeslib.as_array(transform.Fields).astype(float).T
    return out


def _mesh(body: Any) -> Mesh:
    vertices = _packed(lib3mf.Position, body.GetVertices(), np.float32)
    faces = _packed(lib3mf.Triangle, body.GetTriangleIndices(), np.uint32)
    return Mesh(vertices.astype(np.float64), faces.astype(np.int32))


def _packed(kind: Any, structs: list[Any], dtype: type) -> Any:
    """Return the (n, 3) numbers in a list of C structs of three."""
    block = (kind * len(structs))(*structs)
    return np.frombuffer(bytes(ctypes.string_at(block, ctypes.sizeof(block))), dtype).reshape(-1, 3)


READER = Reader((".3mf",), "3MF", read)
