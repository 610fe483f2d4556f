"""Knobs of features on the bench: where they are on screen, and what dragging one means.

No Qt, no VTK.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from housingdesk.view3d.camera import Eye
from housingdesk.view3d.cutting import Point

Pixel = tuple[float, float]

REACH_PX = 9.0  # a knob is hit this far from its middle
EDGE_ON = 0.08  # sine of the look onto the plane below which the mouse could not tell a place in it
STEP_MM = 0.1  # places dragged to are whole tenths; with Shift, hundredths


@dataclass(frozen=True, slots=True)
class FeatureKnob:
    """A knob by which a feature is dragged.

    Attributes
    ----------
    feature : name of the feature; key : what it calls the knob; number : which of its knobs this is.
    at_mm : (3,) build frame; lift_z : how far it is drawn above that.
    normal : unit normal of the plane it is dragged in.
    """

    feature: str
    key: str
    number: int
    at_mm: Point
    normal: Point
    label: str = ""
    lift_z: float = 0.0

    def same(self, other: FeatureKnob) -> bool:
        """Whether it is the same knob, wherever it is now."""
        return (self.feature, self.number) == (other.feature, other.number)

    @property
    def drawn_mm(self) -> Point:
        """Where it is drawn."""
        x, y, z = self.at_mm
        return x, y, z + self.lift_z


@dataclass(frozen=True, slots=True)
class KnobDrag:
    """A knob being dragged.

    Attributes
    ----------
    knob : as it was when taken.
    at_mm : where it is now.
    hold : where on the knob it was taken, pixels from its middle.
    """

    knob: FeatureKnob
    at_mm: Point
    hold: Pixel

    def moved(self, eye: Eye, at: Pixel, free: bool) -> KnobDrag:
        """Return the drag with the pointer at another pixel; unchanged when that shows nothing of the plane.

        Seen from the side, where the plane is a line, the knob goes along the screen only.
        """
        origin, direction = eye.ray(at[0] - self.hold[0], at[1] - self.hold[1])
        start, normal = np.asarray(self.knob.drawn_mm), np.asarray(self.knob.normal)
        lean = float(direction @ normal)
        if abs(lean) < EDGE_ON:
            way = eye.view.axes()[0] - (eye.view.axes()[0] @ normal) * normal
            length = float(np.linalg.norm(way))
            if length < EDGE_ON:
                return self
            way /= length
            x, y, z = (float(v) for v in way)
            place = start + way * eye.way_under(
                at[0] - self.hold[0], at[1] - self.hold[1], self.knob.drawn_mm, (x, y, z)
            )
        else:
            far = float((start - origin) @ normal) / lean
            if far <= 0:
                return self
            place = origin + far * direction
        step = STEP_MM / 10 if free else STEP_MM
        shift = np.round((place - start) / step) * step
        x, y, z = (float(v) for v in np.asarray(self.knob.at_mm) + shift - (shift @ normal) * normal)
        return replace(self, at_mm=(round(x, 4), round(y, 4), round(z, 4)))

    @property
    def now(self) -> FeatureKnob:
        """The knob where the mouse has it."""
        return replace(self.knob, at_mm=self.at_mm)

    def given_back(self) -> KnobDrag:
        """Return the drag where it began."""
        return replace(self, at_mm=self.knob.at_mm)


def seen(eye: Eye, knobs: Iterable[FeatureKnob]) -> tuple[Pixel, ...]:
    """Return the pixels of all knobs before the viewer."""
    places = [knob.drawn_mm for knob in knobs]
    pixels = eye.pixels(np.array(places)) if places else np.zeros((0, 3))
    return tuple((float(p[0]), float(p[1])) for p in pixels if p[2] > 0)


def under(eye: Eye, knobs: Iterable[FeatureKnob], at: Pixel) -> FeatureKnob | None:
    """Return the knob a pixel is on, the nearest where several are; None beside them."""
    best, least = None, REACH_PX
    for knob in knobs:
        x, y, depth = eye.pixels(np.array([knob.drawn_mm]))[0]
        away = float(np.hypot(at[0] - x, at[1] - y))
        if depth > 0 and away <= least:
            best, least = knob, away
    return best


def take(eye: Eye, knobs: Iterable[FeatureKnob], at: Pixel) -> KnobDrag | None:
    """Return the drag that begins at a pixel, or None beside the knobs."""
    knob = under(eye, knobs, at)
    if knob is None:
        return None
    x, y, _ = eye.pixels(np.array([knob.drawn_mm]))[0]
    return KnobDrag(knob, knob.at_mm, (at[0] - float(x), at[1] - float(y)))
