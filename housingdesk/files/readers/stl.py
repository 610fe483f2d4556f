"""STL, binary and as text.  Source of the layout: StereoLithography Interface Specification, 1989."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from housingdesk.files.readers.base import RawPart, Reader, check_count, cut_off, not_a, parse_numbers
from housingdesk.geometry.types import Floats, Mesh

HEADER_BYTES = 84
FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
_NAME = re.compile(rb"solid[^\n]*")  # of a body; it may hold any word of the format


def read(path: Path, data: bytes) -> RawPart:
    """Read all solids of an STL file as one mesh; the stated normals are not used."""
    corners = _text(path, data) if _is_text(data) else _binary(path, data)
    return RawPart(Mesh(corners, np.arange(len(corners), dtype=np.int32).reshape(-1, 3)))


def _is_text(data: bytes) -> bool:
    """Tell the two kinds apart by the size law first: binary headers may begin with "solid" too."""
    if len(data) >= HEADER_BYTES and len(data) == HEADER_BYTES + FACET.itemsize * _promised(data):
        return False
    start = data[:1024]
    return start.lstrip().lower().startswith(b"solid") and b"\0" not in start and not _stray(start)


def _stray(start: bytes) -> bool:
    """Whether bytes occur that are in no text of any encoding (a binary header padded with blanks)."""
    return bool(re.search(rb"[\x01-\x08\x0e-\x1f]", start))


def _promised(data: bytes) -> int:
    return int.from_bytes(data[80:84], "little")


def _binary(path: Path, data: bytes) -> Floats:
    if len(data) < HEADER_BYTES:
        raise not_a("an STL file", path)
    promised = _promised(data)
    there = (len(data) - HEADER_BYTES) // FACET.itemsize
    if there < promised and data[:512].isascii() and b"\0" not in data[:512] and not _stray(data[:512]):
        raise not_a("an STL file", path)  # some other text
    if there < promised:
        raise cut_off(path, f"it promises {promised:,} triangles and holds {there:,}")
    if there > promised:
        # Reading only what is promised would leave out part of the part.
        raise not_a("an STL file (it holds more triangles than it says)", path)
    check_count(path, promised)
    facets = np.frombuffer(data, FACET, promised, HEADER_BYTES)
    return facets["corners"].reshape(-1, 3).astype(np.float64)


def _text(path: Path, data: bytes) -> Floats:
    text = data.lower().replace(b"\r", b"\n")
    if not re.search(rb"\bendsolid\b", text[-4096:]):
        raise cut_off(path, "its end is missing")
    text = _NAME.sub(b"", text)
    facets = text.count(b"endfacet")
    check_count(path, facets)
    # Between "vertex" and the next keyword stand three numbers; splitting at the words keeps this quick.
    pieces = text.split(b"vertex")[1:]
    numbers = parse_numbers(b" ".join(piece.partition(b"endloop")[0] for piece in pieces))
    if numbers is None or len(pieces) * 3 != len(numbers):
        raise not_a("an STL file", path)
    if len(pieces) != 3 * facets:
        raise cut_off(path, "a triangle in it is not complete")
    return numbers.reshape(-1, 3)


READER = Reader((".stl",), "STL", read)
