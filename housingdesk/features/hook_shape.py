"""A snap hook's bodies: an arm in a well of its own half, a pocket with a window in the other.

Drawn in a frame of its own: v outward from the wall, h away from the parting plane into the other half,
u along the wall.  From v = 0 outward: room to bend, the arm, a gap, the other half's wall with the window.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats

LEAD_DEG = 30.0  # slope of the nose on its way in (makers' guides)
ROOT_SHARE = 0.5  # root radius as a share of the arm's thickness (konubinix.eu)
PLAY_MM = 0.1  # between nose and window, along the pull (own choice)
TIP_MM = 0.4  # room over the nose
ROOTED_MM = 0.4  # the arm above the plane reaches so deep into its half, so that both become one


@dataclass(frozen=True, slots=True)
class HookShape:
    """Sizes of a hook, mm.

    Attributes
    ----------
    length_mm : from the root to the face that catches.
    thick_mm, wide_mm : of the arm.
    catch_mm : how far the nose reaches under the window's edge, and the arm must bend.
    gap_mm : around the arm.
    rim_mm : from the parting plane to the window.
    return_deg : slope of the face that catches: 90 holds until it is pushed back with a tool.
    wall_mm : outside the pocket.
    extra_mm : what arm and nose are drawn wider, as this printer's outside sizes need it.
    """

    length_mm: float
    thick_mm: float
    wide_mm: float
    catch_mm: float
    gap_mm: float
    rim_mm: float
    return_deg: float
    wall_mm: float
    extra_mm: float = 0.0

    @property
    def well_mm(self) -> float:
        """Depth of the root below the parting plane."""
        return max(0.0, self.length_mm - self.rim_mm)

    @property
    def reach_mm(self) -> float:
        """How far the nose stands out of the arm."""
        return self.catch_mm + self.gap_mm

    @property
    def nose_mm(self) -> float:
        """Height of the nose, both slopes."""
        return self._back_mm + self.reach_mm / math.tan(math.radians(LEAD_DEG))

    @property
    def _back_mm(self) -> float:
        return self.reach_mm * math.tan(math.radians(90 - self.return_deg))

    @property
    def foot_mm(self) -> float:
        """Height above the plane at which the nose leaves the arm, to catch at the window's edge."""
        share = self.gap_mm / self.reach_mm
        return self.rim_mm + PLAY_MM - share * self._back_mm

    @property
    def pocket_mm(self) -> float:
        """Depth of the pocket from the parting plane."""
        return self.foot_mm + self.nose_mm + TIP_MM

    @property
    def inner_mm(self) -> float:
        """V of the arm's inner face."""
        return self.catch_mm + self.gap_mm

    @property
    def face_mm(self) -> float:
        """V of the arm's outer face."""
        return self.inner_mm + self.thick_mm

    @property
    def room_mm(self) -> float:
        """V at which the pocket ends and the outer wall begins."""
        return self.face_mm + self.gap_mm

    @property
    def deep_mm(self) -> float:
        """V of the outside."""
        return self.room_mm + self.wall_mm

    @property
    def half_wide_mm(self) -> float:
        """Half of the pocket's width."""
        return self.wide_mm / 2 + self.gap_mm

    def arm(self, bent_mm: float = 0.0) -> Solid:
        """Return the arm from its root, with rounded roots; ``bent_mm`` shifts it inward as a whole."""
        bottom, radius = -self.well_mm, ROOT_SHARE * self.thick_mm
        top, more = self.foot_mm + self.nose_mm, self.extra_mm / 2
        f, foot = self.face_mm + more, self.foot_mm
        stem = Outline.rectangle((self.inner_mm - more, bottom - 1.0), (f, top))
        ground = Outline.rectangle((-5.0, bottom - 1.0), (self.room_mm + 5.0, bottom))
        # Closing by a disc rounds the two inner corners at the root.
        rooted = (stem | ground).grown(radius).grown(-radius)
        # Drawn past the root and past the well's walls, where the roundings meet them, so that cutting the
        # well leaves no skin between arm and half.
        keep = Outline.rectangle((0.0, bottom - 0.5), (self.room_mm, top))
        keep = keep | Outline.rectangle((-0.5, bottom - 0.5), (self.room_mm + 0.5, 0.0))
        tip = f + self.reach_mm
        nose = Outline.polygon(
            [(f - 0.2, foot), (f, foot), (tip, foot + self._back_mm), (f, top), (f - 0.2, top)]
        )
        outline = ((rooted & keep) | nose).moved((-bent_mm, 0.0))
        return _across(outline, self.wide_mm / 2 + more)

    def own_cut(self) -> Solid:
        """Return the well around the arm."""
        if self.well_mm <= 0:
            return Solid.empty()
        well = Outline.rectangle((0.0, -self.well_mm), (self.room_mm, 0.5))
        return _across(well, self.half_wide_mm) - self.arm()

    def stand(self) -> Solid:
        """Return what of the arm stands across the parting plane."""
        slab = Outline.rectangle((-50.0, -ROOTED_MM), (50.0, 100.0))
        return self.arm() & _across(slab, 100.0)

    def other_cut(self) -> Solid:
        """Return the pocket with its window."""
        pocket = Outline.rectangle((0.0, -0.5), (self.room_mm, self.pocket_mm))
        window = Outline.rectangle(
            (self.room_mm - 0.1, self.rim_mm), (self.deep_mm + 3.0, self.pocket_mm - TIP_MM / 2)
        )
        return _across(pocket | window, self.half_wide_mm)

    def envelope(self, around_mm: float) -> Solid:
        """Return all of it with material around."""
        low, high = -self.well_mm - around_mm, self.pocket_mm + around_mm
        return _across(
            Outline.rectangle((-around_mm, low), (self.deep_mm, high)), self.half_wide_mm + around_mm
        )


def frame(origin_mm: Floats, outward: Floats, up: float) -> Floats:
    """Return the (4, 4) map from a hook's frame (v, h, u) to the build frame.

    Parameters
    ----------
    origin_mm : (3,) where v = h = u = 0.
    outward : (3,) level unit vector.
    up : +1 where the hook stands on the lower half, -1 on the upper.
    """
    away = np.array([0.0, 0.0, up])
    out = np.eye(4)
    out[:3, 0], out[:3, 1], out[:3, 2] = outward, away, np.cross(outward, away)
    out[:3, 3] = origin_mm
    return out


def _across(outline: Outline, half_mm: float) -> Solid:
    return Solid.prism(outline, -half_mm, half_mm)
