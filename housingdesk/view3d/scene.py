"""What the bench shows, as one frozen value.  No Qt, no VTK.

``scene_of`` turns a build and the viewer's choices into a ``Scene``; the canvas compares two scenes and
touches only what differs.  Meshes compare by identity, so a scene costs nothing to compare.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from housingdesk.geometry.clearance_map import MapOn
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side
from housingdesk.view3d.arrows import Arrow
from housingdesk.view3d.cutting import CutFrame, cut_frame
from housingdesk.view3d.cutting import Point as Point
from housingdesk.view3d.handles import FeatureKnob
from housingdesk.view3d.legend import Legend
from housingdesk.view3d.paint import Paint
from housingdesk.view3d.palette import Palette, mixed, palette

Role = Literal["half", "part"]

EDGE_TRIANGLES = 200_000  # finding the edges of a larger mesh takes longer than the eye gains
STALE_SHARE = 0.55  # how far the colour of a half that is out of date goes towards the paper
BOUGHT_OPACITY = 0.6  # of bearings and the like
RELIEF_OPACITY = 0.55  # of what is cut for going in
GAPS = "gaps"  # name of the body that is coloured by the gap around it
FRAME_MARGIN = 0.07  # the plane's frame stands this share of the longer side off the housing


@dataclass(frozen=True, slots=True)
class Look:
    """The viewer's choices.

    Attributes
    ----------
    ghost_on, ghost_opacity : the untouched part drawn over the halves, and how densely (0 to 1).
    lower_shown, upper_shown : which halves are drawn.
    lift_mm : how far the upper half is lifted off along the pull.
    mark_mm : a place to point at, build frame, all halves closed.
    mark_on : the half that the place lies on and is lifted with; None where it lies on a part.
    plane_shown : draw the parting plane and its grip.
    pick_faces : show the parts alone and solid, for a click on one of their flats.
    gaps_on, gaps_where : show the parts alone, or the cavity, coloured by the gap between them.
    """

    ghost_on: bool = True
    ghost_opacity: float = 0.35
    lower_shown: bool = True
    upper_shown: bool = True
    lift_mm: float = 0.0
    dark: bool = False
    mark_mm: Point | None = None
    mark_on: Side | None = None
    plane_shown: bool = True
    pick_faces: bool = False
    gaps_on: bool = False
    gaps_where: MapOn = "part"

    @property
    def mark_seen_mm(self) -> Point | None:
        """Where the place to point at is drawn: lifted with the half it lies on."""
        if self.mark_mm is None:
            return None
        x, y, z = self.mark_mm
        follows = self.mark_on == "upper" and not self.gaps_on and not self.pick_faces
        return x, y, z + (self.lift_mm if follows else 0.0)


@dataclass(frozen=True, slots=True)
class Item:
    """One body on the bench.

    Attributes
    ----------
    name : ``lower``, ``upper``, ``part-0``, ``part-1``..., ``bought-0``...; the same body keeps its name.
    opacity : 1 is solid; anything less is drawn as the ghost, over everything else.
    lift_z : how far it is drawn above its place, mm.
    edges : whether its sharp edges may be drawn as thin lines.
    paint : a colour of its own for each face, in place of ``colour``.
    """

    name: str
    role: Role
    mesh: Mesh
    colour: str
    opacity: float = 1.0
    lift_z: float = 0.0
    edges: bool = True
    paint: Paint | None = None


@dataclass(frozen=True, slots=True)
class PlaneFrame:
    """The parting plane as drawn.

    Attributes
    ----------
    z_mm : its height in the build frame.
    corners : the frame's (x, y) corners in order around it, mm.
    range_mm : least and greatest height it can be dragged to.
    """

    z_mm: float
    corners: tuple[tuple[float, float], ...]
    range_mm: tuple[float, float]

    @property
    def label(self) -> str:
        """The height in words."""
        return height_label(self.z_mm)


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything the bench shows.

    Attributes
    ----------
    marks : places to point at, build frame.
    stale : the halves are older than what the user has asked for.
    cut : where the section strip cuts, or None.
    knobs : by which features are dragged.
    arrows : how far the part can move.
    legend : the scale of the gaps shown.
    """

    items: tuple[Item, ...]
    plane: PlaneFrame | None
    marks: tuple[Point, ...]
    stale: bool
    palette: Palette
    cut: CutFrame | None = None
    knobs: tuple[FeatureKnob, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    legend: Legend | None = None

    def bounds_mm(self) -> Floats | None:
        """(2, 3) corners around all bodies where they are drawn, or None for an empty bench."""
        boxes = [
            item.mesh.bounds + np.array([0, 0, item.lift_z]) for item in self.items if item.mesh.triangles
        ]
        if not boxes:
            return None
        return np.array([np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)])


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on a body.

    Attributes
    ----------
    item : name of the body.
    point_mm : the place in the build frame, a lifted half counted as closed.
    normal : unit normal of the surface there, towards the viewer.
    face : index of the triangle in the body's mesh.
    """

    item: str
    point_mm: Point
    normal: Point
    face: int


EMPTY = Scene((), None, (), False, palette(False))


def height_label(z_mm: float) -> str:
    """Return a height as the grip shows it: tenths, and hundredths only where they say something."""
    return f"{z_mm:.1f} mm" if abs(z_mm * 10 - round(z_mm * 10)) < 0.05 else f"{z_mm:.2f} mm"


def plane_frame(outer_mm: Floats, parts: tuple[Mesh, ...], parting_z_mm: float) -> PlaneFrame:
    """Return the frame around a housing.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the shell, mm.
    parts : build frame; the plane can be dragged through their height within the shell, less a hair at either
        end.
    """
    low, high = np.asarray(outer_mm, float)
    margin = FRAME_MARGIN * max(high[0] - low[0], high[1] - low[1])
    x0, y0 = (float(v) for v in low[:2] - margin)
    x1, y1 = (float(v) for v in high[:2] + margin)
    boxes = [mesh.bounds for mesh in parts if mesh.triangles]
    # A shaft may stand out of floor or roof.
    bottom = max(min((float(b[0, 2]) for b in boxes), default=float(low[2])), float(low[2]))
    top = min(max((float(b[1, 2]) for b in boxes), default=float(high[2])), float(high[2]))
    hair = min(0.1, (top - bottom) / 100)
    return PlaneFrame(
        z_mm=float(parting_z_mm),
        corners=((x0, y0), (x1, y0), (x1, y1), (x0, y1)),
        range_mm=(bottom + hair, top - hair),
    )


def scene_of(
    parts: tuple[Mesh, ...],
    halves: Mapping[Side, Mesh] | None,
    outer_mm: Floats | None,
    parting_z_mm: float | None,
    look: Look,
    stale: bool = False,
    cut: tuple[float, float] | None = None,
    paints: Sequence[Paint | None] = (),
    knobs: tuple[FeatureKnob, ...] = (),
    arrows: tuple[Arrow, ...] = (),
    gaps: tuple[Mesh, Paint, Legend] | None = None,
    relief: Mapping[Side, Mesh] | None = None,
    bought: Sequence[Mesh] = (),
) -> Scene:
    """Return the scene for a build and the viewer's choices.

    Parameters
    ----------
    parts : the untouched parts, build frame, mm.
    halves : the latest halves in the assembled pose, or None before the first.
    outer_mm : (2, 3) corners of the shell; None draws no plane.
    parting_z_mm : height of the parting plane the user asks for; None draws no plane.
    stale : the halves are older than what the user has asked for.
    cut : turn in degrees and shift in mm of the section's cutting line; drawn with the plane.
    paints : colours of the parts' faces, part by part.
    knobs, arrows : by which features are dragged, and how far the part can move; not drawn while a flat is
        being picked.
    gaps : parts or cavity cut finely, each piece coloured by the gap there, and the scale of these colours;
        in place of everything else.
    relief : what is cut only so that the part can go in, by half.
    bought : bearings and the like; shown and hidden with the parts.

    Notes
    -----
    Without halves, and while a flat is being picked, the parts are drawn solid: there is nothing to
    look through.
    """
    colours = palette(look.dark)
    marks = () if (mark := look.mark_seen_mm) is None else (mark,)
    if gaps is not None and not look.pick_faces:
        mesh, paint, legend = gaps
        fine = Item(GAPS, "part", mesh, colours.ghost, edges=mesh.triangles <= EDGE_TRIANGLES, paint=paint)
        return Scene((fine,), None, marks, False, colours, legend=legend)
    alone = not halves or look.pick_faces
    shown = {"lower": look.lower_shown, "upper": look.upper_shown}
    items: list[Item] = []
    for side in SIDES:
        if alone or halves is None or side not in halves or not shown[side]:
            continue
        colour = colours.lower if side == "lower" else colours.upper
        mesh = halves[side]
        items.append(
            Item(
                name=side,
                role="half",
                mesh=mesh,
                colour=mixed(colour, colours.paper, STALE_SHARE) if stale else colour,
                lift_z=look.lift_mm if side == "upper" else 0.0,
                edges=not stale and mesh.triangles <= EDGE_TRIANGLES,
            )
        )
    opacity = 1.0 if alone else float(np.clip(look.ghost_opacity, 0.0, 1.0))
    if alone or (look.ghost_on and opacity > 0):
        items += [
            Item(
                f"part-{i}",
                "part",
                mesh,
                colours.ghost,
                opacity,
                edges=mesh.triangles <= EDGE_TRIANGLES,
                paint=paints[i] if i < len(paints) else None,
            )
            for i, mesh in enumerate(parts)
        ]
    if not alone and look.ghost_on:
        items += [
            Item(f"bought-{i}", "part", mesh, colours.bought, BOUGHT_OPACITY) for i, mesh in enumerate(bought)
        ]
    for side, body in (relief or {}).items():
        if not alone and body.triangles and shown[side]:
            lift = look.lift_mm if side == "upper" else 0.0
            items.append(
                Item(f"relief-{side}", "part", body, colours.fail, RELIEF_OPACITY, lift, edges=False)
            )
    framed = look.plane_shown and not look.pick_faces and outer_mm is not None and parting_z_mm is not None
    return Scene(
        items=tuple(items),
        plane=plane_frame(outer_mm, parts, parting_z_mm) if framed else None,  # type: ignore[arg-type]  # framed says so
        marks=marks,
        stale=stale and not alone,
        palette=colours,
        cut=cut_frame(*cut, outer_mm, look.lift_mm) if framed and cut and outer_mm is not None else None,
        knobs=() if alone else knobs,
        arrows=() if alone else arrows,
    )
