"""Parallel steel pins that place two halves; lengths in mm, the list from memory."""

from __future__ import annotations

from collections.abc import Mapping

from housingdesk.standards._data import Entry, Positive, table


class Pin(Entry):
    """Parallel dowel pin, ISO 2338 (soft) or ISO 8734 (hardened): nominal diameter and lengths on sale."""

    diameter_mm: Positive
    lengths_mm: tuple[Positive, ...]


def pins() -> Mapping[str, Pin]:
    """Pins by their nominal diameter."""
    return table("iso2338", Pin)
