"""Flats, cylinders and cones of a part, found by the program and picked by the user."""

from housingdesk.geometry.patches.patch import Patch, PatchKind, PatchSide, describe, patch_at
from housingdesk.geometry.patches.pick import grow_pick, shrink_pick, smooth_neighbours
from housingdesk.geometry.patches.segment import find_patches

__all__ = [
    "Patch",
    "PatchKind",
    "PatchSide",
    "describe",
    "find_patches",
    "grow_pick",
    "patch_at",
    "shrink_pick",
    "smooth_neighbours",
]
