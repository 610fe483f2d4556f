"""The steps from spec to halves.  To add a step, write its function and its line in ``nodes``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from housingdesk.build.graph import Node
from housingdesk.build.results import Quality
from housingdesk.errors import SpecError
from housingdesk.geometry.frames import PullDirection, build_frame
from housingdesk.geometry.inspect import inspect
from housingdesk.geometry.offset import LEAST_REACH_MM, sweep_cavity
from housingdesk.geometry.profile import Profile, profile
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side
from housingdesk.proof.checks import prove
from housingdesk.proof.facts import HalfFacts
from housingdesk.proof.finding import Finding
from housingdesk.proof.subject import PLANE_OF, Subject
from housingdesk.spec.models import HOUSING_SIDES, FitSpec, PartingSpec, PartSpec, ShellSpec

TOLERANCE_MM: dict[Quality, float] = {"draft": 0.12, "final": 0.02}
CRUMB_SHARE = 0.02  # pieces smaller than this share of their half are left out of the print


@dataclass(frozen=True, eq=False)
class Placed:
    """The parts in the build frame.

    Attributes
    ----------
    tris : (m, 3, 3) all triangles, mm.
    notes : what is odd about the parts' files, in plain sentences.
    """

    to_build: Floats
    parts: tuple[Mesh, ...]
    tris: Floats
    notes: tuple[str, ...]

    @property
    def bounds(self) -> Floats:
        """(2, 3) corners of the box around all triangles."""
        flat = self.tris.reshape(-1, 3)
        return np.array([flat.min(axis=0), flat.max(axis=0)])


@dataclass(frozen=True, eq=False)
class Halved:
    """Finished halves and what the solid kernel counted on them."""

    halves: dict[Side, Mesh]
    bodies: dict[Side, int]
    overlap_mm3: float


def place(
    get_mesh: Callable[[str], Mesh], wish: tuple[tuple[PartSpec, ...], PullDirection], _quality: Quality
) -> Placed:
    """Scale, place and turn the parts into the build frame."""
    parts, pull = wish
    raw = [get_mesh(p.mesh_key) for p in parts]
    placed = []
    for part, mesh in zip(parts, raw, strict=True):
        matrix = np.array(part.placement).reshape(4, 4) @ np.diag([part.scale_mm] * 3 + [1.0])
        placed.append(mesh.moved(matrix))
    to_build = build_frame(placed, pull)
    moved = tuple(m.moved(to_build) for m in placed)
    notes = [
        f"{part.name}: {note}" if len(parts) > 1 else note
        for part, mesh in zip(parts, raw, strict=True)
        for note in inspect(mesh).notes
    ]
    return Placed(to_build, moved, np.vstack([m.vertices[m.faces] for m in moved]), tuple(notes))


def _cavity(up: bool) -> Callable[[FitSpec, Quality, Placed], Solid]:
    def run(fit: FitSpec, quality: Quality, placed: Placed) -> Solid:
        reach = np.full(len(placed.tris), fit.clearance_mm)
        return sweep_cavity(
            placed.tris, reach, up=up, seal_mm=fit.seal_mm, tolerance_mm=TOLERANCE_MM[quality]
        )

    return run


def _profile(fit: FitSpec, _quality: Quality, placed: Placed) -> Profile:
    return profile(placed.tris, np.full(len(placed.tris), fit.clearance_mm), seal_mm=fit.seal_mm)


def outer_box(wish: tuple[ShellSpec, FitSpec], _quality: Quality, placed: Placed) -> Floats:
    """Return the (2, 3) corners of the block: clearance and wall beyond the parts, or as fixed."""
    shell, fit = wish
    box = placed.bounds.copy()
    for side in HOUSING_SIDES:
        axis, end = PLANE_OF[side]
        reach = shell.reach_mm(side)
        # A hair more than asked, so that no rounding on the way to a file makes it less.
        beyond = max(fit.clearance_mm, LEAST_REACH_MM) + shell.wall_mm + 0.005 if reach is None else reach
        box[end, axis] += beyond if end else -beyond
    if not (box[1] - box[0] > 1.0).all():
        raise SpecError("The fixed sides leave no housing between them; give at least one of them more room.")
    return box


def _block(_wish: None, _quality: Quality, outer: Floats, cavity: Solid) -> Solid:
    return Solid.box(outer[0], outer[1]) - cavity


def halve(wish: PartingSpec, _quality: Quality, placed: Placed, lower: Solid, upper: Solid) -> Halved:
    """Cut both blocks at the parting plane and leave out crumbs."""
    top = float(placed.bounds[1, 2])
    z = wish.height_mm
    if not 0.0 < z < top:
        raise SpecError(
            f"The parting plane at {z:.2f} mm lies outside the part, which reaches from 0 to {top:.2f} mm; "
            "choose a height between."
        )
    halves: dict[Side, Mesh] = {}
    bodies: dict[Side, int] = {}
    kept = {}
    for side, solid in (("lower", lower.below(z)), ("upper", upper.above(z))):
        pieces = solid.bodies()
        if not pieces or pieces[0].volume_mm3 <= 0:
            raise SpecError(
                f"Nothing is left of the {side} half; give its sides more room or move the parting plane."
            )
        large = [p for p in pieces if p.volume_mm3 >= CRUMB_SHARE * pieces[0].volume_mm3]
        whole = large[0] if len(large) == 1 else Solid.union(large)
        kept[side] = whole
        halves["lower" if side == "lower" else "upper"] = whole.mesh()
        bodies["lower" if side == "lower" else "upper"] = len(large)
    return Halved(halves, bodies, (kept["lower"] & kept["upper"]).volume_mm3)


def _proof(
    wish: tuple[FitSpec, ShellSpec, PartingSpec],
    _quality: Quality,
    placed: Placed,
    outer: Floats,
    halved: Halved,
    costs: Profile,
) -> tuple[dict[Side, HalfFacts], tuple[Finding, ...]]:
    fit, shell, parting = wish
    relief = dict(zip(SIDES, costs.relief_at(parting.height_mm), strict=True))
    return prove(
        Subject(
            parts=placed.parts,
            halves=halved.halves,
            parting_z_mm=parting.height_mm,
            outer_mm=outer,
            clearance_mm=fit.clearance_mm,
            wall_mm=shell.wall_mm,
            relief_mm3=relief,
            overlap_mm3=halved.overlap_mm3,
            bodies=halved.bodies,
            notes=placed.notes,
            fixed_sides=tuple(s for s in HOUSING_SIDES if shell.reach_mm(s) is not None),
        )
    )


def nodes(get_mesh: Callable[[str], Mesh]) -> tuple[Node, ...]:
    """Return all steps; ``get_mesh`` gives a part's mesh in file units by its key."""
    return (
        Node(
            "placed", 1, lambda s: (s.parts, s.parting.pull), (), lambda w, q: place(get_mesh, w, q),
            phrase="Placing the parts",
        ),
        Node(
            "cavity_lower", 1, lambda s: s.fit, ("placed",), _cavity(True), True,
            "Making room in the lower half",
        ),
        Node(
            "cavity_upper", 1, lambda s: s.fit, ("placed",), _cavity(False), True,
            "Making room in the upper half",
        ),
        Node("outer", 1, lambda s: (s.shell, s.fit), ("placed",), outer_box),
        Node("block_lower", 1, lambda _: None, ("outer", "cavity_lower"), _block, True),
        Node("block_upper", 1, lambda _: None, ("outer", "cavity_upper"), _block, True),
        Node(
            "halves", 1, lambda s: s.parting, ("placed", "block_lower", "block_upper"), halve, True,
            "Parting the halves",
        ),
        Node("profile", 1, lambda s: s.fit, ("placed",), _profile, phrase="Weighing parting planes"),
        Node(
            "proof", 1, lambda s: (s.fit, s.shell, s.parting), ("placed", "outer", "halves", "profile"),
            _proof, True, "Measuring the finished halves",
        ),
    )  # fmt: skip
