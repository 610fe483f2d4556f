"""PLY, as text and binary of both byte orders.  Source: G. Turk, "The PLY Polygon File Format", 1994."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from housingdesk.errors import FileError
from housingdesk.files.readers.base import (
    MAX_TRIANGLES,
    RawPart,
    Reader,
    check_count,
    cut_off,
    not_a,
    parse_numbers,
)
from housingdesk.files.readers.polygons import triangulated
from housingdesk.geometry.types import Floats, Mesh

_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4",
    "float": "f4", "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2",
    "int32": "i4", "uint32": "u4", "float32": "f4", "float64": "f8",
}  # fmt: skip
_ORDERS = {"binary_little_endian": "<", "binary_big_endian": ">", "ascii": ""}
_FACE_LISTS = ("vertex_indices", "vertex_index")
_MAX_HEADER = 1 << 16

Table = dict[str, NDArray[np.float64]]
Lists = tuple[NDArray[np.int64], NDArray[np.int64]]


@dataclass
class Property:
    """A column: ``count`` is the type of a list's length, empty for a plain number."""

    name: str
    kind: str
    count: str = ""


@dataclass
class Element:
    """A block of rows."""

    name: str
    rows: int
    properties: list[Property] = field(default_factory=list)


def read(path: Path, data: bytes) -> RawPart:
    """Read the points and faces of a PLY file; colours, normals and other blocks are passed over."""
    return RawPart(parse(path, data))


def parse(path: Path, data: bytes) -> Mesh:
    """Return the mesh just as it is stored: same points, same order."""
    order, elements, at = _header(path, data)
    vertices: Floats | None = None
    corners = sizes = np.zeros(0, np.int64)
    tokens = _tokens(path, data[at:]) if order == "" else None
    at = at if tokens is None else 0
    for element in elements:
        if tokens is None:
            columns, lists, at = _binary_block(path, data, at, element, order)
        else:
            columns, lists, at = _text_block(path, tokens, at, element)
        if element.name == "vertex":
            if not {"x", "y", "z"} <= columns.keys():
                raise not_a("a PLY file", path)
            vertices = np.column_stack([columns[axis] for axis in "xyz"])
        elif element.name == "face" and lists is not None:
            corners, sizes = lists
    if vertices is None:
        raise not_a("a PLY file", path)
    if len(corners) and not (corners.min() >= 0 and corners.max() < len(vertices)):
        raise FileError(f"{path.name} has a face that uses a point which is not there; save it again.")
    check_count(path, int(np.maximum(sizes - 2, 0).sum()))
    return Mesh(vertices, _faces(vertices, corners, sizes))


def _faces(vertices: Floats, corners: NDArray[np.int64], sizes: NDArray[np.int64]) -> NDArray[np.int32]:
    if (sizes == 3).all():  # keeps the order, on which the content key rests
        return corners.reshape(-1, 3).astype(np.int32)
    return triangulated(vertices, corners, sizes)


def _header(path: Path, data: bytes) -> tuple[str, list[Element], int]:
    """Return the byte order ("" for text), the blocks, and where the data begins."""
    head, mark, _ = data[:_MAX_HEADER].partition(b"end_header")
    lines = head.decode("latin-1").replace("\r", "\n").split("\n")
    if not mark or lines[0].strip() != "ply":
        raise not_a("a PLY file", path)
    at = data.find(b"\n", len(head)) + 1
    carriage = data[len(head) + len(mark) : len(head) + len(mark) + 2]
    if carriage[:1] == b"\r" and carriage != b"\r\n":
        at = len(head) + len(mark) + 1
    order: str | None = None
    elements: list[Element] = []
    try:
        for words in (line.split() for line in lines[1:]):
            match words:
                case ["format", name, _]:
                    order = _ORDERS[name]
                case ["element", name, rows]:
                    elements.append(Element(name, int(rows)))
                case ["property", "list", count, kind, name]:
                    elements[-1].properties.append(Property(name, _TYPES[kind], _TYPES[count]))
                case ["property", kind, name]:
                    elements[-1].properties.append(Property(name, _TYPES[kind]))
                case _:
                    pass
    except (KeyError, ValueError, IndexError) as error:
        raise not_a("a PLY file", path) from error
    if order is None or at == 0 or any(e.rows < 0 or not e.properties for e in elements):
        raise not_a("a PLY file", path)
    for element in elements:
        if element.rows > 3 * MAX_TRIANGLES or element.rows > len(data) - at:
            raise cut_off(
                path, f"it promises {element.rows:,} rows of '{element.name}', more than it can hold"
            )
    return order, elements, at


def _face_list(element: Element) -> int | None:
    """Which column holds the faces' corners."""
    columns = enumerate(element.properties)
    return next((i for i, p in columns if p.count and p.name in _FACE_LISTS), None)


def _short(path: Path, element: Element) -> FileError:
    return cut_off(path, f"it promises {element.rows:,} rows of '{element.name}' and ends before")


# --- binary -----------------------------------------------------------------------------------------


def _binary_block(
    path: Path, data: bytes, at: int, element: Element, order: str
) -> tuple[Table, Lists | None, int]:
    if element.rows == 0:
        return {p.name: np.zeros(0) for p in element.properties}, None, at
    sizes = _first_row_sizes(path, data, at, element, order)
    dtype = _row_dtype(element, order, sizes)
    end = at + dtype.itemsize * element.rows
    if dtype.itemsize and end <= len(data):
        rows = np.frombuffer(data, dtype, element.rows, at)
        even = all((rows[f"n{i}"] == size).all() for i, size in sizes.items())
        if even:
            columns = {
                p.name: rows[f"p{i}"].astype(np.float64)
                for i, p in enumerate(element.properties)
                if not p.count
            }
            chosen = _face_list(element)
            if chosen is None:
                return columns, None, end
            if element.properties[chosen].kind.startswith("f"):
                raise not_a("a PLY file", path)
            corners = rows[f"p{chosen}"].reshape(-1).astype(np.int64)
            return columns, (corners, np.full(element.rows, sizes[chosen], np.int64)), end
    if not sizes:
        raise _short(path, element)
    return _uneven_block(path, data, at, element, order)


def _first_row_sizes(path: Path, data: bytes, at: int, element: Element, order: str) -> dict[int, int]:
    """Return the length of each list in the first row, on the hope that all rows are alike."""
    sizes = {}
    for i, p in enumerate(element.properties):
        if p.count:
            sizes[i], at = _list_length(path, data, at, element, p, order)
            at += sizes[i] * np.dtype(p.kind).itemsize
        else:
            at += np.dtype(p.kind).itemsize
    return sizes


def _list_length(
    path: Path, data: bytes, at: int, element: Element, p: Property, order: str
) -> tuple[int, int]:
    """Return a list's length, never more than the data can hold, and where the list begins."""
    counter = np.dtype(order + p.count)
    start = at + counter.itemsize
    if start > len(data):
        raise _short(path, element)
    length = float(np.frombuffer(data, counter, 1, at)[0])
    if not 0 <= length <= len(data) or length != int(length):
        raise not_a("a PLY file", path)
    if start + int(length) * np.dtype(p.kind).itemsize > len(data):
        raise _short(path, element)
    return int(length), start


def _row_dtype(element: Element, order: str, sizes: dict[int, int]) -> np.dtype[np.void]:
    fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
    for i, p in enumerate(element.properties):
        if p.count:
            fields += [(f"n{i}", order + p.count), (f"p{i}", order + p.kind, (sizes[i],))]
        else:
            fields.append((f"p{i}", order + p.kind))
    return np.dtype(fields)


def _uneven_block(
    path: Path, data: bytes, at: int, element: Element, order: str
) -> tuple[Table, Lists | None, int]:
    """Read row by row: triangles and larger polygons mixed."""
    chosen = _face_list(element)
    found: list[NDArray[np.int64]] = []
    for _ in range(element.rows):
        for i, p in enumerate(element.properties):
            length = 1
            if p.count:
                length, at = _list_length(path, data, at, element, p, order)
            step = np.dtype(order + p.kind)
            if at + length * step.itemsize > len(data):
                raise _short(path, element)
            if i == chosen:
                values = np.frombuffer(data, step, length, at)
                if step.kind == "f":
                    raise not_a("a PLY file", path)
                found.append(values.astype(np.int64))
            at += length * step.itemsize
    if chosen is None:
        return {}, None, at
    return {}, (np.concatenate(found), np.array([len(f) for f in found], np.int64)), at


# --- text -------------------------------------------------------------------------------------------


def _tokens(path: Path, text: bytes) -> NDArray[np.float64]:
    numbers = parse_numbers(text)
    if numbers is None:
        raise not_a("a PLY file", path)
    return numbers


def _text_block(
    path: Path, tokens: NDArray[np.float64], at: int, element: Element
) -> tuple[Table, Lists | None, int]:
    if not any(p.count for p in element.properties):
        wide = len(element.properties)
        end = at + wide * element.rows
        if end > len(tokens):
            raise _short(path, element)
        block = tokens[at:end].reshape(-1, wide)
        return {p.name: block[:, i] for i, p in enumerate(element.properties)}, None, end
    starts, sizes, end = _text_lists(path, tokens, at, element)
    if starts is None or not len(starts):
        return {}, None, end
    spread = np.repeat(starts - (np.cumsum(sizes) - sizes), sizes) + np.arange(sizes.sum())
    values = tokens[spread]
    if not (np.abs(values) < 2**31).all():  # NaN fails too
        raise not_a("a PLY file", path)
    return {}, (values.astype(np.int64), sizes), end


def _text_lists(
    path: Path, tokens: NDArray[np.float64], at: int, element: Element
) -> tuple[NDArray[np.int64] | None, NDArray[np.int64], int]:
    """Return where each row's face list begins and how long it is."""
    chosen = _face_list(element)
    starts, sizes = [], []
    lists = [bool(p.count) for p in element.properties]
    for _ in range(element.rows):
        for i, is_list in enumerate(lists):
            if at >= len(tokens):
                raise _short(path, element)
            if not is_list:
                at += 1
                continue
            length = tokens[at]
            if not 0 <= length <= len(tokens) or length != int(length):
                raise not_a("a PLY file", path)
            if i == chosen:
                starts.append(at + 1)
                sizes.append(int(length))
            at += 1 + int(length)
    if at > len(tokens):
        raise _short(path, element)
    return (None if chosen is None else np.array(starts, np.int64)), np.array(sizes, np.int64), at


READER = Reader((".ply",), "PLY", read)
