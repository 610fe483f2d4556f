"""What the files in the output folder are called."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

LOWER, UPPER, BOTH, PROOF, PARTS_LIST = "lower.stl", "upper.stl", "halves.3mf", "proof.json", "parts.csv"


def part_file(number: int) -> str:
    """Return the name of one part's mesh; parts are counted from 1."""
    return f"part_{number}.ply"


def names_written(parts: int) -> tuple[str, ...]:
    """Return every name that writing a housing of so many parts may put into a folder."""
    return (LOWER, UPPER, BOTH, PROOF, *map(part_file, range(1, parts + 1)), PARTS_LIST)


def already_there(folder: Path, names: Iterable[str]) -> tuple[str, ...]:
    """Return those names that exist in a folder, which itself need not; links that lead nowhere count."""
    return tuple(name for name in names if os.path.lexists(folder / name))
