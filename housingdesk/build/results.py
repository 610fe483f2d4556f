"""What a build gives back.  Plain frozen values that travel between processes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.inspect import MeshFacts as MeshFacts
from housingdesk.geometry.types import Floats, Mesh, Side
from housingdesk.proof.facts import HalfFacts as HalfFacts
from housingdesk.proof.finding import Finding
from housingdesk.spec.models import Spec, Unit, UnitOrigin

Quality = Literal["draft", "final"]


@dataclass(frozen=True, slots=True)
class CutPlane:
    """A plane through the housing for the section strip, in the build frame.

    Attributes
    ----------
    origin_mm : a point of the plane; (0, 0) of the drawing.
    right, up : orthonormal directions of the drawing's axes.
    """

    origin_mm: tuple[float, float, float]
    right: tuple[float, float, float]
    up: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Section:
    """Outlines cut by a plane, in the drawing's own mm.

    Attributes
    ----------
    plane : where it was cut.
    halves : for each half its closed loops, each (k, 2) float mm, first point not repeated.
    parts : polylines of the untouched parts, each (k, 2) float mm; a closed one repeats its first point.
    """

    plane: CutPlane
    halves: dict[Side, tuple[Floats, ...]]
    parts: tuple[Floats, ...]


@dataclass(frozen=True, slots=True)
class BuildResult:
    """A built housing.

    Attributes
    ----------
    generation : number of the request this answers; newer wins.
    assembly_to_build : 16 numbers row-major; the frame of everything below.
    parts : the untouched parts in the build frame, in the order of the spec.
    halves : the finished halves in the build frame (assembled pose).
    outer_mm : (2, 3) corners of the shell.
    facts : per half, only for final quality.
    findings : the proof sheet, worst first; only the build's own failures for drafts.
    """

    generation: int
    quality: Quality
    spec: Spec
    assembly_to_build: tuple[float, ...]
    parting_z_mm: float
    outer_mm: Floats
    parts: tuple[Mesh, ...]
    halves: dict[Side, Mesh]
    facts: dict[Side, HalfFacts] | None
    findings: tuple[Finding, ...]
    section: Section | None = None
    seconds: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LoadedPart:
    """A part as read from a file.

    Attributes
    ----------
    mesh : in file units, nothing repaired.
    unit, unit_origin : tagged by the file, or guessed from its size.
    """

    name: str
    source_name: str
    mesh: Mesh
    unit: Unit
    unit_origin: UnitOrigin
    facts: MeshFacts


@dataclass(frozen=True, slots=True)
class PlaneProposal:
    """A parting plane the program offers.

    Attributes
    ----------
    relief_mm3 : material to be taken from both halves so that the part can go in.
    section_mm2 : area of the part's section in the plane.
    reason : one plain sentence.
    """

    pull: PullDirection
    height_mm: float
    relief_mm3: float
    section_mm2: float
    reason: str
