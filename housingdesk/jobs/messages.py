"""What goes to the worker and what comes back.  Plain frozen values, pickled."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from housingdesk.build.results import (
    BuildResult,
    CutPlane,
    Extent,
    LoadedPart,
    PartPatches,
    PlaneProposal,
    PlayFacts,
    Quality,
)
from housingdesk.features.feature import Feature
from housingdesk.geometry.clearance_map import ClearanceMap, MapOn
from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.types import Mesh, Side
from housingdesk.spec.models import FitSpec, PartSpec, ShellSpec, Spec, Unit
from housingdesk.spec.zones import Point, ZoneSpec

Pose = Literal["print", "assembled"]


@dataclass(frozen=True, slots=True)
class LoadParts:
    """Read a part's file; answered by ``Loaded``."""

    path: Path
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Build:
    """Make the halves; answered by ``Built``.  Meshes travel by key through the mesh store.

    ``upto`` lets a final end before its proof, or before the part's play; each takes as long as all before.
    """

    spec: Spec
    quality: Quality
    section: CutPlane | None = None
    upto: Extent = "play"


@dataclass(frozen=True, slots=True)
class Propose:
    """Rank parting planes for placed parts; answered by ``Proposed``.

    ``pull`` None tries all axes.  ``find_zones`` looks for zones first, and ranks with these.
    """

    parts: tuple[PartSpec, ...]
    fit: FitSpec
    shell: ShellSpec
    pull: PullDirection | None = None
    find_zones: bool = False


@dataclass(frozen=True, slots=True)
class Export:
    """Build at final quality and write the halves; answered by ``Exported``.

    ``replace``: whether files of these names may be replaced; if not, they are left and the job fails.
    """

    spec: Spec
    folder: Path
    pose: Pose
    replace: bool = False


@dataclass(frozen=True, slots=True)
class FindLandmarks:
    """Find heights of placed parts at which a dragged plane catches; answered by ``Landmarks``."""

    parts: tuple[PartSpec, ...]
    pull: PullDirection


@dataclass(frozen=True, slots=True)
class FindPatches:
    """Find flats and rounds of parts; answered by ``PatchesFound``."""

    parts: tuple[PartSpec, ...]


@dataclass(frozen=True, slots=True)
class FindZones:
    """Find the zones of parts again, and those the program sees; answered by ``ZonesFound``."""

    parts: tuple[PartSpec, ...]
    zones: tuple[ZoneSpec, ...]


@dataclass(frozen=True, slots=True)
class ProposeFeature:
    """Place a feature of a kind, by itself or where the user clicked; answered by ``ProposedFeature``.

    ``point_mm`` and ``normal`` lie on the outside, in the build frame.
    """

    spec: Spec
    kind: str
    point_mm: Point | None = None
    normal: Point | None = None


@dataclass(frozen=True, slots=True)
class MapClearance:
    """Measure the gap at every place of the ghost or the cavity; answered by ``ClearanceMapped``."""

    spec: Spec
    on: MapOn = "part"
    quality: Quality = "final"


@dataclass(frozen=True, slots=True)
class FindRelief:
    """Find what is cut only so that the part can go in; answered by ``ReliefFound``."""

    spec: Spec
    quality: Quality = "final"


@dataclass(frozen=True, slots=True)
class MeasurePlay:
    """Measure how far the part can move in the closed housing; answered by ``PlayMeasured``."""

    spec: Spec


Job = (
    LoadParts | Build | Propose | Export | FindLandmarks | FindPatches | FindZones | ProposeFeature
    | MapClearance | FindRelief | MeasurePlay
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Loaded:
    """Answer to ``LoadParts``."""

    parts: tuple[LoadedPart, ...]


@dataclass(frozen=True, slots=True)
class Built:
    """Answer to ``Build``."""

    result: BuildResult


@dataclass(frozen=True, slots=True)
class Proposed:
    """Answer to ``Propose``, best first, and the zones found if any were looked for."""

    proposals: tuple[PlaneProposal, ...]
    zones: tuple[ZoneSpec, ...] = ()


@dataclass(frozen=True, slots=True)
class Exported:
    """Answer to ``Export``."""

    files: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Answer to ``FindLandmarks``: heights in the build frame, mm, ascending."""

    heights_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PatchesFound:
    """Answer to ``FindPatches``, by part name."""

    by_part: dict[str, PartPatches]


@dataclass(frozen=True, slots=True)
class ZonesFound:
    """Answer to ``FindZones``: by zone how many of its faces are there, and the zones that were proposed."""

    faces: dict[str, int]
    proposed: tuple[ZoneSpec, ...]


@dataclass(frozen=True, slots=True)
class ProposedFeature:
    """Answer to ``ProposeFeature``; None where it makes no sense there."""

    feature: Feature | None


@dataclass(frozen=True, slots=True)
class ClearanceMapped:
    """Answer to ``MapClearance``; build frame."""

    map: ClearanceMap


@dataclass(frozen=True, slots=True)
class ReliefFound:
    """Answer to ``FindRelief``: closed bodies in the build frame, empty where nothing had to be cut."""

    bodies: dict[Side, Mesh]


@dataclass(frozen=True, slots=True)
class PlayMeasured:
    """Answer to ``MeasurePlay``."""

    facts: PlayFacts


@dataclass(frozen=True, slots=True)
class Failed:
    """A job that could not be done.

    ``sentence`` is fit to be shown; ``detail`` is a traceback when it was a bug, else empty.
    """

    sentence: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a long job stands: a short phrase and a share from 0 to 1 (None where unknown)."""

    phrase: str
    share: float | None = None


Answer = (
    Loaded | Built | Proposed | Exported | Landmarks | PatchesFound | ZonesFound | ProposedFeature
    | ClearanceMapped | ReliefFound | PlayMeasured | Failed
)  # fmt: skip
