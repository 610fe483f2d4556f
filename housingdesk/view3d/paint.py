"""Colours of single faces: zones and picks on the part, and the clearance map.  No Qt, no VTK."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from housingdesk.geometry.types import Floats, Ints
from housingdesk.spec.zones import Purpose
from housingdesk.view3d.palette import Palette, channels, mixed

Bytes = NDArray[np.uint8]

# Four hues that people with any of the usual colour blindnesses tell apart on plum (after Okabe and Ito,
# "Color Universal Design", 2008: sky blue, orange-red, bluish green, near yellow, from memory).
_PURPOSES: dict[Purpose, str] = {
    "held": "#E4C441",
    "turning": "#56B4E9",
    "hot": "#D55E00",
    "open": "#009E73",
}


@dataclass(frozen=True, eq=False, slots=True)
class Paint:
    """A colour for each face of a mesh, (m, 3) red, green and blue from 0 to 255; compares by identity."""

    rgb: Bytes


def zone_colour(purpose: Purpose) -> str:
    """Return the colour of a zone's faces."""
    return _PURPOSES[purpose]


def zone_paint(zone_of_face: Ints, purposes: Sequence[Purpose], colours: Palette) -> Paint:
    """Return the part in the ghost's colour with its zones in theirs.

    Parameters
    ----------
    zone_of_face : (m,) index into ``purposes``, -1 for the body.
    """
    table = _bytes([colours.ghost, *(zone_colour(p) for p in purposes)])
    return Paint(table[np.asarray(zone_of_face) + 1])


def pick_paint(base: Paint, picked: Ints, hovered: Ints, colours: Palette) -> Paint:
    """Return a part's paint with the faces under the pointer lit, and those picked plainly marked."""
    rgb = base.rgb.copy()
    rgb[hovered] = _bytes([mixed(colours.snap, colours.paper, 0.45)])[0]
    rgb[picked] = _bytes([colours.snap])[0]
    return Paint(rgb)


def plain_paint(faces: int, colours: Palette) -> Paint:
    """Return a part all in the ghost's colour."""
    return Paint(np.tile(_bytes([colours.ghost]), (faces, 1)))


def shades(values: ArrayLike, stops: Sequence[str], least: float, most: float) -> Bytes:
    """Return (n, 3) colours along a scale; values outside its ends take the end's colour."""
    table = np.array([channels(c) for c in stops])
    share = np.clip((np.asarray(values, float) - least) / max(most - least, 1e-9), 0, 1)
    at = np.linspace(0, 1, len(table))
    rgb: Floats = np.stack([np.interp(share, at, table[:, i]) for i in range(3)], axis=-1)
    return np.asarray(np.round(255 * rgb), np.uint8)


def _bytes(colours: Sequence[str]) -> Bytes:
    return np.asarray(np.round(255 * np.array([channels(c) for c in colours])), np.uint8)
