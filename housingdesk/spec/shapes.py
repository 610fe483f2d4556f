"""A part from caliper readings: blocks, rounds and plates put beside each other, for want of a file.

Each shape is a frozen model with plain fields; ``body`` makes the part's mesh from them.  A part made so
keeps its shapes in the project, so that a reading can be corrected later.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.model import Model

Axis = Literal["x", "y", "z"]
Way = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
Length = Annotated[float, Field(gt=0, le=2000)]
Place = Annotated[float, Field(ge=-2000, le=2000)]
_PLACE = (
    "Where the middle of its underside is; of a round, the middle of the end it begins with. In mm, from a\n"
    "point of your choice that is the same for all shapes of the part."
)


class Shape(Model, ABC):
    """Base of the shapes.

    Attributes
    ----------
    x_mm, y_mm, z_mm : where it is; each shape says of which of its points.
    cut : it is taken away from the shapes before it (a hole, a notch), instead of being added.
    """

    TITLE: ClassVar[str] = ""
    SENTENCE: ClassVar[str] = ""  # its sizes
    PLACE: ClassVar[str] = "standing at X {x_mm} Y {y_mm} Z {z_mm}"

    x_mm: Place = Field(default=0.0, title="place along x", description=_PLACE)
    y_mm: Place = Field(default=0.0, title="place along y", description=_PLACE)
    z_mm: Place = Field(default=0.0, title="place along z", description=_PLACE)
    cut: bool = Field(default=False, title="cut away")

    @property
    def at(self) -> Floats:
        """(3,) mm."""
        return np.array([self.x_mm, self.y_mm, self.z_mm])

    @abstractmethod
    def solid(self) -> Solid:
        """Return the body, in the part frame."""


class Block(Shape):
    """A block; its place is the middle of its underside."""

    TITLE: ClassVar[str] = "Block"
    SENTENCE: ClassVar[str] = "{long_mm} by {wide_mm}, {high_mm} high"

    kind: Literal["block"] = "block"
    long_mm: Length = Field(default=20.0, title="length along x")
    wide_mm: Length = Field(default=20.0, title="width along y")
    high_mm: Length = Field(default=10.0, title="height along z")

    def solid(self) -> Solid:
        """Return the block."""
        half = np.array([self.long_mm / 2, self.wide_mm / 2, 0.0])
        return Solid.box(self.at - half, self.at + half + np.array([0.0, 0.0, self.high_mm]))


class Round(Shape):
    """A cylinder; its place is the middle of the end it starts from."""

    TITLE: ClassVar[str] = "Round"
    SENTENCE: ClassVar[str] = "{diameter_mm} across, {long_mm} long towards {way}"
    PLACE: ClassVar[str] = "beginning at X {x_mm} Y {y_mm} Z {z_mm}"

    kind: Literal["round"] = "round"
    diameter_mm: Length = Field(default=6.0, title="diameter")
    long_mm: Length = Field(default=20.0, title="length")
    way: Way = Field(default="+z", title="direction")
    flat_mm: float = Field(
        default=0.0, ge=0, le=500, title="flat", description="How deep a flat is cut, as on a D shaft."
    )

    @property
    def axis(self) -> Floats:
        """(3,) unit, from the end it starts from to the other."""
        axis = np.zeros(3)
        axis["xyz".index(self.way[1])] = 1.0 if self.way[0] == "+" else -1.0
        return axis

    @property
    def flat_normal(self) -> Floats:
        """(3,) unit, out of the flat: up, or along x where the cylinder stands."""
        return np.array([1.0, 0.0, 0.0]) if self.way[1] == "z" else np.array([0.0, 0.0, 1.0])

    def solid(self) -> Solid:
        """Return the cylinder."""
        axis, normal = self.axis, self.flat_normal
        end = self.at + self.long_mm * axis
        bar = Solid.rod(self.at, end, self.diameter_mm / 2)
        if self.flat_mm <= 0:
            return bar
        if self.flat_mm >= self.diameter_mm:
            raise SpecError("The flat is deeper than the round is thick; make it less deep.")
        r = self.diameter_mm / 2
        low = np.minimum(self.at, end) - 2 * r * (1 - np.abs(axis)) - np.abs(axis)
        high = np.maximum(self.at, end) + 2 * r * (1 - np.abs(axis)) + np.abs(axis)
        along = int(np.argmax(normal))
        low[along] = self.at[along] + r - self.flat_mm
        return bar - Solid.box(low, high)


class Plate(Shape):
    """A plate with four holes; its place is the middle of its underside."""

    TITLE: ClassVar[str] = "Plate with holes"
    SENTENCE: ClassVar[str] = (
        "{long_mm} by {wide_mm}, {thick_mm} thick, holes of {hole_mm}, {apart_x_mm} by {apart_y_mm} apart"
    )

    kind: Literal["plate"] = "plate"
    long_mm: Length = Field(default=50.0, title="length along x")
    wide_mm: Length = Field(default=30.0, title="width along y")
    thick_mm: Length = Field(default=1.6, title="thickness")
    corner_mm: float = Field(default=0.0, ge=0, le=500, title="rounding of the corners")
    hole_mm: float = Field(default=3.2, ge=0, le=500, title="diameter of the holes")
    apart_x_mm: float = Field(default=42.0, ge=0, le=2000, title="distance of the holes along x")
    apart_y_mm: float = Field(default=22.0, ge=0, le=2000, title="distance of the holes along y")

    def solid(self) -> Solid:
        """Return the plate."""
        half = np.array([self.long_mm, self.wide_mm]) / 2
        outline = Outline.rectangle(-half, half, self.corner_mm)
        apart = np.array([self.apart_x_mm, self.apart_y_mm]) / 2
        if self.hole_mm > 0:
            if (apart + self.hole_mm / 2 >= half).any():
                raise SpecError("The holes run over the edge of the plate; put them closer together.")
            for x in {-apart[0], apart[0]}:
                for y in {-apart[1], apart[1]}:
                    outline = outline - Outline.circle((x, y), self.hole_mm / 2)
        return Solid.prism(outline.moved(self.at[:2]), self.z_mm, self.z_mm + self.thick_mm)


SNAP_DIGITS = 6  # of a millimetre
AnyShape = Annotated[Block | Round | Plate, Field(discriminator="kind")]
SHAPES: tuple[type[Block] | type[Round] | type[Plate], ...] = (Block, Round, Plate)


def body(shapes: tuple[Shape, ...]) -> Mesh:
    """Return the mesh of a part made of shapes, mm.

    Raises
    ------
    SpecError : nothing is left, or a shape cannot be.
    """
    solid = Solid.empty()
    for shape in shapes:
        one = _snapped(shape.solid())
        solid = solid - one if shape.cut else solid | one
    if solid.is_empty or solid.volume_mm3 <= 0:
        raise SpecError("These shapes leave no part; add a block, a round or a plate.")
    return solid.mesh()


def _snapped(solid: Solid) -> Solid:
    """Return a body with its corners on whole nanometres, so that shapes standing on each other become one.

    A turned round's flat ends miss the plane they were put on by some 1e-15 mm; the kernel takes them at
    their word and leaves a face, or a slit, between it and what it stands on.
    """
    mesh = solid.mesh()
    return Solid.from_mesh(Mesh(np.round(mesh.vertices, SNAP_DIGITS), mesh.faces))
