"""The part's silhouette along the pull, grown by room and wall, with straight walls."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from housingdesk.features.forms.form import StraightForm
from housingdesk.features.forms.ground import Ground
from housingdesk.geometry.solid import Outline

MORE_BAY = 1.5  # a bay is bridged in steps of this factor until the outline is one piece
SMOOTH_MM = 0.01  # corners nearer than this to the line between their neighbours are left out


class OutlineForm(StraightForm):
    """Straight walls around the part's outline."""

    TITLE: ClassVar[str] = "Outline of the part"
    SENTENCE: ClassVar[str] = (
        "Straight walls along the part's outline, recesses narrower than {bay_mm} bridged; edges of floor "
        "and roof {rim} [by {rim_mm}.]"
    )
    SIDES_NOTE: ClassVar[str] = (
        "Extra room draws the outline out on that side; "
        "a fixed side cuts it straight, whatever wall that leaves."
    )
    ORDER: ClassVar[int] = 30

    kind: Literal["outline"] = "outline"
    bay_mm: float = Field(
        default=12.0,
        ge=0.0,
        le=400.0,
        title="width of recesses to bridge",
        description="Recesses of the outline narrower than this are filled, so that no clefts catch dirt;\n"
        "inner corners get half of it as radius.",
    )

    def outline(self, ground: Ground) -> Outline:
        """Return the grown silhouette, its bays bridged, in one piece."""
        least, half = ground.least, self.bay_mm / 2
        bridged = _bridged(least, half)
        while len(bridged.pieces()) > 1:
            half = max(1.0, half * MORE_BAY)
            bridged = _bridged(least, half)
        return bridged & ground.allowed


def _bridged(outline: Outline, half_mm: float) -> Outline:
    """Return the area with bays narrower than twice ``half_mm`` filled, holes too; never less than it was."""
    if half_mm <= 0:
        return outline.filled()
    closed = outline.grown(half_mm).grown(-half_mm)
    # Moving out and in again costs a hair at rounds; the hair more keeps what was there.
    return (closed | outline).filled().grown(SMOOTH_MM).simplified(SMOOTH_MM)
