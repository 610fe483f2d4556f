"""The spec: everything the user has decided, and nothing that can be computed from it.

All models are frozen and hashable; lengths are mm, angles degrees, the unit is in the name.  A spec is
valid by construction: limits that no printer or part could mean are refused here, with a sentence.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from housingdesk.geometry.frames import PullDirection

Unit = Literal["mm", "cm", "m", "inch"]
UNIT_MM: dict[Unit, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
UnitOrigin = Literal["tagged", "guessed", "given", "measured"]
HousingSide = Literal["left", "right", "front", "back", "floor", "roof"]
HOUSING_SIDES: tuple[HousingSide, ...] = ("left", "right", "front", "back", "floor", "roof")

MAX_CLEARANCE_MM = 20.0
MAX_WALL_MM = 50.0
MIN_WALL_MM = 0.4  # one line of the usual filament nozzle (common practice, no source)
MAX_REACH_MM = 500.0

Matrix = Annotated[tuple[float, ...], Field(min_length=16, max_length=16)]
IDENTITY: Matrix = (1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)


class Model(BaseModel):
    """Base of every spec model: frozen, closed, finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class PartSpec(Model):
    """One part: which mesh, its unit, and where it lies.

    Attributes
    ----------
    mesh_key : content key of the mesh as read, in file units.
    source_name : file name it came from, for the eye only.
    unit, unit_origin : what one file unit is, and how that is known.
    scale : further factor on the unit, set when the user types a caliper measurement.
    placement : 4x4 row-major rigid map from the part frame (mm) to the assembly frame.
    """

    name: str = Field(min_length=1, max_length=80, title="name of the part")
    mesh_key: str = Field(title="key of the part's form")
    source_name: str = ""
    unit: Unit = "mm"
    unit_origin: UnitOrigin = "guessed"
    scale: float = Field(default=1.0, gt=1e-4, lt=1e4, title="scale of the part")
    placement: Matrix = Field(default=IDENTITY, title="placement of the part")

    @property
    def scale_mm(self) -> float:
        """File unit in mm."""
        return UNIT_MM[self.unit] * self.scale


class PartingSpec(Model):
    """Where the halves meet.

    Attributes
    ----------
    pull : direction in the assembly frame that the upper half is lifted off.
    height_mm : parting plane above the parts' lowest point, along the pull; build frame z.
    """

    pull: PullDirection = "+z"
    height_mm: float = Field(gt=0, title="height of the parting plane")


class FitSpec(Model):
    """Room between part and housing.

    Attributes
    ----------
    clearance_mm : gap between part and cavity wall, a side.
    seal_mm : gaps in the grown part that are narrower than this are not printed into.
    """

    clearance_mm: float = Field(default=0.5, ge=0, le=MAX_CLEARANCE_MM)
    seal_mm: float = Field(default=1.2, ge=0, le=20, title="width of gaps to fill")


class ShellSpec(Model):
    """The outside form.

    Attributes
    ----------
    wall_mm : least material between cavity and outside.
    left_mm ... roof_mm : where set, the outside lies this far beyond the parts' outermost point on that
        side (build frame: left -X, right +X, front -Y, back +Y, floor -Z, roof +Z); less than clearance
        plus wall thins the wall, negative lets the part stick out.
    """

    wall_mm: float = Field(default=2.4, ge=MIN_WALL_MM, le=MAX_WALL_MM)
    left_mm: float | None = Field(
        default=None, ge=-MAX_REACH_MM, le=MAX_REACH_MM, title="reach of the left side"
    )
    right_mm: float | None = Field(
        default=None, ge=-MAX_REACH_MM, le=MAX_REACH_MM, title="reach of the right side"
    )
    front_mm: float | None = Field(
        default=None, ge=-MAX_REACH_MM, le=MAX_REACH_MM, title="reach of the front side"
    )
    back_mm: float | None = Field(
        default=None, ge=-MAX_REACH_MM, le=MAX_REACH_MM, title="reach of the back side"
    )
    floor_mm: float | None = Field(
        default=None, ge=-MAX_REACH_MM, le=MAX_REACH_MM, title="reach of the floor"
    )
    roof_mm: float | None = Field(default=None, ge=-MAX_REACH_MM, le=MAX_REACH_MM, title="reach of the roof")

    def reach_mm(self, side: HousingSide) -> float | None:
        """Return the fixed distance of one side, or None where wall and clearance decide."""
        value: float | None = getattr(self, f"{side}_mm")
        return value


class Spec(Model):
    """A whole housing."""

    name: str = Field(default="Housing", min_length=1, max_length=80, title="name of the housing")
    parts: tuple[PartSpec, ...] = Field(min_length=1, max_length=64, title="list of parts")
    parting: PartingSpec
    fit: FitSpec = FitSpec()
    shell: ShellSpec = ShellSpec()

    @field_validator("parts")
    @classmethod
    def _names_differ(cls, parts: tuple[PartSpec, ...]) -> tuple[PartSpec, ...]:
        if len({p.name for p in parts}) != len(parts):
            raise ValueError("two parts have the same name; rename one")
        return parts
