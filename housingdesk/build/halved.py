"""The step that parts the blocks and puts the features on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from housingdesk.build.passages import Passage
from housingdesk.build.placed import Placed
from housingdesk.build.results import Quality
from housingdesk.build.works import Works, near
from housingdesk.errors import SpecError
from housingdesk.features.forms.ground import Outside
from housingdesk.features.site import Memo, Shadow
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Ints, Mesh, Side
from housingdesk.geometry.walls import CAVITY, IN_PLANE_MM, OUTSIDE, REST
from housingdesk.spec.models import PartingSpec

CRUMB_SHARE = 0.02  # pieces smaller than this share of their half are left out of the print


@dataclass(frozen=True, eq=False)
class Halved:
    """Finished halves and what the solid kernel counted on them.

    ``skins`` tells for each triangle of a final half whether it is the form's outside, the cavity's wall or
    the rest; see ``geometry.walls``.
    """

    halves: dict[Side, Mesh]
    bodies: dict[Side, int]
    overlap_mm3: float
    skins: dict[Side, Ints] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Hollowed:
    """The housing hollow, not yet parted, and what it was made of.

    Attributes
    ----------
    cavity, passages : the hollows.
    shadow : of all hollows along the pull.
    """

    outside: Outside
    cavity: Mapping[Side, Solid]
    passages: tuple[Passage, ...]
    shadow: Shadow
    _memo: Memo = field(default_factory=lambda: Memo(keep=12))

    def form(self, side: Side) -> Solid:
        """Return the outside as one half has it."""
        return self.outside.lower if side == "lower" else self.outside.upper

    def hollows(self, side: Side) -> list[Solid]:
        """Return what is cut from one half."""
        return [self.cavity[side], *(p.cut for p in self.passages)]

    def full(self, side: Side, stands: tuple[Solid, ...]) -> Solid:
        """Return one half's outside with bodies joined to it, neither hollow nor parted."""
        if not stands:
            return self.form(side)
        made: Solid = self._memo.get(("full", side, stands), lambda: Solid.union([self.form(side), *stands]))
        return made

    def block(self, side: Side, stands: tuple[Solid, ...] = (), carved: tuple[Solid, ...] = ()) -> Solid:
        """Return one half's outside with bodies joined to it, less all hollows and what else is carved.

        It is kept for the next place of the plane.
        """
        made: Solid = self._memo.get(
            ("block", side, stands, carved), lambda: self._block(side, stands, carved)
        )
        return made

    def _block(self, side: Side, stands: tuple[Solid, ...], carved: tuple[Solid, ...]) -> Solid:
        if carved:
            return self.block(side, stands).without(carved)
        # What meets a hollow is joined before the hollows are cut: bodies that share faces of one hollow are
        # slow to join, and leave slivers.  What is clear of them is quicker to join to what is left.
        wet = tuple(self.wet(stands))
        dry = [s for s in stands if s not in wet]
        if dry:
            return Solid.union([self.block(side, wet), *dry])
        return self.full(side, wet).without(self.hollows(side))

    def wet(self, bodies: Iterable[Solid]) -> list[Solid]:
        """Return those bodies that may meet a hollow."""
        return [s for s in bodies if self.shadow.outline.touches(s.silhouette())]


def halve(wish: PartingSpec, quality: Quality, placed: Placed, hollowed: Hollowed, works: Works) -> Halved:
    """Cut both blocks at the parting plane, put the features on, and leave out crumbs."""
    top = float(placed.bounds[1, 2])
    z = wish.height_mm
    if not 0.0 < z < top:
        raise SpecError(
            f"The parting plane at {z:.2f} mm lies outside the part, which reaches from 0 to {top:.2f} mm; "
            "choose a height between."
        )
    low, high = hollowed.outside.bounds[:, 2].tolist()
    if not low < z < high:  # in a shaft that stands out of floor or roof
        raise SpecError(
            f"The parting plane at {z:.2f} mm lies outside the housing, which holds the part from "
            f"{max(low, 0.0):.2f} to {min(high, top):.2f} mm; choose a height between."
        )
    halves: dict[Side, Mesh] = {}
    bodies: dict[Side, int] = {}
    kept: dict[Side, Solid] = {}
    skins: dict[Side, Ints] = {}
    collars = hollowed.outside.collars(z)
    for side in SIDES:
        hollows = hollowed.hollows(side)
        solid = finished(side, z, hollowed, works, collars.get(side))
        pieces = solid.bodies()
        if not pieces or pieces[0].volume_mm3 <= 0:
            raise SpecError(
                f"Nothing is left of the {side} half; give its sides more room or move the parting plane."
            )
        large = [p for p in pieces if p.volume_mm3 >= CRUMB_SHARE * pieces[0].volume_mm3]
        kept[side] = large[0] if len(large) == 1 else Solid.union(large)
        halves[side], source = kept[side].sourced_mesh()
        if quality == "final":
            skins[side] = _skin(halves[side], source, z, [hollowed.form(side), *collars.values()], hollows)
        bodies[side] = len(large)
    # Only the proof asks for it, and drafts are not proved.
    overlap = (kept["lower"] & kept["upper"]).volume_mm3 if quality == "final" else 0.0
    return Halved(halves, bodies, overlap, skins)


def finished(side: Side, z_mm: float, hollowed: Hollowed, works: Works, collar: Solid | None = None) -> Solid:
    """Return one half with all features, crumbs and all.

    ``collar`` is what the outside needs besides at this plane.
    """
    added, pads, stands = works.added(side), works.pads(side), works.stands
    late = [*added, *pads]
    # What is added after it must not fill what is carved; most of it is clear of that.
    spoilt, _ = near(works.carved, late)
    carved = tuple(c for c in works.carved if c not in spoilt)
    early = hollowed.wet(added)
    if early or collar is not None:
        outside = _part_of(hollowed.full(side, stands), side, z_mm)
        whole = Solid.union([outside, *early, *([] if collar is None else [collar])])
        solid = whole.without([*hollowed.hollows(side), *carved])
        late = [s for s in late if s not in early]
    else:
        solid = _part_of(hollowed.block(side, stands, carved), side, z_mm)
    if late:
        solid = Solid.union([solid, *late])
    return solid.without([*works.cuts(side), *spoilt])


def _part_of(body: Solid, side: Side, z_mm: float) -> Solid:
    """Return what lies on one half's side of the parting plane."""
    return body.below(z_mm) if side == "lower" else body.above(z_mm)


def _skin(half: Mesh, source: Ints, z_mm: float, outsides: list[Solid], hollows: list[Solid]) -> Ints:
    """Sort triangles by the bodies that their surface was taken from; the parting face is neither."""
    skin = np.full(len(source), REST, np.int32)
    for kind, solids in ((OUTSIDE, outsides), (CAVITY, hollows)):
        skin[np.isin(source, [n for s in solids for n in s.sources])] = kind
    parting = np.abs(half.vertices[:, 2] - z_mm) <= IN_PLANE_MM
    skin[parting[half.faces].all(axis=1)] = REST
    return skin


def halve_without_pads(
    wish: PartingSpec, quality: Quality, halved: Halved, placed: Placed, hollowed: Hollowed, works: Works
) -> Halved:
    """Return the halves as they would be without what stands into the cavity on purpose."""
    if not any(w.pads for w in works.made.values()):
        return halved
    bare = Works({name: replace(w, pads={}) for name, w in works.made.items()})
    return halve(wish, quality, placed, hollowed, bare)
