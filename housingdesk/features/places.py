"""Where upright screws and dowels may stand: corners, clear of the cavity, of openings and of the outside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Annotated, ClassVar, Self

import numpy as np
from numpy.typing import ArrayLike
from pydantic import Field

from housingdesk.errors import HousingError
from housingdesk.features.feature import Feature
from housingdesk.features.forms.form import Rim, rimmed
from housingdesk.features.site import Site, Unparted
from housingdesk.features.work import Handle
from housingdesk.geometry.loops import contains, distance, nearest_spot
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Side

Coordinate = Annotated[float, Field(ge=-1000, le=1000)]  # mm; further out lies no housing
Place = tuple[Coordinate, Coordinate]

SKIN_MM = 0.002  # so near its ends a level floor or roof has its whole section
SIMPLER_MM = 0.02  # borders may be drawn this much coarser while places are looked for
THIN_MM = 0.8  # two lines of a 0.4 mm nozzle (common practice, no source)
FIN_MM = 1.2  # three lines of a 0.4 mm nozzle: what is thinner breaks off (common practice, no source)
EAR_REACH = 0.95  # an ear's middle lies at most this share of its radius outside, so that it is rooted
NEAR = 0.3  # of the housing's smaller side: further than this from its corner a place is no corner


class ManyPlaces(Feature):
    """Base of features that stand upright in several places, given by the user or chosen by the program."""

    THING: ClassVar[str] = ""  # one of them, such as "Screw"

    count: int
    places_mm: tuple[Place, ...] = ()

    def knob_z_mm(self, site: Site) -> float:
        """Return the height at which the knobs are."""
        return site.parting_z_mm

    def knob_half(self) -> Side | None:
        """Return the half that the knobs go with when it is lifted off; None goes by their height."""
        return None

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return a knob for each place of its own."""
        return self.knobs_at(site, self.places_mm[: self.count])

    def knobs_at(
        self, site: Site, places: Sequence[Place], heights_mm: Mapping[Place, float] = MappingProxyType({})
    ) -> tuple[Handle, ...]:
        """Return a knob for each place, such as ``Screw 1 of Lid screws``; some at heights of their own."""
        z = self.knob_z_mm(site)
        return tuple(
            Handle(
                key,
                (*place, heights_mm.get(place, z)),
                label=f"{self.THING} {i} of {self.name}",
                on=self.knob_half(),
            )
            for i, (key, place) in enumerate(zip(drag_keys(places), places, strict=True), 1)
        )

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the feature with one of them dragged; the others stay where they are from then on."""
        places = dragged(handle, to_mm)
        return self.model_copy(update={"places_mm": places, "count": max(self.count, len(places))})


def blocked(site: Site) -> Outline:
    """Return the area where nothing upright may pass: cavities, passages, what other features keep free."""
    bodies = [s for w in site.done.values() for s in (*w.keep_out, *w.needs)]
    return Outline.union([site.keep_clear, *(s.silhouette() for s in bodies)]).simplified(SIMPLER_MM)


def footing(site: Site) -> Outline:
    """Return the area that the outside form fills at every height an upright screw passes."""
    z, (low, high) = site.level_mm, site.outer_mm[:, 2].tolist()
    heights = (z, z + 0.6 * (high - z), z - 0.6 * (z - low))
    area = site.form.section_at(heights[0])
    for height in heights[1:]:
        area = area & site.form.section_at(height)
    return area


def targets(area: Outline, count: int, inset_mm: float) -> list[Place]:
    """Return where screws would best stand, from the corners of the area's box to its long sides."""
    (x0, y0), (x1, y1) = (area.bounds + np.array([[inset_mm], [-inset_mm]])).tolist()
    corners = [(x0, y0), (x1, y1), (x0, y1), (x1, y0)]
    along_x = x1 - x0 >= y1 - y0
    middles = [((x0 + x1) / 2, y0), ((x0 + x1) / 2, y1)] if along_x else [
        (x0, (y0 + y1) / 2), (x1, (y0 + y1) / 2)]  # fmt: skip
    if count == 1:
        return middles[:1]
    if count == 3:
        return [corners[0], corners[3] if along_x else corners[2], middles[1]]
    out = corners[: min(count, 4)]
    more = max(0, count - 4)
    for side, number in ((0, (more + 1) // 2), (1, more // 2)):
        for share in (np.arange(1, number + 1) / (number + 1)).tolist():
            x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
            out.append((x, (y0, y1)[side]) if along_x else ((x0, x1)[side], y))
    return out


def settle(site: Site, taken: Outline, given: Sequence[Place], count: int, radius_mm: float) -> list[Place]:
    """Return places for upright bosses: those given, the rest chosen; see ``choose``."""
    kept = list(given[:count])
    if len(kept) == count:
        return kept
    with_kept = Outline.union([taken, *(Outline.circle(p, radius_mm) for p in kept)]) if kept else taken
    return (kept + choose(site, with_kept, count, radius_mm))[:count]


def choose(site: Site, taken: Outline, count: int, radius_mm: float) -> list[Place]:
    """Return places for upright bosses; fewer than ``count`` where there is no room for all.

    Inside the form where the block has room near its corners, else half outside, where an ear is grown; if
    there is such a place beside those faces, before none that a shaft leaves by.

    Parameters
    ----------
    taken : area that a boss must not meet, see ``blocked``.
    radius_mm : of the boss, hole and needed wall together; kept from cavities, openings and the outside.
    """
    area = footing(site)
    if area.is_empty:
        return []
    near = max(2 * radius_mm, NEAR * float(np.ptp(area.bounds, axis=0).min()))
    solid = area.grown(-radius_mm)
    rooted = site.form.section_at(site.level_mm).grown(EAR_REACH * radius_mm)
    keep_off = taken.grown(radius_mm)
    beside = rooted - before_faces(site, area, radius_mm)
    found: list[Place] = []
    for inside, edge in zip(targets(area, count, radius_mm), targets(area, count, 0.0), strict=True):
        for whole, target in ((solid, inside), (beside, edge), (rooted, edge)):
            place = nearest(whole - keep_off, target)
            if place is not None and np.hypot(*np.subtract(place, target)) <= near:
                found.append(place)
                keep_off = keep_off | Outline.circle(place, 2 * radius_mm)
                break
    return found


def before_faces(site: Site, area: Outline, radius_mm: float) -> Outline:
    """Return where the middle of a boss would make it stand out of a face that a shaft leaves by.

    There it would be in the way of a wheel or a lever on the shaft.
    """
    if area.is_empty:
        return area
    far = float(np.ptp(area.bounds, axis=0).sum()) + 4 * radius_mm
    middle = area.bounds.mean(axis=0)
    strips = []
    for shaft in site.shafts:
        if shaft.is_upright:
            continue
        out = shaft.axis[:2] / np.linalg.norm(shaft.axis[:2])
        along = np.array([-out[1], out[0]])
        face = max(float(((loop - middle) @ out).max()) for loop in area.loops)
        near = face - radius_mm - SIMPLER_MM
        corners = [(near, -far), (near + far, -far), (near + far, far), (near, far)]
        strips.append(Outline.polygon(np.array([middle + u * out + v * along for u, v in corners])))
    return Outline.union(strips)


def ear(site: Site, place: Place, radius_mm: float) -> Solid | None:
    """Return the body that a round boss needs beyond the outside form; see ``grown_on``."""
    return site.once(_ear, site.form, site.level_mm, place, radius_mm)


def _ear(housing: Unparted, form: Solid, level_mm: float, place: Place, radius_mm: float) -> Solid | None:
    return grown_on(housing, form, level_mm, Outline.circle(place, radius_mm), radius_mm)


def grown_on(housing: Unparted, whole: Solid, level_mm: float, boss: Outline, root_mm: float) -> Solid | None:
    """Return the body that a boss needs beyond the outside form; None where it needs none or is too far.

    It reaches as high and as low as the form beside it, so that both halves print without supports, and its
    edges on the bed are broken as the form's are.

    Parameters
    ----------
    whole, level_mm : the form, and the height of the section that the boss stands beside.
    root_mm : radius of the inner corners where it meets the wall.
    """
    form = whole.section_at(level_mm)
    if form.covers(boss, 0.01):
        return None
    local = form & boss.grown(2.5 * root_mm + housing.broken_mm)
    if local.is_empty:
        return None
    # Closing by a disc rounds the inner corners.  A hair more, for the border is drawn coarser at the end.
    boss = boss.grown(SIMPLER_MM)
    grown = (local | boss).grown(root_mm).grown(-root_mm) & boss.grown(1.2 * root_mm + housing.broken_mm)
    low, high = column(whole, boss.grown(0.5 * root_mm) & form) or housing.outer_mm[:, 2].tolist()
    # Its root keeps off the hollows: bodies that do not meet them are quick to join.  A fin left beside one,
    # before a shaft's way out, goes too.
    root = grown - housing.keep_clear.grown(3 * SIMPLER_MM)
    root = root.grown(-FIN_MM / 2).grown(FIN_MM / 2) & root
    area = (root | boss).simplified(SIMPLER_MM)
    if not all(piece.touches(form) for piece in area.pieces()):
        return None
    # It reaches into the form, too: where that curves away, no gap and no fin is left between them.
    upright = Solid.prism(area, low, high)
    if not housing.broken_mm:
        return upright
    # Broken with the form beside it, hollows and all, so that both edges run into each other.
    return upright & _broken((grown | boss).simplified(SIMPLER_MM), low, high, *housing.rim)


def _broken(area: Outline, low_mm: float, high_mm: float, rim: Rim, rim_mm: float) -> Solid:
    """Return an area drawn straight up, its edges on the bed broken as far as its narrow places allow."""
    for share in (1.0, 0.6, 0.3):
        try:
            return Solid.union(rimmed(p, low_mm, high_mm, rim, share * rim_mm) for p in area.pieces())
        except HousingError:
            continue
    return Solid.prism(area, low_mm, high_mm)


def column(form: Solid, disc: Outline) -> tuple[float, float] | None:
    """Return the least and the greatest height of a form over an area; None where it has nothing there."""
    low, high = form.bounds[:, 2].tolist()
    if disc.is_empty:
        return None
    # Most forms have a level floor and roof there; a look just inside them is far cheaper than a cut.
    if form.section_at(low + SKIN_MM).touches(disc) and form.section_at(high - SKIN_MM).touches(disc):
        return low, high
    body = form & Solid.prism(disc, low - 1.0, high + 1.0)
    if body.is_empty:
        return None
    bottom, top = body.bounds[:, 2].tolist()
    return bottom, top


def faces(form: Solid, disc: Outline) -> tuple[float, float] | None:
    """Return the highest floor and the lowest roof over an area: between them the form is solid.

    None where it has nothing there.
    """
    if form.is_empty:
        return None
    low, high = form.bounds[:, 2].tolist()
    if form.section_at(low + SKIN_MM).covers(disc) and form.section_at(high - SKIN_MM).covers(disc):
        return low, high
    body = form & Solid.prism(disc, low - 1.0, high + 1.0)
    if body.is_empty:
        return None
    mesh = body.mesh()
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    up = np.cross(b - a, c - a)
    slope = up[:, 2] / np.maximum(np.linalg.norm(up, axis=1), 1e-300)
    z = mesh.vertices[:, 2][mesh.faces]
    return float(z[slope < -0.02].max()), float(z[slope > 0.02].min())


def nearest(area: Outline, target: ArrayLike) -> Place | None:
    """Return the point of an area that is nearest to a (2,) target; None for an empty area."""
    at, loops = np.asarray(target, float), area.loops
    if not loops:
        return None
    if not contains(loops, at):
        at = min(
            (nearest_spot(loop, at) for loop in loops), key=lambda spot: float(np.linalg.norm(spot - at))
        )
    x, y = at.tolist()
    return x, y


def least_distance(area: Outline, point: ArrayLike) -> float:
    """Return the distance from a (2,) point to an area's border, mm; infinite for an empty area."""
    return distance(area.loops, point)


def inside(area: Outline, point: ArrayLike) -> bool:
    """Tell whether a (2,) point lies in an area."""
    return contains(area.loops, point)


def drag_keys(places: Sequence[Place]) -> list[str]:
    """Return a handle's key for each place: its number, and where all others stand.

    A drag does not know the site, so the key must tell it what the program has chosen.
    """
    said = [f"{x:.3f},{y:.3f}" for x, y in places]
    return [f"{i}|{';'.join(said[:i] + said[i + 1 :])}" for i in range(len(places))]


def dragged(key: str, to_mm: Floats) -> tuple[Place, ...]:
    """Return all places after the one whose handle has this key was dragged to (3,)."""
    number, _, others = key.partition("|")
    pairs = [pair.split(",") for pair in others.split(";") if pair]
    out = [(float(x), float(y)) for x, y in pairs]
    x, y, _ = to_mm.tolist()
    out.insert(int(number), (round(x, 3), round(y, 3)))
    return tuple(out)
