"""Mounting rails of IEC 60715; all figures are from memory."""

from __future__ import annotations

from collections.abc import Mapping

from housingdesk.standards._data import Entry, Positive, table


class Rail(Entry):
    """A top hat rail.

    Attributes
    ----------
    width_mm, height_mm, thickness_mm : over its edges, of its hat, of its sheet.
    hollow_mm : width between its edges behind, where a hook finds room.
    """

    width_mm: Positive
    height_mm: Positive
    thickness_mm: Positive
    hollow_mm: Positive


def rails() -> Mapping[str, Rail]:
    """All rails by name."""
    return table("iec60715", Rail)
