"""What goes to the worker and what comes back.  Plain frozen values, pickled."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from housingdesk.build.results import BuildResult, CutPlane, LoadedPart, PlaneProposal, Quality
from housingdesk.geometry.frames import PullDirection
from housingdesk.spec.models import FitSpec, PartSpec, ShellSpec, Spec, Unit

Pose = Literal["print", "assembled"]


@dataclass(frozen=True, slots=True)
class LoadParts:
    """Read a part's file; answered by ``Loaded``."""

    path: Path
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Build:
    """Make the halves; answered by ``Built``.  Meshes travel by key through the mesh store."""

    spec: Spec
    quality: Quality
    section: CutPlane | None = None


@dataclass(frozen=True, slots=True)
class Propose:
    """Rank parting planes for placed parts; answered by ``Proposed``.  ``pull`` None tries all axes."""

    parts: tuple[PartSpec, ...]
    fit: FitSpec
    shell: ShellSpec
    pull: PullDirection | None = None


@dataclass(frozen=True, slots=True)
class Export:
    """Build at final quality and write the halves; answered by ``Exported``."""

    spec: Spec
    folder: Path
    pose: Pose


@dataclass(frozen=True, slots=True)
class FindLandmarks:
    """Find heights of placed parts at which a dragged plane catches; answered by ``Landmarks``."""

    parts: tuple[PartSpec, ...]
    pull: PullDirection


Job = LoadParts | Build | Propose | Export | FindLandmarks


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
    """Answer to ``Propose``, best first."""

    proposals: tuple[PlaneProposal, ...]


@dataclass(frozen=True, slots=True)
class Exported:
    """Answer to ``Export``."""

    files: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Answer to ``FindLandmarks``: heights in the build frame, mm, ascending."""

    heights_mm: tuple[float, ...]


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


Answer = Loaded | Built | Proposed | Exported | Landmarks | Failed
