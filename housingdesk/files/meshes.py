"""A part's file into a ``LoadedPart``: one file is one part."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from housingdesk.build.results import LoadedPart
from housingdesk.errors import FileError, PartError
from housingdesk.files.atomic import file_errors
from housingdesk.files.readers import readers
from housingdesk.files.readers.base import MAX_FILE_BYTES
from housingdesk.files.units import check_size, guess_unit
from housingdesk.geometry.inspect import doubled_areas, inspect
from housingdesk.geometry.types import Mesh
from housingdesk.geometry.weld import welded
from housingdesk.spec.models import UNIT_MM, Unit, UnitOrigin
from housingdesk.spec.part_edits import name_of

ProgressCall = Callable[[str, float | None], None]

# Extent across the thinnest direction, as a share of the greatest, below which a part is a sheet: a few
# steps of single precision, in which most files store their numbers.
_SHEET = 1e-6


def part_suffixes() -> tuple[str, ...]:
    """Return the endings of files that can be opened as a part, lower case with the dot."""
    return tuple(sorted(readers()))


def read_part(path: Path, unit: Unit | None = None, progress: ProgressCall | None = None) -> LoadedPart:
    """Read all bodies of a file as one part, in file units, nothing repaired.

    Equal points are shared and unused ones left out, which changes no geometry.

    Parameters
    ----------
    path : STL, OBJ, PLY, 3MF or STEP file.
    unit : what one file unit is, where the file itself does not say; a tag in the file is kept.  None
        guesses from the size.
    progress : told a phrase and a share; may raise ``Cancelled``.

    Raises
    ------
    FileError : the file is missing, damaged, empty, or of an unknown format.
    PartError : the part is flat, or cannot be of the size its unit makes it.
    """
    tell = progress or (lambda phrase, share: None)
    tell(f"Opening {path.name}", 0.0)
    data = _contents(path)
    tell(f"Reading {path.name}", 0.1)
    with np.errstate(invalid="ignore", over="ignore"):  # such numbers are told below, in a sentence
        raw = readers()[path.suffix.lower()].read(path, data)
    del data
    _check_numbers(path, raw.mesh)
    tell(f"Sorting the points of {path.name}", 0.5)
    mesh = welded(raw.mesh)
    _check_thickness(path, mesh)
    origin: UnitOrigin
    if raw.unit is not None:
        unit, origin = raw.unit, "tagged"
    elif unit is not None:
        origin = "given"
    else:
        unit, origin = guess_unit(mesh.size_mm), "guessed"
    check_size(mesh.size_mm * UNIT_MM[unit], unit)
    tell(f"Looking over {path.name}", 0.7)
    facts = inspect(mesh)
    tell(f"Read {path.name}", 1.0)
    return LoadedPart(name_of(path.name), path.name, mesh, unit, origin, facts)


def _contents(path: Path) -> bytes:
    if path.suffix.lower() not in readers() and not path.is_dir():
        known = ", ".join(part_suffixes())
        raise FileError(f"{path.name} is of no kind that can be opened as a part; choose one of {known}.")
    with file_errors("read", path):
        if path.stat().st_size > MAX_FILE_BYTES:
            raise FileError(
                f"{path.name} is larger than {MAX_FILE_BYTES >> 30} GB; save it with less detail."
            )
        data = path.read_bytes()
    if not data:
        raise FileError(f"{path.name} is empty; save it again from the program that made it.")
    return data


def _check_numbers(path: Path, mesh: Mesh) -> None:
    if not mesh.triangles:
        raise FileError(
            f"{path.name} holds no triangles; save the part's solid body, not its lines or points."
        )
    # The square root leaves room for the products that areas and volumes are made of.
    if not (np.abs(mesh.vertices) < math.sqrt(np.finfo(np.float32).max)).all():
        raise FileError(
            f"{path.name} has a point whose coordinates are no usable numbers (not a number, infinite or "
            "beyond all measure); save it again from the program that made it."
        )


def _check_thickness(path: Path, mesh: Mesh) -> None:
    if not (doubled_areas(mesh) > 0).any():
        raise PartError(
            f"All triangles of {path.name} are flat lines, so it has no body; choose another file."
        )
    centred = mesh.vertices - mesh.bounds.mean(axis=0)
    size = float(mesh.size_mm.max())
    _, axes = np.linalg.eigh((centred / size).T @ (centred / size))
    thin = float(np.ptp(centred @ axes[:, 0]))
    if min(thin, float(mesh.size_mm.min())) <= _SHEET * size:
        raise PartError(f"{path.name} is a sheet without thickness; a housing needs a part with a body.")
