"""The knobs of the cutting line on the bench: where they are on screen, and what dragging one means.

No Qt, no VTK.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from housingdesk.view3d.camera import Eye
from housingdesk.view3d.cutting import CutFrame, Point

Pixel = tuple[float, float]

KNOB_PX = 5.0
REACH_PX = 9.0  # a knob is hit this far from its middle
EDGE_ON = 0.94  # cosine of the look to the shift's direction beyond which the mouse could not tell the shift
STEP_MM = 0.1  # shifts dragged to are whole tenths; with Shift, hundredths


@dataclass(frozen=True, slots=True)
class CutDrag:
    """A knob being dragged.

    Attributes
    ----------
    knob : where it was taken, mm; began_mm, offset_mm : the shift then and now.
    hold : where on the knob it was taken, pixels from its middle.
    """

    knob: Point
    began_mm: float
    offset_mm: float
    hold: Pixel

    def moved(self, eye: Eye, frame: CutFrame, at: Pixel, free: bool) -> CutDrag:
        """Return the drag with the pointer at another pixel; it moves in tenths, when free in hundredths."""
        way = eye.way_under(at[0] - self.hold[0], at[1] - self.hold[1], self.knob, frame.normal)
        step = STEP_MM / 10 if free else STEP_MM
        offset = round(round((self.began_mm + way) / step) * step, 4)
        return replace(self, offset_mm=float(np.clip(offset, -frame.most_mm, frame.most_mm)))

    def given_back(self) -> CutDrag:
        """Return the drag where it began."""
        return replace(self, offset_mm=self.began_mm)


def knobs_of(eye: Eye, frame: CutFrame) -> tuple[Pixel, ...]:
    """Return the knobs' pixels; none when the viewer looks along the shift, where it cannot be seen."""
    if abs(float(eye.view.axes()[2] @ np.asarray(frame.normal))) > EDGE_ON:
        return ()
    seen = eye.pixels(np.array(frame.corners[2:]))
    return tuple((float(p[0]), float(p[1])) for p in seen if p[2] > 0)


def knob_under(eye: Eye, frame: CutFrame, at: Pixel) -> int | None:
    """Return which upper corner's knob a pixel is on, or None."""
    for index, knob in enumerate(knobs_of(eye, frame)):
        if np.hypot(at[0] - knob[0], at[1] - knob[1]) <= REACH_PX:
            return index
    return None


def take_knob(eye: Eye, frame: CutFrame, at: Pixel) -> CutDrag | None:
    """Return the drag that begins at a pixel, or None beside the knobs."""
    index = knob_under(eye, frame, at)
    if index is None:
        return None
    knob = knobs_of(eye, frame)[index]
    return CutDrag(
        frame.corners[2 + index], frame.offset_mm, frame.offset_mm, (at[0] - knob[0], at[1] - knob[1])
    )
