"""A block with sharp, chamfered or rounded upright edges."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from housingdesk.features.forms.form import Rim, StraightForm, widened
from housingdesk.features.forms.ground import Ground
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf


class Block(StraightForm):
    """A block, as far out as room and wall need."""

    TITLE: ClassVar[str] = "Block"
    SENTENCE: ClassVar[str] = (
        "A block; upright edges {upright} [by {upright_mm},] edges of floor and roof {rim} [by {rim_mm}.]"
    )
    ORDER: ClassVar[int] = 10

    ONLY_IF: ClassVar[OnlyIf] = {
        **StraightForm.ONLY_IF,
        "upright_mm": {"upright": ("chamfered", "rounded")},
    }

    kind: Literal["block"] = "block"
    upright: Rim = Field(
        default="sharp",
        title="upright edges",
        description="Upright edges print well either way; broken ones are kinder to hands.",
    )
    upright_mm: float = Field(
        default=2.0,
        ge=0.2,
        le=100.0,
        title="size of the upright edges",
        description="Leg of the chamfer, or radius of the round.\n"
        "Where a corner would thin the wall, the block is made a little larger.",
    )

    def outline(self, ground: Ground) -> Outline:
        """Return the rectangle with its corners broken."""
        return widened(lambda corners: broken(corners, self.upright, self.upright_mm), ground)


def broken(corners: Floats, how: Rim, size_mm: float) -> Outline:
    """Return the rectangle between (2, 2) corners with its corners broken, as far as it has room."""
    low, high = corners
    if how == "rounded":
        return Outline.rectangle(low, high, size_mm)
    if how == "sharp":
        return Outline.rectangle(low, high)
    (x0, y0), (x1, y1) = low.tolist(), high.tolist()
    s = float(min(size_mm, 0.499 * np.min(high - low)))
    return Outline.polygon(
        [
            (x0 + s, y0), (x1 - s, y0), (x1, y0 + s), (x1, y1 - s),
            (x1 - s, y1), (x0 + s, y1), (x0, y1 - s), (x0, y0 + s),
        ]
    )  # fmt: skip
