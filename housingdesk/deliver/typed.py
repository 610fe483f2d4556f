"""Lengths as people type them on a command line."""

from __future__ import annotations


def length(text: str) -> float:
    """Read a length in mm, such as 0.4, 0,4 or 0.4mm; limits are for the spec to check.

    Raises
    ------
    ValueError : it is none.
    """
    return float(text.strip().lower().removesuffix("mm").replace(",", "."))
