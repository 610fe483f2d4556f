"""What a reader is and what it gives."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from housingdesk.errors import FileError
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import Unit

MAX_TRIANGLES = 10_000_000  # ten times the promise; about 1 GB while reading
MAX_FILE_BYTES = 2 << 30


@dataclass(frozen=True, slots=True)
class RawPart:
    """All bodies of a file in one frame.

    Attributes
    ----------
    mesh : in file units; nothing welded or checked yet.
    unit : what the file says its unit is, or None.
    """

    mesh: Mesh
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Reader:
    """One file format.

    Attributes
    ----------
    suffixes : lower case, with the dot.
    label : what the format is called in a file dialog.
    read : takes the path and the file's bytes; raises ``FileError`` with a sentence that begins with the
        file's name, for everything that is wrong with the file.
    """

    suffixes: tuple[str, ...]
    label: str
    read: Callable[[Path, bytes], RawPart]


def not_a(kind: str, path: Path) -> FileError:
    """Say that a file's content is not what its ending promises."""
    return FileError(
        f"{path.name} is not {kind} that can be read; save it again from the program that made it."
    )


def cut_off(path: Path, detail: str) -> FileError:
    """Say that a file ends too early."""
    return FileError(f"{path.name} is cut off: {detail}; copy it again or save it again.")


def check_count(path: Path, triangles: int) -> None:
    """Refuse more triangles than memory is meant for, before any is made.

    Raises
    ------
    FileError : there are too many.
    """
    if triangles > MAX_TRIANGLES:
        raise FileError(
            f"{path.name} has {triangles:,} triangles, more than the {MAX_TRIANGLES:,} that can be read; "
            "save it with less detail."
        )


def parse_numbers(text: bytes) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
    """Return all numbers of a text of blank-separated numbers, or None when it holds anything else."""
    if not text.strip():
        return np.zeros(0)
    with warnings.catch_warnings():
        # numpy warns where it stops early, and says that this will be an error one day
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text, np.float64, sep=" ")
        except (DeprecationWarning, ValueError):
            return None
