"""First contact of a moving surface with a solid at rest, exactly.

A motion is either a shift along +x or a turn about the z axis, right-handed; other motions are these
in another frame.  Two triangulated surfaces that do not cross touch first where

* a point of the moving one meets a face of the other,
* a face of the moving one meets a point of the other, or
* an edge of the one meets an edge of the other,

because the distance of two triangles along the motion is monotone between these places.  Each has a
closed form.  With the moving point p and the plane n.x = c the shift is u = (c - n.p) / n_x, and the turn
solves r h cos(psi - beta) = c - n_z z, where r, psi are the polar coordinates of the turned point and h,
beta those of n in the xy plane.  Two lines (p, a) and (q, b) meet where (p(u) - q) . (a(u) x b) = 0, which
is linear in a shift and, in a turn, alpha cos u + beta sin u + gamma = 0 by Pluecker's coordinates
(m = p x a; b . R m + (q x b) . R a = 0).  So the result is exact to rounding, some 1e-9 mm.

Trees of boxes, in (x, y, z) for a shift and in (angle, radius, z) for a turn, leave only elements that
the motion can bring together: a round shaft in a round hole has none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.geometry.boxtree import BoxTree, box_tree
from housingdesk.geometry.contact_kernels import GRAZE, TOUCH_MM, edges_on_edges, points_on_faces
from housingdesk.geometry.contact_surface import Surface
from housingdesk.geometry.types import Floats


def first_contacts(
    part: Surface, solid: Surface, turning: bool, limit: float, windows: tuple[float, ...], depth_mm: float
) -> tuple[float, float]:
    """Return how far a part moves backward and forward before it touches; ``limit`` where it does not.

    Parameters
    ----------
    part, solid : in a frame whose +x is the shift or whose z axis is the axis of the turn.
    turning : a turn, in radians up to pi, instead of a shift in mm.
    limit : where the search ends.
    windows : growing distances searched one after the other, so that a near contact costs little.
    depth_mm : where the part already lies in the solid by up to this (a crushed rib), measured along the
        motion, a motion further in has no room at all, and the way out is free.  In a turn no more
        than 0.5 rad of depth counts.
    """
    if not len(part.faces) or not len(solid.faces):
        return limit, limit
    scene = _scene(part, solid, turning)
    steps = (*(w for w in windows if w < limit), limit)
    back, forth = (_first(scene, turning, way, steps, depth_mm) for way in (-1.0, 1.0))
    return back, forth


def _first(scene: _Scene, turning: bool, way: float, steps: tuple[float, ...], depth_mm: float) -> float:
    """Return the first contact one way, searched in growing steps; the last step where there is none."""
    for window in steps:
        best = _search(scene, turning, way, window, depth_mm)
        if best <= window:
            return best + 0.0  # no minus zero
    return steps[-1]


@dataclass(frozen=True, eq=False)
class _Scene:
    """Everything a search reads, in one frame: elements, their boxes and trees."""

    points: Floats  # of the part
    point_boxes: tuple[Floats, Floats]
    solid_faces: Floats  # (m, 3, 3)
    solid_normals: Floats
    solid_tree: BoxTree
    corners: Floats  # of the solid
    corner_boxes: tuple[Floats, Floats]
    corner_facing: tuple[Floats, Floats]  # least and greatest n . v of the faces around it
    part_faces: Floats
    part_normals: Floats
    part_tree: BoxTree
    part_edges: Floats  # (e, 2, 3)
    part_edge_boxes: tuple[Floats, Floats]
    solid_edges: Floats
    solid_sides: Floats  # (e, 2, 3) normals of both faces
    edge_tree: BoxTree


def _scene(part: Surface, solid: Surface, turning: bool) -> _Scene:
    boxes = _turn_boxes if turning else _shift_boxes
    low, high = _facing_range(solid, turning)
    points, corners = part.vertices[part.corners], solid.vertices[solid.corners]
    solid_faces, part_faces = solid.vertices[solid.faces], part.vertices[part.faces]
    part_edges, solid_edges = part.vertices[part.edges], solid.vertices[solid.edges]
    return _Scene(
        points,
        boxes(points[:, None]),
        solid_faces,
        solid.normals,
        box_tree(*boxes(solid_faces)),
        corners,
        boxes(corners[:, None]),
        (low[solid.corners], high[solid.corners]),
        part_faces,
        part.normals,
        box_tree(*boxes(part_faces)),
        part_edges,
        boxes(part_edges),
        solid_edges,
        solid.sides,
        box_tree(*boxes(solid_edges)),
    )


def _search(scene: _Scene, turning: bool, way: float, window: float, depth_mm: float) -> float:
    """Return the first contact within the window, or something greater."""
    s = scene
    least, most = s.corner_facing if way > 0 else (-s.corner_facing[1], -s.corner_facing[0])
    met = least < -GRAZE  # a corner is met first only where some face of it is turned against the motion
    every = np.ones(len(s.points), np.bool_)
    best = points_on_faces(
        turning, way, True, s.points, *s.point_boxes, every, every, s.solid_faces, s.solid_normals,
        s.solid_tree.order, s.solid_tree.low, s.solid_tree.high, s.solid_tree.leaves, window, depth_mm,
    )  # fmt: skip
    best = min(best, points_on_faces(
        turning, way, False, s.corners, *s.corner_boxes, met, most <= GRAZE, s.part_faces, s.part_normals,
        s.part_tree.order, s.part_tree.low, s.part_tree.high, s.part_tree.leaves, min(best, window), depth_mm,
    ))  # fmt: skip
    return min(best, edges_on_edges(
        turning, way, s.part_edges, *s.part_edge_boxes, s.solid_edges, s.solid_sides,
        s.edge_tree.order, s.edge_tree.low, s.edge_tree.high, s.edge_tree.leaves, min(best, window), depth_mm,
    ))  # fmt: skip


def _facing_range(solid: Surface, turning: bool) -> tuple[Floats, Floats]:
    """Return for each vertex the least and greatest n . v of its faces, v the unit motion there."""
    low, high = np.full(len(solid.vertices), np.inf), np.full(len(solid.vertices), -np.inf)
    for corner in range(3):
        index = solid.faces[:, corner]
        facing = solid.normals[:, 0]
        if turning:
            x, y = solid.vertices[index, 0], solid.vertices[index, 1]
            radius = np.hypot(x, y)
            facing = (solid.normals[:, 1] * x - solid.normals[:, 0] * y) / np.where(radius > 0, radius, 1.0)
        np.minimum.at(low, index, facing)
        np.maximum.at(high, index, facing)
    return low, high


def _shift_boxes(elements: Floats) -> tuple[Floats, Floats]:
    """Boxes in (x, y, z) of (n, k, 3) points, edges or faces."""
    low, high = _extremes(elements)
    return low - TOUCH_MM, high + TOUCH_MM


def _extremes(corners: Floats) -> tuple[Floats, Floats]:
    """Least and greatest over the second axis; by columns, as numpy is slow over a short axis."""
    low = high = corners[:, 0]
    for i in range(1, corners.shape[1]):
        low, high = np.minimum(low, corners[:, i]), np.maximum(high, corners[:, i])
    return low, high


def _turn_boxes(elements: Floats) -> tuple[Floats, Floats]:
    """Boxes in (angle, radius, z) of (n, k, 3) points, edges or faces; angles start in 0 .. 2 pi."""
    xy, z = elements[..., :2], elements[..., 2]
    count = elements.shape[1]
    nearest, greatest = _extremes(np.hypot(xy[..., 0], xy[..., 1]))
    turns = []
    for i in range(count if count > 1 else 0):
        a, b = xy[:, i], xy[:, (i + 1) % count]
        along = b - a
        square = np.einsum("ij,ij->i", along, along)
        t = np.clip(-np.einsum("ij,ij->i", a, along) / np.where(square > 0, square, 1.0), 0, 1)
        nearest = np.minimum(nearest, np.hypot(a[:, 0] + t * along[:, 0], a[:, 1] + t * along[:, 1]))
        turns.append(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    if count == 3:
        least, most = _extremes(np.column_stack(turns))
        nearest[(least >= 0) | (most <= 0)] = 0.0
    angle = np.arctan2(xy[..., 1], xy[..., 0])
    offset = np.mod(angle - angle[:, :1] + np.pi, 2 * np.pi) - np.pi
    first, last = _extremes(offset)
    width = last - first
    start = np.mod(angle[:, 0] + first, 2 * np.pi)
    whole = nearest < 1e-6
    start, width = np.where(whole, 0.0, start), np.where(whole, 2 * np.pi, width)
    floor, roof = _extremes(z)
    low = np.column_stack([start, nearest, floor]) - TOUCH_MM
    high = np.column_stack([start + width, greatest, roof]) + TOUCH_MM
    return low, high
