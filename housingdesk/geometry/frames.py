"""Rigid maps between the frames: part file, assembly, build.

*Part frame*: the file's own axes, in mm after scaling.  *Assembly frame*: where the user has put the
parts beside each other.  *Build frame*: pull = +Z, the lowest point of the parts at z = 0 and their
bounding box centred on x = y = 0, so that coordinates stay small however far from the origin a file is.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from housingdesk.geometry.types import Floats, Mesh

PullDirection = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
PULLS: tuple[PullDirection, ...] = ("+z", "-z", "+y", "-y", "+x", "-x")

# Rows are the build axes seen from the assembly frame; each is a proper rotation.
_TURNS: dict[str, list[list[float]]] = {
    "+z": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    "-z": [[1, 0, 0], [0, -1, 0], [0, 0, -1]],
    "+y": [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
    "-y": [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
    "+x": [[0, 1, 0], [0, 0, 1], [1, 0, 0]],
    "-x": [[0, 0, 1], [0, 1, 0], [-1, 0, 0]],
}


def pull_rotation(pull: PullDirection) -> Floats:
    """Return the (4, 4) rotation that takes the pull direction to +Z."""
    out = np.eye(4)
    out[:3, :3] = _TURNS[pull]
    return out


def build_frame(placed: list[Mesh] | tuple[Mesh, ...], pull: PullDirection) -> Floats:
    """Return the (4, 4) map from the assembly frame to the build frame.

    Parameters
    ----------
    placed : the parts in the assembly frame, at least one with a triangle, mm.
    pull : direction in the assembly frame that the upper half is lifted off.
    """
    out = pull_rotation(pull)
    boxes = [m.moved(out).bounds for m in placed]
    low = np.min([b[0] for b in boxes], axis=0)
    high = np.max([b[1] for b in boxes], axis=0)
    out[:3, 3] = -np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    return out


def rotation_about(axis: Floats, angle_deg: float) -> Floats:
    """Return the (4, 4) right-handed rotation about an axis through the origin (Rodrigues' formula)."""
    x, y, z = np.asarray(axis, float) / np.linalg.norm(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    a = np.radians(angle_deg)
    out = np.eye(4)
    out[:3, :3] = np.eye(3) + np.sin(a) * k + (1 - np.cos(a)) * (k @ k)
    return out


def rotation_to(source: Floats, target: Floats) -> Floats:
    """Return the (4, 4) shortest rotation that takes one direction to another."""
    s = np.asarray(source, float) / np.linalg.norm(source)
    t = np.asarray(target, float) / np.linalg.norm(target)
    axis = np.cross(s, t)
    if np.linalg.norm(axis) < 1e-12:
        if s @ t > 0:
            return np.eye(4)
        across = np.eye(3)[np.argmin(np.abs(s))]
        return rotation_about(np.cross(s, across), 180.0)
    return rotation_about(axis, float(np.degrees(np.arctan2(np.linalg.norm(axis), s @ t))))
