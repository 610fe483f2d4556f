"""How the halves lie in the files: as they close, or as they are printed."""

from __future__ import annotations

from typing import Literal

import numpy as np

from housingdesk.geometry.types import Mesh, Side

Pose = Literal["print", "assembled"]

_TURNED_OVER = np.diag([1.0, -1.0, -1.0, 1.0])  # 180 degrees about X


def print_pose(mesh: Mesh, side: Side, parting_z_mm: float) -> Mesh:
    """Return a half as it lies on the printer: its flat outside face down, opening up.

    Parameters
    ----------
    mesh : the half in the build frame, mm.
    side : the lower half lies as it is, the upper one is turned over 180 degrees about X.
    parting_z_mm : the parting plane; it decides nothing today, since both halves are flat outside.

    Returns
    -------
    The half with its lowest point at z = 0, its bounding box centred on x = y = 0.
    """
    del parting_z_mm
    turned = mesh.moved(_TURNED_OVER) if side == "upper" else mesh
    low, high = turned.bounds
    shift = np.eye(4)
    shift[:3, 3] = -np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    return turned.moved(shift)


def side_by_side(lower: Mesh, upper: Mesh, gap_mm: float) -> tuple[Mesh, Mesh]:
    """Return two centred halves moved apart along X, lower to the left, so that both lie on one bed."""
    left, right = np.eye(4), np.eye(4)
    left[0, 3] = -(lower.size_mm[0] + gap_mm) / 2
    right[0, 3] = (upper.size_mm[0] + gap_mm) / 2
    return lower.moved(left), upper.moved(right)
