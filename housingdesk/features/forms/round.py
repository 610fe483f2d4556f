"""A round housing: a cylinder along the pull."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from housingdesk.features.forms.form import StraightForm
from housingdesk.features.forms.ground import Ground
from housingdesk.geometry.circle import least_circle
from housingdesk.geometry.solid import Outline


class Round(StraightForm):
    """The least cylinder around room and wall."""

    TITLE: ClassVar[str] = "Round"
    SENTENCE: ClassVar[str] = "A round housing, edges of floor and roof {rim} [by {rim_mm}.]"
    SIDES_NOTE: ClassVar[str] = (
        "Extra room on a side makes the circle larger; a fixed side cuts a flat, whatever wall that leaves."
    )
    ORDER: ClassVar[int] = 40

    kind: Literal["round"] = "round"

    def outline(self, ground: Ground) -> Outline:
        """Return the circle; where fixed sides lie within it, it has flats there."""
        centre, radius = least_circle(np.concatenate(ground.least.hull().loops))
        return Outline.circle(centre, radius, outside=True) & ground.allowed
