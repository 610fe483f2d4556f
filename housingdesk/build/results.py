"""What a build gives back.  Plain frozen values that travel between processes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from housingdesk.features.records import BillLine, Contact, Fastener, Joint, OpeningRecord, Seat
from housingdesk.features.work import Handle
from housingdesk.finding import Finding
from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.inspect import MeshFacts as MeshFacts
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.types import Floats, Ints, Mesh, Side
from housingdesk.proof.facts import HalfFacts as HalfFacts
from housingdesk.proof.facts import PlayFacts as PlayFacts
from housingdesk.proof.facts import ZoneFacts as ZoneFacts
from housingdesk.proof.facts import ZoneOdds as ZoneOdds
from housingdesk.spec.models import Spec, Unit, UnitOrigin
from housingdesk.spec.shapes import AnyShape
from housingdesk.spec.zones import ZoneSpec

Quality = Literal["draft", "final"]
Extent = Literal["halves", "proof", "play"]  # how far a final goes: the bodies, their proof, the part's play


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
class Plan:
    """The housing seen along the pull, in the build frame.

    Attributes
    ----------
    housing : outlines of the form and of all that features add to it, each (k, 2) mm, counter-clockwise.
    parts : outlines of the parts, (k, 2) mm, counter-clockwise; holes clockwise.
    """

    housing: tuple[Floats, ...] = ()
    parts: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """Outlines cut by a plane, in the drawing's own mm.

    Attributes
    ----------
    plane : where it was cut.
    halves : for each half its closed loops, each (k, 2) float mm, first point not repeated.
    parts : polylines of the untouched parts, each (k, 2) float mm; a closed one repeats its first point.
    bought : closed loops of bearings and the like, each (k, 2) float mm.
    zones : by name what of the parts' outlines is of a zone, the body first; only zones that are cut.
    """

    plane: CutPlane
    halves: dict[Side, tuple[Floats, ...]]
    parts: tuple[Floats, ...]
    bought: tuple[Floats, ...] = ()
    zones: tuple[tuple[str, tuple[Floats, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class PassageFacts:
    """A shaft's way out: unit axis pointing out, middle of the outer mouth, diameter; build frame.

    The diameter is measured on final halves, behind the mouth's chamfer; in drafts it is as drawn.
    """

    zone: str
    axis: tuple[float, float, float]
    centre_mm: tuple[float, float, float]
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class PartPatches:
    """Flats and rounds of a part, part frame, mm; ``near[i]`` are those that patch i runs into smoothly."""

    patches: tuple[Patch, ...]
    near: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class FeatureFacts:
    """What a feature has made, without its bodies."""

    fasteners: tuple[Fastener, ...] = ()
    openings: tuple[OpeningRecord, ...] = ()
    joints: tuple[Joint, ...] = ()
    contacts: tuple[Contact, ...] = ()
    seats: tuple[Seat, ...] = ()
    bill: tuple[BillLine, ...] = ()
    handles: tuple[Handle, ...] = ()


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
    section, plan : for the drawings; the section only where a cut was asked for.
    zone_faces : for each part, which of the spec's zones each of its faces belongs to; -1 for the body.
    passages : ways out of turning zones.
    zones : gaps measured around each zone, the body first; only for final quality.
    play : how far the part can move in the closed housing; only for final quality.
    odds : chances of the held zones on the user's printer; only for final quality.
    features : what each feature made, by name; of one that could not be made only its handles.
    said : what was found about single features, by name; also in drafts.
    bought : bearings and the like as they lie in the closed housing, build frame; drawn, never printed.
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
    plan: Plan = Plan()
    seconds: dict[str, float] = field(default_factory=dict)
    zone_faces: tuple[Ints, ...] = ()
    passages: tuple[PassageFacts, ...] = ()
    zones: tuple[ZoneFacts, ...] = ()
    play: PlayFacts | None = None
    odds: tuple[ZoneOdds, ...] = ()
    features: dict[str, FeatureFacts] = field(default_factory=dict)
    said: dict[str, tuple[Finding, ...]] = field(default_factory=dict)
    bought: tuple[Mesh, ...] = ()

    @property
    def bill(self) -> tuple[BillLine, ...]:
        """What has to be bought, equal lines added up."""
        counts: dict[tuple[str, str, str], int] = {}
        for facts in self.features.values():
            for line in facts.bill:
                key = (line.what, line.standard, line.purpose)
                counts[key] = counts.get(key, 0) + line.count
        return tuple(BillLine(n, *key) for key, n in counts.items())


@dataclass(frozen=True, slots=True)
class LoadedPart:
    """A part as read from a file.

    Attributes
    ----------
    mesh : in file units, nothing repaired.
    unit, unit_origin : tagged by the file, or guessed from its size.
    shapes : what it was made of, where it comes from caliper readings and not from a file.
    """

    name: str
    source_name: str
    mesh: Mesh
    unit: Unit
    unit_origin: UnitOrigin
    facts: MeshFacts
    shapes: tuple[AnyShape, ...] = ()


@dataclass(frozen=True, slots=True)
class PlaneProposal:
    """A parting plane the program offers.

    Attributes
    ----------
    relief_mm3 : material to be taken from both halves so that the part can go in.
    section_mm2 : area of the part's section in the plane.
    reason : one plain sentence, why it is offered.
    notes : plain sentences, what speaks for and against it.
    stands : both halves stand well on floor and roof while they are printed.
    """

    pull: PullDirection
    height_mm: float
    relief_mm3: float
    section_mm2: float
    reason: str
    notes: tuple[str, ...] = ()
    stands: bool = True


@dataclass(frozen=True, slots=True)
class Proposal:
    """A first housing the program offers: parting planes, best first, and zones."""

    planes: tuple[PlaneProposal, ...]
    zones: tuple[ZoneSpec, ...]
