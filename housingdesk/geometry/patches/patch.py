"""What a patch is, and how it reads."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from housingdesk.geometry.types import Floats, Ints

PatchKind = Literal["flat", "cylinder", "cone"]
PatchSide = Literal["outside", "inside"]

WHOLE_TURN = 0.98  # of a full turn: the gap of a key slot or a burr is forgiven
ROUND_SHARE = 0.03  # corners that miss a circle by so much of its radius still lie on it
ABOUT_SQUARE = 0.94  # width to length of the box about a circle, drawn with as few as ten chords
MOST_STEP = np.radians(46.0)  # eight corners to a turn are the fewest that are meant as a circle


@dataclass(frozen=True, eq=False)
class Patch:
    """A flat, cylinder or cone found on a part.

    Attributes
    ----------
    kind : what it is.
    faces : (k,) int32 indices into the faces of the mesh, ascending.
    centre_mm : (3,) middle of a flat's area; of a round, the point on the axis half-way along its length.
    axis : (3,) unit; a flat's normal pointing out of the part, a cylinder's axis (largest component
        positive), a cone's axis towards its wide end.
    diameter_mm : of a cylinder, of a cone at its wide end, 0 for a flat.
    length_mm : along the axis as calipers read it, over a rounded or chamfered edge to the end face; the
        longest extent of a flat.
    width_mm : of a flat, across its length; 0 for a round.
    side : ``inside`` for a hole or an inner fillet, ``outside`` for a shaft, a rounded edge or a flat.
    area_mm2 : of its triangles.
    rms_mm : root mean square distance of its vertices from the ideal surface.
    turn : share of a full turn that a round covers, 0 to 1; 1 for a flat.
    straight_mm : the length without such edges; ``faces`` and ``area_mm2`` are of this part alone.
    half_angle_deg : of a cone, between axis and surface; 0 otherwise.
    round_mm : diameter of a flat whose outline is a circle, whether it has a hole or not; 0 otherwise.
    """

    kind: PatchKind
    faces: Ints
    centre_mm: Floats
    axis: Floats
    diameter_mm: float
    length_mm: float
    width_mm: float
    side: PatchSide
    area_mm2: float
    rms_mm: float
    turn: float
    straight_mm: float
    half_angle_deg: float = 0.0
    round_mm: float = 0.0

    def moved(self, matrix: Floats) -> Patch:
        """Return the patch under a (4, 4) rigid map."""
        m = np.asarray(matrix, float)
        return replace(self, centre_mm=m[:3, :3] @ self.centre_mm + m[:3, 3], axis=m[:3, :3] @ self.axis)

    @property
    def is_whole(self) -> bool:
        """Whether a round goes all the way about: a shaft or hole rather than a rounded edge."""
        return self.turn >= WHOLE_TURN


def round_mm(rim: Floats) -> float:
    """Return the diameter of a flat, about as long as wide, whose outline is a circle, else 0.

    A square reaches farthest in four directions only, a circle, though of chords, all about.

    Parameters
    ----------
    rim : (k, 2) corners of its triangles in its plane, about its middle, mm.
    """
    away = np.hypot(*rim.T)
    radius = float(away.max())
    turns = np.sort(np.arctan2(*rim[away > radius * (1 - ROUND_SHARE)].T))
    steps = np.diff(turns, append=turns[0] + 2 * np.pi)
    return 2 * radius if steps.max() <= MOST_STEP else 0.0


def _figure(mm: float) -> str:
    """Write a length as calipers show it: two decimals below 10 mm, one above, no trailing zeros but one."""
    text = f"{mm:.2f}" if mm < 10 else f"{mm:.1f}"
    whole, _, decimals = text.partition(".")
    return f"{whole}.{decimals.rstrip('0') or '0'}"


def _short(mm: float) -> str:
    """Write a length without needless decimals: 22, 1.5."""
    return _figure(mm).removesuffix(".0")


def describe(patch: Patch) -> str:
    """Say in a few words what is under the pointer.

    Returns
    -------
    ``Ø6.0, 22 long``, ``hole Ø3.2, 8 deep``, ``rounded edge R2.0, 30 long``, ``Flat 24 x 18``,
    ``round flat Ø6.0`` or ``cone Ø8.0, 45° a side, 2 long``; mm.
    """
    length = _short(patch.length_mm)
    if patch.round_mm:
        return f"round flat Ø{_figure(patch.round_mm)}"
    if patch.kind == "flat":
        return f"Flat {length} x {_short(patch.width_mm)}"
    hole = patch.side == "inside"
    if patch.kind == "cone":
        name = "countersink" if hole else "cone"
        return f"{name} Ø{_figure(patch.diameter_mm)}, {patch.half_angle_deg:.0f}° a side, {length} long"
    if patch.turn < 0.4:
        name = "inner rounding" if hole else "rounded edge"
        return f"{name} R{_figure(patch.diameter_mm / 2)}, {length} long"
    if hole:
        return f"hole Ø{_figure(patch.diameter_mm)}, {length} deep"
    return f"Ø{_figure(patch.diameter_mm)}, {length} long"


def patch_at(patches: tuple[Patch, ...], face: int) -> Patch | None:
    """Return the patch that a face of the mesh belongs to, or None for a free-form surface."""
    for patch in patches:
        at = int(np.searchsorted(patch.faces, face))
        if at < len(patch.faces) and patch.faces[at] == face:
            return patch
    return None
