"""Where the viewer stands.  Pure functions of numbers: no Qt, no VTK.

Pixels are the widget's own (logical) pixels with y downward and the origin in its upper left corner; a
perspective depends only on proportions, so nothing here needs to know the screen's density.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from housingdesk.geometry.types import Floats
from housingdesk.view3d.cutting import Point

Standpoint = Literal["corner", "front", "back", "left", "right", "top", "bottom"]
# Azimuth and elevation of the eye, degrees.  Front looks along +Y, as the spec's sides have it.
STANDPOINTS: dict[Standpoint, tuple[float, float]] = {
    "corner": (-58.0, 26.0),
    "front": (-90.0, 0.0),
    "back": (90.0, 0.0),
    "left": (180.0, 0.0),
    "right": (0.0, 0.0),
    "top": (-90.0, 90.0),
    "bottom": (-90.0, -90.0),
}
VIEW_ANGLE_DEG = 22.0  # of the height; a long lens, so that equal gaps look nearly equal near and far
TURN_DEG_PER_PX = 0.4
NEAR_SIDE = 0.2  # cosine: a place turned to the eye by less is seen edge-on, or not at all
NEAREST_MM, FARTHEST_MM = 2.0, 50_000.0


@dataclass(frozen=True, slots=True)
class View:
    """A viewer who looks at ``focus_mm`` and keeps up upright.

    Attributes
    ----------
    focus_mm : the point in the middle of the picture.
    distance_mm : from the eye to the focus.
    azimuth_deg, elevation_deg : direction from the focus to the eye; 0, 0 is +X and elevation 90 is +Z.
    """

    focus_mm: Point = (0.0, 0.0, 0.0)
    distance_mm: float = 300.0
    azimuth_deg: float = STANDPOINTS["corner"][0]
    elevation_deg: float = STANDPOINTS["corner"][1]

    def axes(self) -> Floats:
        """(3, 3) rows: right, up and towards the eye; orthonormal, also when looking straight down."""
        a, e = np.radians([self.azimuth_deg, self.elevation_deg])
        return np.array(
            [
                [-np.sin(a), np.cos(a), 0.0],
                [-np.sin(e) * np.cos(a), -np.sin(e) * np.sin(a), np.cos(e)],
                [np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)],
            ]
        )

    def eye(self) -> Floats:
        """(3,) position of the eye, mm."""
        eye: Floats = np.asarray(self.focus_mm) + self.distance_mm * self.axes()[2]
        return eye

    def turned(self, dx: float, dy: float) -> View:
        """Return the view after the mouse has pulled the model by some pixels."""
        return replace(
            self,
            azimuth_deg=(self.azimuth_deg - dx * TURN_DEG_PER_PX + 180.0) % 360.0 - 180.0,
            elevation_deg=float(np.clip(self.elevation_deg + dy * TURN_DEG_PER_PX, -90.0, 90.0)),
        )

    def closer(self, point_mm: Point, factor: float) -> View:
        """Return the view scaled about a point, which stays on its pixel; below 1 comes closer."""
        distance = float(np.clip(self.distance_mm * factor, NEAREST_MM, FARTHEST_MM))
        point = np.asarray(point_mm)
        return replace(
            self,
            focus_mm=_point(point + (np.asarray(self.focus_mm) - point) * (distance / self.distance_mm)),
            distance_mm=distance,
        )

    def towards(self, standpoint: Standpoint) -> View:
        """Return the view from a named side, looking at the same point."""
        azimuth, elevation = STANDPOINTS[standpoint]
        return replace(self, azimuth_deg=azimuth, elevation_deg=elevation)

    def facing(self, point_mm: Point, bounds_mm: Floats) -> View:
        """Return the view turned, if need be, until a place lies on the near side of a (2, 3) box."""
        half = np.maximum(np.ptp(bounds_mm, axis=0) / 2, 1e-9)
        out = np.clip((np.asarray(point_mm) - np.mean(bounds_mm, axis=0)) / half, -1.0, 1.0)
        if out @ self.axes()[2] >= NEAR_SIDE * np.linalg.norm(out):
            return self
        azimuth, elevation = STANDPOINTS["corner"]
        level = float(np.hypot(out[0], out[1]))
        turned = float(np.degrees(np.arctan2(out[1], out[0]))) + azimuth - STANDPOINTS["front"][0]
        return replace(
            self,
            azimuth_deg=(turned + 180.0) % 360.0 - 180.0 if level > NEAR_SIDE else self.azimuth_deg,
            elevation_deg=elevation if out[2] > -level else -elevation,
        )

    def between(self, other: View, share: float) -> View:
        """Return the view part of the way to another one: the shorter way round, evenly in scale."""
        way = (other.azimuth_deg - self.azimuth_deg + 180.0) % 360.0 - 180.0
        focus = np.asarray(self.focus_mm)
        return View(
            _point(focus + share * (np.asarray(other.focus_mm) - focus)),
            float(self.distance_mm ** (1 - share) * other.distance_mm**share),
            self.azimuth_deg + share * way,
            self.elevation_deg + share * (other.elevation_deg - self.elevation_deg),
        )


@dataclass(frozen=True, slots=True)
class Eye:
    """A view together with the size of the picture, in pixels."""

    view: View
    width: float
    height: float

    def _half(self) -> Floats:
        """(2,) half the picture's width and height at distance 1."""
        tan = np.tan(np.radians(VIEW_ANGLE_DEG) / 2)
        return np.array([tan * self.width / self.height, tan], float)

    def pixels(self, points_mm: Floats) -> Floats:
        """Return where points are seen.

        Parameters
        ----------
        points_mm : (n, 3)

        Returns
        -------
        (n, 3) x and y in pixels and the depth in mm in front of the eye; what lies behind the eye has
        a depth below 0 and no meaningful pixel.
        """
        local = (np.asarray(points_mm, float).reshape(-1, 3) - self.view.eye()) @ self.view.axes().T
        depth = -local[:, 2]
        safe = np.where(np.abs(depth) < 1e-9, 1e-9, depth)
        ndc = local[:, :2] / safe[:, None] / self._half()
        return np.column_stack([(ndc[:, 0] + 1) / 2 * self.width, (1 - ndc[:, 1]) / 2 * self.height, depth])

    def holds(self, bounds_mm: Floats) -> bool:
        """Tell whether a box, (2, 3) mm, lies wholly within the picture."""
        corners = np.array(np.meshgrid(*np.asarray(bounds_mm, float).T)).reshape(3, -1).T
        x, y, depth = self.pixels(corners).T
        return bool(((depth > 0) & (x >= 0) & (x <= self.width) & (y >= 0) & (y <= self.height)).all())

    def ray(self, x: float, y: float) -> tuple[Floats, Floats]:
        """Return the eye's position (3,) and the unit direction (3,) of what a pixel shows."""
        right, up, back = self.view.axes()
        across, upward = np.array([2 * x / self.width - 1, 1 - 2 * y / self.height]) * self._half()
        direction = across * right + upward * up - back
        return self.view.eye(), direction / np.linalg.norm(direction)

    def mm_per_px(self, point_mm: Point) -> float:
        """How many mm across the line of sight one pixel shows at a point's depth."""
        depth = float((self.view.eye() - np.asarray(point_mm)) @ self.view.axes()[2])
        return 2 * depth * float(self._half()[1]) / self.height

    def on_focus_plane(self, x: float, y: float) -> Point:
        """Return the point under a pixel at the depth of the focus."""
        origin, direction = self.ray(x, y)
        back = self.view.axes()[2]
        return _point(origin + direction * (self.view.distance_mm / float(-direction @ back)))

    def shifted(self, dx: float, dy: float) -> View:
        """Return the view after the mouse has shoved the focus's plane by some pixels."""
        right, up, _ = self.view.axes()
        scale = self.mm_per_px(self.view.focus_mm)
        return replace(
            self.view, focus_mm=_point(np.asarray(self.view.focus_mm) + scale * (dy * up - dx * right))
        )

    def fitted(self, bounds_mm: Floats, margin: float = 0.1) -> View:
        """Return the nearest view in this direction that shows a whole box.

        Parameters
        ----------
        bounds_mm : (2, 3) corners of the box.
        margin : share of the picture left free on each side.

        Notes
        -----
        A corner at (x, y, z) of the viewer's axes is inside the picture of half width t when the eye is
        at least ``|x - c| / t + z`` away; over all corners that is a pair of lines in c for each axis,
        and their crossing is the nearest eye.
        """
        box = np.asarray(bounds_mm, float)
        corners = np.array(
            [[box[i, 0], box[j, 1], box[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)]
        )
        centre = box.mean(axis=0)
        axes = self.view.axes()
        local = (corners - centre) @ axes.T
        half = self._half() * (1 - 2 * margin)
        plus = (local[:, :2] / half + local[:, 2:]).max(axis=0)
        minus = (-local[:, :2] / half + local[:, 2:]).max(axis=0)
        distance = float(np.clip(((plus + minus) / 2).max(), NEAREST_MM, FARTHEST_MM))
        across = (plus - minus) / 2 * half
        return replace(self.view, focus_mm=_point(centre + across @ axes[:2]), distance_mm=distance)

    def height_under(self, x: float, y: float, anchor_mm: Point) -> float:
        """Return the z of the point on the upright line through an anchor that a pixel shows.

        The point is where line and ray come closest.  Seen nearly from above, where the line is a dot,
        the mouse's way up the screen is taken as the way up instead.
        """
        _, direction = self.ray(x, y)
        if 1 - float(direction[2]) ** 2 < 0.03:  # within 10 degrees of straight down or up
            pixel = self.pixels(np.asarray(anchor_mm))[0]
            return anchor_mm[2] + (float(pixel[1]) - y) * self.mm_per_px(anchor_mm)
        return anchor_mm[2] + self.way_under(x, y, anchor_mm, (0.0, 0.0, 1.0))

    def way_under(self, x: float, y: float, anchor_mm: Point, along: Point) -> float:
        """Return how far along a line through an anchor the point lies that a pixel shows, mm.

        Parameters
        ----------
        along : unit direction of the line; it must not point at the viewer.

        Notes
        -----
        Closest points of p + s*u and o + t*d, with a = p - o: s = ((a.d)(d.u) - a.u) / (1 - (d.u)^2).
        """
        origin, direction = self.ray(x, y)
        line = np.asarray(along)
        across, lean = np.asarray(anchor_mm) - origin, float(direction @ line)
        return (float(across @ direction) * lean - float(across @ line)) / max(1 - lean**2, 1e-9)


def clipping_mm(view: View, bounds_mm: Floats) -> tuple[float, float]:
    """Return near and far depths that hold a box with room to spare."""
    box = np.asarray(bounds_mm, float)
    middle = float((view.eye() - box.mean(axis=0)) @ view.axes()[2])
    radius = 0.55 * float(np.linalg.norm(box[1] - box[0])) + 1.0
    far = max(middle + radius, 1.0)
    return max(middle - radius, far / 2000), far


def snapped(z_mm: float, heights_mm: tuple[float, ...], reach_mm: float) -> float | None:
    """Return the height nearest to ``z_mm`` if it is within reach."""
    near = min(heights_mm, key=lambda h: abs(h - z_mm), default=None)
    return near if near is not None and abs(near - z_mm) <= reach_mm else None


def grip_anchor(
    eye: Eye, corners: tuple[tuple[float, float], ...], z_mm: float, inset_px: float
) -> tuple[float, float]:
    """Return the (x, y) of the frame where the grip is best reached.

    The corner farthest right in the picture; when the viewer is too close to see one, the point of the
    frame farthest right that is inside the picture; when none is, that corner all the same.
    """
    ring = np.asarray(corners, float)
    steps = np.linspace(0, 1, 40, endpoint=False)[:, None]
    sides = [a + (b - a) * steps for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]
    for candidates in (ring, np.vstack(sides)):
        seen = eye.pixels(np.column_stack([candidates, np.full(len(candidates), z_mm)]))
        inside = (
            (seen[:, 2] > 0)
            & (np.abs(seen[:, 0] - eye.width / 2) < eye.width / 2 - inset_px)
            & (np.abs(seen[:, 1] - eye.height / 2) < eye.height / 2 - inset_px)
        )
        if inside.any():
            best = candidates[np.argmax(np.where(inside, seen[:, 0], -np.inf))]
            return float(best[0]), float(best[1])
    seen = eye.pixels(np.column_stack([ring, np.full(len(ring), z_mm)]))
    best = ring[np.argmax(seen[:, 0])]
    return float(best[0]), float(best[1])


def _point(values: Floats) -> Point:
    return float(values[0]), float(values[1]), float(values[2])
