"""Wavefront OBJ: points and polygons of all objects; everything else is passed over."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from housingdesk.errors import FileError
from housingdesk.files.readers.base import RawPart, Reader, check_count, not_a, parse_numbers
from housingdesk.files.readers.polygons import triangulated
from housingdesk.geometry.types import Floats, Mesh

_SLASHED = re.compile(rb"/[-\d/]*")


def read(path: Path, data: bytes) -> RawPart:
    """Read all objects of an OBJ file as one mesh."""
    text = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ").replace(b"\r", b"\n")
    lines = [line.strip() for line in text.split(b"\n")]
    points = [line[2:] for line in lines if line[:2] in (b"v ", b"v\t")]
    if not points:
        raise not_a("an OBJ file", path)
    vertices = _vertices(path, points)
    corners, sizes = _polygons(path, lines)
    check_count(path, int(np.maximum(sizes - 2, 0).sum()))
    if len(corners) and not (corners.min() >= 0 and corners.max() < len(vertices)):
        raise FileError(f"{path.name} has a face that uses a point which is not there; save it again.")
    return RawPart(Mesh(vertices, triangulated(vertices, corners, sizes)))


def _vertices(path: Path, points: list[bytes]) -> Floats:
    """Return (n, 3) coordinates; a fourth number (weight) or six (colour) are passed over."""
    wide = len(points[0].split())
    numbers = parse_numbers(b" ".join(points))
    if numbers is not None and wide >= 3 and len(numbers) == wide * len(points):
        return numbers.reshape(-1, wide)[:, :3]
    numbers = parse_numbers(b" ".join(b" ".join(p.split()[:3]) for p in points))
    if numbers is None or len(numbers) != 3 * len(points):
        raise not_a("an OBJ file", path)
    return numbers.reshape(-1, 3)


def _polygons(path: Path, lines: list[bytes]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return zero-based corner indices of all faces, and how many each face has."""
    faces = [line[2:] for line in lines if line[:2] in (b"f ", b"f\t")]
    stripped = _SLASHED.sub(b"", b"\n".join(faces))
    numbers = parse_numbers(stripped.replace(b"\n", b" "))
    sizes = np.array([len(face.split()) for face in stripped.split(b"\n")] if faces else [], np.int64)
    if numbers is None or len(numbers) != sizes.sum() or not (np.abs(numbers) < 2**31).all():
        raise not_a("an OBJ file", path)
    corners = numbers.astype(np.int64)
    if (corners < 0).any():
        # Negative numbers count back from the points read so far.
        is_point = np.array([line[:2] in (b"v ", b"v\t") for line in lines])
        is_face = np.array([line[:2] in (b"f ", b"f\t") for line in lines])
        so_far = np.repeat(np.cumsum(is_point)[is_face], sizes)
        corners = np.where(corners < 0, so_far + corners + 1, corners)
    return corners - 1, sizes


READER = Reader((".obj",), "OBJ", read)
