"""Closed bodies and plane outlines: the only place that knows manifold3d."""

from housingdesk.geometry.solid.body import Solid
from housingdesk.geometry.solid.outline import Outline, rounds_within

__all__ = ["Outline", "Solid", "rounds_within"]
