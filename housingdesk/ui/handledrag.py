"""Features dragged on the bench by their knobs."""

from __future__ import annotations

import numpy as np

from housingdesk.build.results import BuildResult
from housingdesk.features.feature import Feature
from housingdesk.features.work import Handle
from housingdesk.geometry.types import Side
from housingdesk.spec.edits_features import drag_feature
from housingdesk.ui.desk import Desk
from housingdesk.view3d.handles import FeatureKnob
from housingdesk.view3d.scene import Point

HAIR_MM = 1e-3


def knobs_of(result: BuildResult, station: str, lift_mm: float = 0.0) -> tuple[FeatureKnob, ...]:
    """Return the knobs of one station's features, as the halves shown have them.

    Parameters
    ----------
    lift_mm : how far the upper half is drawn lifted off; what lies on it goes with it.
    """
    stations = {f.name: f.STATION for f in result.spec.features}
    return tuple(
        FeatureKnob(
            name,
            handle.key,
            number,
            handle.at_mm,
            handle.normal,
            handle.label,
            lift_mm if _half_of(handle, result.parting_z_mm) == "upper" else 0.0,
        )
        for name, facts in result.features.items()
        if stations.get(name) == station
        for number, handle in enumerate(facts.handles)
    )


def _half_of(handle: Handle, parting_z_mm: float) -> Side:
    """Return the half that a knob goes with; on the plane, where both meet, the lower."""
    return handle.on or ("upper" if handle.at_mm[2] > parting_z_mm + HAIR_MM else "lower")


class HandleDrag:
    """Turns a knob's way into one undo step.

    The feature is moved from how it was when the knob was taken: only there does the knob's key belong.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._start: Feature | None = None

    def take(self, knob: FeatureKnob) -> None:
        """Begin to drag."""
        spec = self._desk.spec
        self._start = next((f for f in spec.features if f.name == knob.feature), None) if spec else None
        self._desk.begin_drag()

    def drag(self, knob: FeatureKnob, to_mm: Point) -> None:
        """Follow the mouse."""
        spec = self._desk.spec
        if self._start is not None and spec is not None:
            moved = self._start.moved(knob.key, np.array(to_mm, float), spec.parting.height_mm)
            self._desk.apply(drag_feature(moved, knob.number))
