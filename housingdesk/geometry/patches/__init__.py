"""Flats, cylinders and cones of a part, found by the program and picked by the user."""

from housingdesk.geometry.patches.patch import Patch, describe, patch_at
from housingdesk.geometry.patches.segment import find_patches

__all__ = ["Patch", "describe", "find_patches", "patch_at"]
