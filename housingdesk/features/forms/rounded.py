"""A block with rounded corners."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from housingdesk.features.forms.block import broken
from housingdesk.features.forms.form import RimKind, StraightForm, widened
from housingdesk.features.forms.ground import Ground
from housingdesk.geometry.solid import Outline


class Rounded(StraightForm):
    """A block with rounded corners."""

    TITLE: ClassVar[str] = "Block with rounded corners"
    SENTENCE: ClassVar[str] = (
        "A block with corners of {corner_mm} radius, edges of floor and roof {rim} [by {rim_mm}.]"
    )
    ORDER: ClassVar[int] = 20

    kind: Literal["rounded"] = "rounded"
    rim: RimKind = "chamfered"
    corner_mm: float = Field(
        default=6.0,
        ge=0.2,
        le=200.0,
        title="radius of the corners",
        description="Radius of the four upright corners, at most half the shorter side.\n"
        "Where a corner would thin the wall, the block is made a little larger.",
    )

    def outline(self, ground: Ground) -> Outline:
        """Return the rectangle with round corners."""
        return widened(lambda corners: broken(corners, "rounded", self.corner_mm), ground)
