"""The spec: everything the user has decided, and nothing that can be computed from it.

All models are frozen and hashable; lengths are mm, angles degrees, the unit is in the name.  A spec is
valid by construction: limits that no printer or part could mean are refused here, with a sentence.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, SerializeAsAny, ValidationError, field_validator, model_validator

from housingdesk.features.feature import Feature
from housingdesk.features.forms.block import Block
from housingdesk.features.forms.form import Form
from housingdesk.features.forms.registry import as_form
from housingdesk.features.registry import as_feature
from housingdesk.geometry.frames import PullDirection
from housingdesk.model import Model as Model
from housingdesk.spec.limits import sentence_of
from housingdesk.spec.shapes import AnyShape
from housingdesk.spec.zones import BODY, ZoneSpec
from housingdesk.standards.fits import Process, process_spread

Unit = Literal["mm", "cm", "m", "inch"]
UNIT_MM: dict[Unit, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
UnitOrigin = Literal["tagged", "guessed", "given", "measured"]
HousingSide = Literal["left", "right", "front", "back", "floor", "roof"]
HOUSING_SIDES: tuple[HousingSide, ...] = ("left", "right", "front", "back", "floor", "roof")

MAX_CLEARANCE_MM = 20.0
MAX_WALL_MM = 50.0
MIN_WALL_MM = 0.4  # one line of the usual filament nozzle (common practice, no source)
MAX_REACH_MM = 500.0
MAX_PLAY_MM = 20.0
USUAL_PLAY_MM = 1.0  # total free movement that most would not yet call a rattle (own choice)

Matrix = Annotated[tuple[float, ...], Field(min_length=16, max_length=16)]
IDENTITY: Matrix = (1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)


class PartSpec(Model):
    """One part: which mesh, its unit, and where it lies.

    Attributes
    ----------
    mesh_key : content key of the mesh as read, in file units.
    source_name : file name it came from, for the eye only.
    unit, unit_origin : what one file unit is, and how that is known.
    scale : further factor on the unit, set when the user types a caliper measurement.
    placement : 4x4 row-major rigid map from the part frame (mm) to the assembly frame.
    shapes : what the part was made of, where it comes from caliper readings and not from a file.
    """

    name: str = Field(min_length=1, max_length=80, title="name of the part")
    mesh_key: str = Field(title="key of the part's form")
    source_name: str = ""
    unit: Unit = "mm"
    unit_origin: UnitOrigin = "guessed"
    scale: float = Field(default=1.0, gt=1e-4, lt=1e4, title="scale of the part")
    placement: Matrix = Field(default=IDENTITY, title="placement of the part")
    shapes: tuple[AnyShape, ...] = Field(default=(), max_length=200, title="list of shapes")

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
    zones : regions with a clearance of their own; ``clearance_mm`` is for all the rest, the body.
    keep_material : halves whose material is kept where the part would have to pass it on its way in.
    """

    clearance_mm: float = Field(default=0.5, ge=0, le=MAX_CLEARANCE_MM)
    seal_mm: float = Field(default=1.2, ge=0, le=20, title="width of gaps to fill")
    zones: tuple[ZoneSpec, ...] = Field(default=(), max_length=64, title="list of zones")
    keep_material: tuple[Literal["lower", "upper"], ...] = ()

    @property
    def least_mm(self) -> float:
        """The least clearance asked anywhere."""
        return min([self.clearance_mm, *(z.clearance_mm for z in self.zones)])

    @field_validator("zones")
    @classmethod
    def _zone_names(cls, zones: tuple[ZoneSpec, ...]) -> tuple[ZoneSpec, ...]:
        names = [z.name.casefold() for z in zones]
        if len(set(names)) != len(names) or BODY in names:
            raise ValueError(
                f"two zones have the same name ('{BODY}' is taken by the rest of the part); rename one"
            )
        return zones


def _form(entry: Any) -> Form:
    try:
        return as_form(entry)
    except ValidationError as error:  # a broken limit inside a form: its own sentence
        raise ValueError(sentence_of(error)) from error


AnyForm = Annotated[SerializeAsAny[Form], BeforeValidator(_form)]


class ShellSpec(Model):
    """The outside form.

    Attributes
    ----------
    form : which form, with its own measures.
    wall_mm : least material between cavity and outside.
    floor_wall_mm, roof_wall_mm : the same under and over the cavity; None is as the wall.
    left_extra_mm ... roof_extra_mm : so much further out than room and wall need.
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
    form: AnyForm = Block()
    floor_wall_mm: float | None = Field(
        default=None, ge=MIN_WALL_MM, le=MAX_WALL_MM, title="thickness of the floor"
    )
    roof_wall_mm: float | None = Field(
        default=None, ge=MIN_WALL_MM, le=MAX_WALL_MM, title="thickness of the roof"
    )
    left_extra_mm: float = Field(default=0.0, ge=0, le=MAX_REACH_MM, title="extra room on the left side")
    right_extra_mm: float = Field(default=0.0, ge=0, le=MAX_REACH_MM, title="extra room on the right side")
    front_extra_mm: float = Field(default=0.0, ge=0, le=MAX_REACH_MM, title="extra room on the front side")
    back_extra_mm: float = Field(default=0.0, ge=0, le=MAX_REACH_MM, title="extra room on the back side")
    floor_extra_mm: float = Field(default=0.0, ge=0, le=MAX_REACH_MM, title="extra room under the floor")
    roof_extra_mm: float = Field(default=0.0, ge=0, le=MAX_REACH_MM, title="extra room over the roof")

    def wall_at_mm(self, side: HousingSide) -> float:
        """Return the least material asked on one side."""
        own = {"floor": self.floor_wall_mm, "roof": self.roof_wall_mm}.get(side)
        return self.wall_mm if own is None else own

    def extra_mm(self, side: HousingSide) -> float:
        """Return how much further out than needed one side is to lie."""
        value: float = getattr(self, f"{side}_extra_mm")
        return value

    @property
    def least_wall_mm(self) -> float:
        """The least material asked anywhere."""
        return min(self.wall_mm, self.wall_at_mm("floor"), self.wall_at_mm("roof"))

    def reach_mm(self, side: HousingSide) -> float | None:
        """Return the fixed distance of one side, or None where wall and clearance decide."""
        value: float | None = getattr(self, f"{side}_mm")
        return value


class PrinterSpec(Model):
    """What is known of the user's printer; None takes the process's usual figure.

    Attributes
    ----------
    hole_correction_mm, outside_correction_mm : to be added to a hole's diameter, or an outside size.
    spread_mm : +- limit of a printed size after correction, measured on this printer.
    material : a name in the table of plastics.
    """

    process: Process = "filament"
    material: str = "PLA"
    hole_correction_mm: float | None = Field(default=None, ge=-2, le=2, title="correction of holes")
    outside_correction_mm: float | None = Field(default=None, ge=-2, le=2, title="correction of outsides")
    spread_mm: float | None = Field(default=None, gt=0, le=2, title="spread of the printer")

    @property
    def hole_extra_mm(self) -> float:
        """What holes need in diameter: as measured, else as usual for the process."""
        usual = process_spread(self.process).hole_correction_mm
        return usual if self.hole_correction_mm is None else self.hole_correction_mm

    @property
    def measured_hole_mm(self) -> float:
        """What holes need in diameter as the user has measured it; 0 if not, or if they come out large."""
        return max(self.hole_correction_mm or 0.0, 0.0)

    @property
    def outside_extra_mm(self) -> float:
        """What outside sizes need: as measured, else as usual for the process."""
        usual = process_spread(self.process).outside_correction_mm
        return usual if self.outside_correction_mm is None else self.outside_correction_mm


def _feature(entry: Any) -> Feature:
    try:
        return as_feature(entry)
    except ValidationError as error:  # a broken limit inside a feature: its own sentence, not pydantic's list
        raise ValueError(sentence_of(error)) from error


AnyFeature = Annotated[SerializeAsAny[Feature], BeforeValidator(_feature)]


class Spec(Model):
    """A whole housing.

    Attributes
    ----------
    play_mm : total free movement that the user does not yet call a rattle.  No length of the housing: it is
        kept out of ``fit``, so that no step that makes halves can see it and a change of it rebuilds none.
    """

    name: str = Field(default="Housing", min_length=1, max_length=80, title="name of the housing")
    parts: tuple[PartSpec, ...] = Field(min_length=1, max_length=64, title="list of parts")
    parting: PartingSpec
    fit: FitSpec = FitSpec()
    shell: ShellSpec = ShellSpec()
    features: tuple[AnyFeature, ...] = Field(default=(), max_length=200, title="list of features")
    printer: PrinterSpec = PrinterSpec()
    play_mm: float = Field(default=USUAL_PLAY_MM, ge=0, le=MAX_PLAY_MM, title="play that is no rattle")

    @field_validator("parts")
    @classmethod
    def _names_differ(cls, parts: tuple[PartSpec, ...]) -> tuple[PartSpec, ...]:
        if len({p.name for p in parts}) != len(parts):
            raise ValueError("two parts have the same name; rename one")
        return parts

    @field_validator("features")
    @classmethod
    def _features_differ(cls, features: tuple[Feature, ...]) -> tuple[Feature, ...]:
        names = [f.name for f in features]
        if len(set(names)) != len(names) or "" in names:
            raise ValueError("every feature needs a name of its own; rename one")
        return features

    @model_validator(mode="after")
    def _zones_have_parts(self) -> Spec:
        known = {p.name for p in self.parts}
        for zone in self.fit.zones:
            if zone.part not in known:
                raise ValueError(f"zone '{zone.name}' lies on '{zone.part}', which is not in the housing")
        return self
