"""How housing and parts look from above, for the small plan of the cut."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QObject, QTimer
from scipy.spatial import ConvexHull, QhullError

from housingdesk.build.results import BuildResult
from housingdesk.geometry.section import section
from housingdesk.geometry.types import Floats, Mesh

_AFTER_MS = 200  # outlines are looked for when the halves rest
_SKIN_MM = 0.05  # just inside a flat floor, roof or parting plane
_MOST_TRIANGLES = 400_000  # what is finer keeps its box, so that the window's thread stays free


def outer_loops(half: Mesh) -> tuple[Floats, ...]:
    """Return the outlines of a half just above its lowest and just below its highest plane, and half-way.

    These are the planes where straight walls, collars, feet and ears are; each (k, 2) mm, build frame.
    Holes and loops that lie within another one are left out.
    """
    low, high = float(half.bounds[0][2]), float(half.bounds[1][2])
    found: list[Floats] = []
    for z in (low + _SKIN_MM, (low + high) / 2, high - _SKIN_MM):
        loops = section(half, (0.0, 0.0, z), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
        found += [loop.points for loop in loops if loop.closed and _turns_left(loop.points)]
    return tuple(found)


def hull_of(part: Mesh) -> Floats:
    """Return a part's convex outline from above, (k, 2) mm; its box where it has none or is very fine."""
    flat = part.vertices[:, :2]
    if part.triangles <= _MOST_TRIANGLES:
        with contextlib.suppress(QhullError, ValueError):  # all in one line
            return np.asarray(flat[ConvexHull(flat).vertices])
    (x0, y0), (x1, y1) = part.bounds[:, :2]
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _turns_left(loop: Floats) -> bool:
    """Whether a loop runs round material: holes run the other way."""
    x, y = loop.T
    return bool((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() > 0)


class PlanOutlines(QObject):
    """Finds the outlines of a result once it rests, and hands them on.

    Parameters
    ----------
    tell : called with the outlines of the housing and of the parts; with none where there is no result.
    """

    def __init__(
        self, tell: Callable[[tuple[Floats, ...], tuple[Floats, ...]], object], parent: QObject
    ) -> None:
        super().__init__(parent)
        self._tell = tell
        self._wanted: BuildResult | None = None
        self._due = QTimer(self)
        self._due.setSingleShot(True)
        self._due.setInterval(_AFTER_MS)
        self._due.timeout.connect(self._find)

    def show(self, result: BuildResult | None) -> None:
        """Have the outlines found of what is shown now; the ones before stay until then."""
        before, self._wanted = self._wanted, result
        if result is None:
            self._due.stop()
            self._tell((), ())
        elif before is None or result.halves is not before.halves or result.parts is not before.parts:
            self._due.start()

    def _find(self) -> None:
        result = self._wanted
        if result is None:
            return
        coarse = [h for h in result.halves.values() if h.triangles <= _MOST_TRIANGLES]
        whole = len(coarse) == len(result.halves)
        loops = tuple(loop for half in coarse for loop in outer_loops(half)) if whole else ()
        self._tell(loops, tuple(hull_of(part) for part in result.parts))
