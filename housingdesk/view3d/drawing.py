"""What is drawn flat over the 3D picture, as one frozen value in pixels.  No Qt, no VTK."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.view3d.arrows import ArrowSeen, arrows_seen
from housingdesk.view3d.camera import Eye
from housingdesk.view3d.grip import Grip, Pixel
from housingdesk.view3d.handles import FeatureKnob, seen
from housingdesk.view3d.knob import knobs_of
from housingdesk.view3d.legend import Legend
from housingdesk.view3d.palette import LIGHT, Palette
from housingdesk.view3d.scene import Scene

_ARMS = ("X, right", "Y, back", "Z, roof")  # the sides have the names that the job card gives them


@dataclass(frozen=True, slots=True)
class Drawing:
    """All that is drawn flat.

    Attributes
    ----------
    marks : places pointed at.
    knobs : of the section's cutting line; held : one of them is under the pointer or dragged.
    handles : knobs of features; behind : those of them that a body hides; lit : the one under the pointer or
        dragged.
    hint : what is under the pointer, in a few words, and where that is.
    arrows : how far the part can move.
    legend : the scale of the gaps shown.
    compass : for each axis its letter and the side it points to, and the tip of its arm, as a share of the
        arm's length, right and down; the one farthest from the viewer first.
    """

    grip: Grip | None = None
    marks: tuple[Pixel, ...] = ()
    compass: tuple[tuple[str, Pixel], ...] = ()
    palette: Palette = LIGHT
    knobs: tuple[Pixel, ...] = ()
    held: bool = False
    handles: tuple[Pixel, ...] = ()
    behind: tuple[Pixel, ...] = ()
    lit: Pixel | None = None
    hint: tuple[str, Pixel] | None = None
    arrows: tuple[ArrowSeen, ...] = ()
    legend: Legend | None = None


def drawing_of(
    eye: Eye,
    scene: Scene,
    *,
    grip: Grip | None = None,
    handle: FeatureKnob | None = None,
    hidden: tuple[FeatureKnob, ...] = (),
    on_cut: bool = False,
    hint: tuple[str, Pixel] | None = None,
) -> Drawing:
    """Return what is drawn flat for a scene.

    Parameters
    ----------
    grip : the parting plane's, as it is held or not.
    handle : the feature's knob under the pointer or held, where it is now; in place of the scene's own.
    hidden : knobs that a body hides.
    on_cut : a knob of the cutting line is under the pointer or held.
    hint : words, and the pixel they stand beside.
    """
    marks = eye.pixels(np.array(scene.marks)) if scene.marks else np.zeros((0, 3))
    axes = eye.view.axes()
    order = np.argsort(axes[2])  # the arm that points at the viewer last
    others = [k for k in scene.knobs if handle is None or not k.same(handle)]
    lit = seen(eye, (handle,) if handle else ())
    return Drawing(
        grip=grip,
        marks=tuple((float(m[0]), float(m[1])) for m in marks if m[2] > 0),
        compass=tuple((_ARMS[i], (float(axes[0, i]), -float(axes[1, i]))) for i in order),
        palette=scene.palette,
        knobs=knobs_of(eye, scene.cut) if scene.cut else (),
        held=on_cut,
        handles=seen(eye, [k for k in others if k not in hidden]),
        behind=seen(eye, [k for k in others if k in hidden]),
        lit=lit[0] if lit else None,
        hint=hint,
        arrows=arrows_seen(eye, scene.arrows),
        legend=scene.legend,
    )
